"""Reduced copies of photos: decoded in a process of their own, encoded anew from pixels alone, and kept.

A copy is kept as a file of this program's data, named by the photo's SHA-256 and how it was made. Losing these files
costs time alone: each may be deleted. A file that is not what was written is made again.
"""

import hashlib
import os
import re
from contextlib import suppress
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Final

from qcledger import pictures
from qcledger.records import Photo
from qcledger.records.fields import is_digest
from qcledger.settings import photo_copies
from qcledger.text import one_line

SMALL: Final = (480, 480)
"""Most pixels across and along of a copy that stands in the page."""
LARGE: Final = (1600, 1600)
"""Most pixels of a copy that lies in a folder beside it."""
_QUALITY: Final = {SMALL: 72, LARGE: 82}
MOST_FILES: Final = 6000
"""Copies kept, small and large ones, enough for some 3,000 photos; beyond that the oldest go."""
_MADE: Final = 1
"""Raised when copies of the same photo would be made otherwise."""
_KEPT: Final = re.compile(
    r"[0-9a-f]{64}-[0-9]+-[0-9]+-(?P<sha256>[0-9a-f]{64})-(?P<width>[0-9]+)x(?P<height>[0-9]+)\.jpg"
)


@dataclass(frozen=True, slots=True)
class ReducedPhoto:
    """A JPEG made of a photo's pixels alone."""

    content: bytes
    sha256: str
    width: int
    height: int


def reduced(path: Path, kind: str, size: tuple[int, int] = SMALL) -> ReducedPhoto | None:
    """Return a copy of at most `size` pixels; None where the photo is gone, was taken out, or cannot be decoded.

    Parameters
    ----------
    path
        The photo's file.
    kind
        What it is, as ``jpg``.
    size
        Most pixels across and along: `SMALL` or `LARGE`.
    """
    from PIL import Image  # heavy, and needed for photos alone

    try:
        seen = pictures.squares(path.read_bytes(), kind, size)
    except (OSError, pictures.Refused):
        return None
    out = BytesIO()
    Image.frombytes("RGB", (seen.across, seen.along), seen.pixels).save(
        out, "JPEG", quality=_QUALITY[size], optimize=True
    )
    content = out.getvalue()
    return ReducedPhoto(content, hashlib.sha256(content).hexdigest(), seen.across, seen.along)


class KeptCopies:
    """Reduced copies by the SHA-256 of the photo, each made once.

    Parameters
    ----------
    folder
        Where they are kept; it is made when the first is put there. None: a folder beside the ledgers.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder or photo_copies()
        self._names: dict[str, str] | None = None

    def copy(self, path: Path, kind: str, size: tuple[int, int] = SMALL) -> ReducedPhoto | None:
        """Return a copy of a photo that is filed under its SHA-256, made now or before; parameters as for `reduced`.

        None as `reduced` gives it, and wherever the photo's file is gone: no copy outlives what was taken out.
        """
        if not is_digest(path.stem):
            return reduced(path, kind, size)
        begin = f"{path.stem}-{size[0]}-{_MADE}"
        if not path.is_file():
            self._drop(begin)
            return None
        found = self._kept(begin)
        if found is None and (found := reduced(path, kind, size)) is not None:
            self._keep(begin, found)
        return found

    def has(self, path: Path, size: tuple[int, int]) -> bool:
        """Say whether a copy of a photo that is there is kept, without a look at what the copy holds."""
        return is_digest(path.stem) and path.is_file() and f"{path.stem}-{size[0]}-{_MADE}" in self._known()

    def _known(self) -> dict[str, str]:
        """Return the names of the files that are kept, by what they begin with."""
        if self._names is None:
            there = [one.name for one in self._folder.iterdir()] if self._folder.is_dir() else []
            self._names = {_begin(name): name for name in there if _KEPT.fullmatch(name)}
        return self._names

    def _kept(self, begin: str) -> ReducedPhoto | None:
        name = self._known().get(begin)
        told = _KEPT.fullmatch(name) if name else None
        if name is None or told is None:
            return None
        try:
            content = (self._folder / name).read_bytes()
        except OSError:
            return None
        whole = hashlib.sha256(content).hexdigest() == told["sha256"]
        return ReducedPhoto(content, told["sha256"], int(told["width"]), int(told["height"])) if whole else None

    def _keep(self, begin: str, copy: ReducedPhoto) -> None:
        """Keep a copy whole or not at all; a folder that cannot be written to keeps none."""
        name = f"{begin}-{copy.sha256}-{copy.width}x{copy.height}.jpg"
        with suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            part = self._folder / f"{begin}.{os.getpid()}.part"
            try:
                part.write_bytes(copy.content)
                part.replace(self._folder / name)
            except BaseException:
                part.unlink(missing_ok=True)
                raise
            self._known()[begin] = name
            self._thin()

    def _drop(self, begin: str) -> None:
        if name := self._known().pop(begin, None):
            with suppress(OSError):
                (self._folder / name).unlink(missing_ok=True)

    def _thin(self) -> None:
        known = self._known()
        if len(known) <= MOST_FILES:
            return
        oldest = sorted(known.values(), key=lambda name: (self._folder / name).stat().st_mtime)
        for name in oldest[: len(known) - MOST_FILES * 9 // 10]:
            self._drop(_begin(name))


def _begin(name: str) -> str:
    """Return what a kept file's name begins with: the photo, the size and how it was made."""
    return "-".join(name.split("-")[:3])


def caption(photo: Photo) -> str:
    """Return the caption of a photo on one line."""
    return one_line(photo.caption)
