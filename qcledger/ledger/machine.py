"""A mark of this machine, by which what was remembered on another one is not taken for its own."""

import platform
import re
import sys
import uuid
from contextlib import suppress
from functools import cache
from pathlib import Path

from qcledger.ledger.chain import sha256

_PLACES = (Path("/etc/machine-id"), Path("/var/lib/dbus/machine-id"))
"""Where Linux keeps the id it was installed with; the first that holds one counts."""

_ID = re.compile(r"[0-9a-f]{32}")
_MULTICAST = 1 << 40
"""Set in the address Python makes up, anew for each process, on a machine whose network cards tell none."""


@cache
def mark() -> str:
    """Return 16 hexadecimal digits that stay the same on this machine and differ on another.

    They are made from the id the system was installed with, and do not tell it. A system without one is known by the
    address of its network card and its name; one whose disk was copied whole, id and all, is not told apart.
    """
    return sha256(b"qcledger machine\n", (_installed() or _by_name()).encode())[:16]


def _installed() -> str:
    """Return the id this system was installed with; empty where it has none or tells none."""
    with suppress(OSError):
        if sys.platform == "win32":
            import winreg

            with winreg.OpenKey(winreg.HKEY_LOCAL_MACHINE, r"SOFTWARE\Microsoft\Cryptography") as key:
                return str(winreg.QueryValueEx(key, "MachineGuid")[0])
        if sys.platform == "darwin":
            return _of_host()
    for place in _PLACES:
        with suppress(OSError, UnicodeDecodeError):
            if _ID.fullmatch(found := place.read_text("ascii").strip()):
                return found
    return ""


def _of_host() -> str:
    """Return what macOS calls the host's UUID, by gethostuuid(2), which waits up to a second for it."""
    import ctypes

    class Wait(ctypes.Structure):
        _fields_ = (("seconds", ctypes.c_long), ("nanoseconds", ctypes.c_long))

    found = ctypes.create_string_buffer(16)
    told = ctypes.CDLL(None, use_errno=True).gethostuuid(found, ctypes.byref(Wait(1, 0)))
    return found.raw.hex() if told == 0 else ""


def _by_name() -> str:
    card = uuid.getnode()
    return f"{'' if card & _MULTICAST else card:}\n{platform.node()}"
