"""Plain text in columns of a terminal."""

import unicodedata
from collections.abc import Iterable, Sequence

from qcledger.rubric.ladder import WIDTH, wrap
from qcledger.text import one_line, shorten

__all__ = ["WIDTH", "columns", "cut", "paragraph", "width_of"]


def width_of(text: str) -> int:
    """Return how many columns `text` takes: two for wide letters, none for marks above or below a letter."""
    return sum(
        0 if unicodedata.combining(letter) else 2 if unicodedata.east_asian_width(letter) in "WF" else 1
        for letter in text
    )


def cut(text: str, width: int) -> str:
    """Return `text` on one line, cut to `width` columns with an ellipsis and filled up with blanks."""
    text = one_line(text)
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


def paragraph(text: str, indent: str = "") -> list[str]:
    """Return `text` wrapped to the width of a plain terminal."""
    return wrap(one_line(text), WIDTH, first=indent, rest=indent)


def _cell(text: str, width: int) -> str:
    if width >= 0:
        return cut(text, width)
    plain = cut(text, -width).rstrip()
    return " " * (-width - width_of(plain)) + plain
