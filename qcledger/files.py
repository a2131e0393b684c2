"""Files that come from elsewhere: plain ones only, no larger than allowed, never waited for."""

import hashlib
import os
import stat
from pathlib import Path
from typing import BinaryIO

from qcledger.errors import bad

_CHUNK = 1024 * 1024
_AT_ONCE = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
"""A named pipe that nobody writes to would be waited for; Windows would change line ends."""


def open_plain(path: Path, allowed: str, *, most: int | None = None, follow: bool = True) -> BinaryIO:
    """Open a plain file for reading.

    Parameters
    ----------
    path
        The file.
    allowed
        What may stand there, for messages.
    most
        Most bytes it may have; None for any number.
    follow
        Whether a link may stand in its place.

    Raises
    ------
    BadInput
        When it is missing, unreadable, larger than `most`, or something else than a plain file: a pipe, a device, a
        folder or, unless `follow`, a link.
    """
    if not follow and path.is_symlink():
        raise bad(path.name, "a link", allowed)
    try:
        handle = os.open(path, os.O_RDONLY | _AT_ONCE | (0 if follow else getattr(os, "O_NOFOLLOW", 0)))
    except OSError as error:
        raise bad(str(path), _reason(error), allowed) from None
    try:
        _refuse(os.fstat(handle), path, allowed, most)
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise


def _refuse(found: os.stat_result, path: Path, allowed: str, most: int | None) -> None:
    if not stat.S_ISREG(found.st_mode):
        raise bad(str(path), _kind(found.st_mode), allowed)
    if most is not None and found.st_size > most:
        raise bad(path.name, f"more than {in_words(most)}", allowed)


def read_plain(path: Path, allowed: str, *, most: int, follow: bool = True) -> bytes:
    """Return the bytes of a plain file of at most `most`; raises BadInput as `open_plain` does."""
    with open_plain(path, allowed, most=most, follow=follow) as stream:
        try:
            content = stream.read(most + 1)
        except OSError as error:
            raise bad(path.name, _reason(error), allowed) from None
    if len(content) > most:  # it grew meanwhile
        raise bad(path.name, f"more than {in_words(most)}", allowed)
    return content


def digest_of(path: Path, allowed: str, *, most: int | None = None, follow: bool = True) -> str:
    """Return the SHA-256 of a plain file's bytes in hexadecimal; raises BadInput as `open_plain` does."""
    digest = hashlib.sha256()
    with open_plain(path, allowed, most=most, follow=follow) as stream:
        try:
            while chunk := stream.read(_CHUNK):
                digest.update(chunk)
        except OSError as error:
            raise bad(path.name, _reason(error), allowed) from None
    return digest.hexdigest()


def in_words(size: int) -> str:
    """Return a number of bytes as a person says it: ``812 bytes``, ``12 kB``, ``6.4 GB``."""
    for unit, bytes_each in (("GB", 10**9), ("MB", 10**6), ("kB", 10**3)):
        if size >= bytes_each:
            return f"{size / bytes_each:.3g} {unit}"
    return f"{size} bytes"


def _kind(mode: int) -> str:
    if stat.S_ISDIR(mode):
        return "a folder"
    if stat.S_ISFIFO(mode):
        return "a pipe"
    return "a device" if stat.S_ISCHR(mode) or stat.S_ISBLK(mode) else "no plain file"


def _reason(error: OSError) -> str:
    return (error.strerror or "nothing").lower()
