"""A filed photo as a few coloured squares, for terminals that know only characters."""

from dataclasses import dataclass
from pathlib import Path

from qcledger import pictures
from qcledger.errors import BadInput, LedgerUnavailable
from qcledger.files import read_plain
from qcledger.ledger.photos import FILED, MOST_BYTES

RGB = tuple[int, int, int]


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


def preview(
    path: Path, width: int, height: int, *, zoom: int = 1, centre: tuple[float, float] = (0.5, 0.5)
) -> Preview:
    """Return a photo in at most `width` by `height` squares, its shape kept.

    Parameters
    ----------
    path
        The filed photo.
    width, height
        Most squares across and along.
    zoom
        1 shows all of it, n a part of 1/n of each side.
    centre
        The middle of what is shown, as shares of width and height, 0 to 1.

    Raises
    ------
    LedgerUnavailable
        When the photo is not there any more, or is not the picture that was filed.
    """
    if not path.exists() and not path.is_symlink():
        raise LedgerUnavailable("This photo is not there; it was redacted or moved.")
    try:
        content = read_plain(path, FILED, most=MOST_BYTES, follow=False)
        kind, size = path.suffix.removeprefix("."), (max(width, 1), max(height, 1))
        seen = pictures.squares(content, kind, size, zoom=max(zoom, 1), centre=centre)
    except (BadInput, pictures.Refused) as error:
        raise LedgerUnavailable("This photo cannot be read: it is damaged, or not the one filed.") from error
    pixels, row = seen.pixels, seen.across * 3
    rows = tuple(
        tuple((pixels[at], pixels[at + 1], pixels[at + 2]) for at in range(line, line + row, 3))
        for line in range(0, row * seen.along, row)
    )
    return Preview(rows, seen.whole, seen.part)
