"""Plain text in columns of a terminal."""

import unicodedata
from collections.abc import Iterable, Sequence

from qcledger.rubric.ladder import WIDTH, wrap
from qcledger.text import one_line, shorten

_FILL, _TIE = "\ue000", "\ue001"
"""Stand behind a wide letter and between a number and its sign; of a private use, so that no text loses by them."""


def width_of(text: str) -> int:
    """Return how many columns `text` takes: two for wide letters, none for marks above or below a letter."""
    return sum(
        0 if unicodedata.combining(letter) else 2 if unicodedata.east_asian_width(letter) in "WF" else 1
        for letter in text
    )


def cut(text: str, width: int) -> str:
    """Return `text` on one line, cut to `width` columns with an ellipsis and filled up with blanks."""
    text = one_line(text) if width > 0 else ""
    most = width
    while width_of(text) > width:
        text, most = shorten(text, most), most - 1
    return text + " " * (width - width_of(text))


def columns(rows: Iterable[Sequence[str]], widths: Sequence[int], indent: str = "  ") -> list[str]:
    """Return rows as lines, each cell cut to its column; a negative width sets it to the right."""
    return [
        indent + " ".join(_cell(cell, width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]


def paragraph(text: str, indent: str = "", rest: str | None = None, width: int = WIDTH) -> list[str]:
    """Return `text` wrapped to `width` columns; `rest` is the indent of all lines but the first."""
    # A wide letter counts as two while the lines are broken, and no line begins with the sign of a number.
    plain = one_line(text).replace(_FILL, "").replace(_TIE, "").replace(" %", f"{_TIE}%")
    padded = "".join(letter + _FILL * (width_of(letter) - 1) for letter in plain)
    lines = wrap(padded, width, first=indent, rest=indent if rest is None else rest)
    return [line.replace(_FILL, "").replace(_TIE, " ") for line in lines]


def _cell(text: str, width: int) -> str:
    if width >= 0:
        return cut(text, width)
    plain = cut(text, -width).rstrip()
    return " " * (-width - width_of(plain)) + plain
