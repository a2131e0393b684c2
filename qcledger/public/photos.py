"""Reduced copies of photos for a page: decoded in a process of their own and encoded anew, from pixels alone."""

import hashlib
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Final

from qcledger import pictures
from qcledger.records import Photo
from qcledger.text import one_line

SMALL: Final = (480, 480)
"""Most pixels across and along of a copy that stands in the page."""
LARGE: Final = (1600, 1600)
"""Most pixels of a copy that lies in a folder beside it."""
_QUALITY: Final = {SMALL: 72, LARGE: 82}


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


def caption(photo: Photo) -> str:
    """Return the caption of a photo on one line."""
    return one_line(photo.caption)
