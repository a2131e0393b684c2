"""A filed photo as a few coloured squares, for terminals that know only characters."""

import warnings
from dataclasses import dataclass
from pathlib import Path

from PIL import Image, ImageOps

from qcledger.errors import LedgerUnavailable
from qcledger.ledger.photos import MOST_PIXELS

RGB = tuple[int, int, int]

_FORMATS = {"jpg": "JPEG", "png": "PNG", "webp": "WEBP", "heic": "HEIF"}


@dataclass(frozen=True, slots=True)
class Preview:
    """A photo, or a part of it, in squares of one colour.

    Parameters
    ----------
    rows
        Rows of squares from the top, each an (r, g, b) of 0 to 255.
    size
        Width and height of the whole photo, as it is looked at, in pixels.
    part
        Left, top, right and bottom of what is shown, in pixels.
    """

    rows: tuple[tuple[RGB, ...], ...]
    size: tuple[int, int]
    part: tuple[int, int, int, int]


def part_of(size: tuple[int, int], zoom: int, centre: tuple[float, float]) -> tuple[int, int, int, int]:
    """Return the part of a photo that is shown: 1/zoom of each side around `centre`, moved to lie inside.

    Parameters
    ----------
    size
        Width and height in pixels.
    zoom
        1 shows all of it.
    centre
        Shares of width and height, 0 to 1.
    """
    left_top, right_bottom = [], []
    for length, share in zip(size, centre, strict=True):
        shown = max(length // max(zoom, 1), 1)
        start = min(max(round(length * share) - shown // 2, 0), length - shown)
        left_top.append(start)
        right_bottom.append(start + shown)
    return (left_top[0], left_top[1], right_bottom[0], right_bottom[1])


def preview(
    path: Path, width: int, height: int, *, zoom: int = 1, centre: tuple[float, float] = (0.5, 0.5)
) -> Preview:
    """Return a photo in at most `width` by `height` squares, its shape kept.

    Raises
    ------
    LedgerUnavailable
        When the photo is not there any more, or is not the picture that was filed.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            return _preview(path, max(width, 1), max(height, 1), zoom, centre)
        except FileNotFoundError:
            raise LedgerUnavailable("This photo is not there; it was redacted or moved.") from None
        except Exception as error:  # decoders raise nearly everything on damaged bytes
            raise LedgerUnavailable("This photo cannot be read: it is damaged, or not the one filed.") from error


def _preview(path: Path, width: int, height: int, zoom: int, centre: tuple[float, float]) -> Preview:
    kind = path.suffix.removeprefix(".")
    if kind == "heic":
        import pi_heif  # here, because few pictures need it

        pi_heif.register_heif_opener()
    with Image.open(path, formats=[_FORMATS[kind]]) as opened:
        if opened.width * opened.height > MOST_PIXELS:
            raise ValueError(f"{opened.width} x {opened.height} pixels")
        size = opened.size
        opened.draft("RGB", (width * zoom * 2, height * zoom * 2))  # a JPEG is decoded no larger than needed
        scale = opened.width / size[0]
        image = ImageOps.exif_transpose(opened).convert("RGB")
    part = part_of(image.size, zoom, centre)
    shape = ImageOps.contain(image.crop(part), (width, height))
    pixels = shape.tobytes()
    row = shape.width * 3
    rows = tuple(
        tuple((pixels[at], pixels[at + 1], pixels[at + 2]) for at in range(line, line + row, 3))
        for line in range(0, row * shape.height, row)
    )
    whole = (round(image.width / scale), round(image.height / scale))
    shown = tuple(round(edge / scale) for edge in part)
    return Preview(rows, whole, (shown[0], shown[1], shown[2], shown[3]))
