"""Where this machine files the photos of a ledger on a server.

The folder has the name of the ledger's own id, because one database is reached by many addresses. Earlier versions
named it by the address; such a folder is taken over by the first address that finds it.
"""

import os
import re
from contextlib import suppress
from pathlib import Path

from qcledger.ledger.chain import sha256
from qcledger.settings import data_folder

_NAMED_BY_ADDRESS = re.compile("[0-9a-f]{16}")


def folder(address: str, ledger: str | None) -> Path:
    """Return the folder of a ledger's photos; it may not exist yet.

    Parameters
    ----------
    address
        The URL it is reached by, without a password.
    ledger
        The ledger's id, 32 hexadecimal digits; None while it has none: an older version made it.
    """
    older = _all() / sha256(address.encode())[:16]
    if ledger is None:
        return older
    own = _all() / ledger
    if older.is_dir():
        with suppress(OSError):
            _take_over(older, own)
    return older if older.is_dir() and not own.is_dir() else own


def elsewhere(own: Path, name: str) -> Path | None:
    """Return where a photo lies that was filed under another address of the same ledger; None where it does not.

    Photos are named by their bytes, so whichever ledger's folder it is in, it is this picture.
    """
    if own.parent != _all() or not own.parent.is_dir():
        return None
    folders = (path for path in sorted(own.parent.iterdir()) if _NAMED_BY_ADDRESS.fullmatch(path.name))
    return next((path / name for path in folders if (path / name).is_file()), None)


def _all() -> Path:
    return data_folder() / "photos"


def _take_over(older: Path, own: Path) -> None:
    """Move what was filed under an address; a photo is in one of the two folders at any time."""
    if not own.exists():
        older.rename(own)
        return
    for path in sorted(older.iterdir()):
        os.replace(path, own / path.name)  # noqa: PTH105 - one that is there already is the same picture
    older.rmdir()
