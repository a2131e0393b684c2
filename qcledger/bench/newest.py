"""The newest picture in the folder a camera or phone saves into."""

import os
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from qcledger.errors import bad

PICTURES: Final = (".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif")


@dataclass(frozen=True, slots=True, order=True)
class PictureFile:
    """A picture file as it was seen: when it was last written (ns), its size in bytes, and where it is."""

    written_ns: int
    size: int
    path: Path


def pictures(folder: Path) -> list[PictureFile]:
    """Return the pictures of a folder, the oldest first.

    Raises
    ------
    BadInput
        When there is no such folder or it cannot be read.
    """
    try:
        with os.scandir(folder) as entries:
            found = [
                PictureFile(stat.st_mtime_ns, stat.st_size, Path(entry.path))
                for entry in entries
                if entry.name.lower().endswith(PICTURES) and entry.is_file() and (stat := entry.stat()).st_size
            ]
    except OSError as error:
        raise bad("photo folder", str(folder), f"a folder that can be read ({error.strerror})") from error
    return sorted(found)


def newest(folder: Path, taken: Collection[PictureFile] = ()) -> PictureFile:
    """Return the newest picture that was not taken before.

    Raises
    ------
    BadInput
        When there is none.
    """
    found = [picture for picture in pictures(folder) if picture not in taken]
    if not found:
        raise bad("photo folder", f"no new picture in {folder}", "a picture saved there since the last one")
    return found[-1]


def is_still(picture: PictureFile) -> bool:
    """Say whether a file is as it was seen; a camera that still writes it changes size or time."""
    try:
        stat = picture.path.stat()
    except OSError:
        return False
    return (stat.st_mtime_ns, stat.st_size) == (picture.written_ns, picture.size)
