"""What a browser's PDF draws, in millimetres: the paper, and each line and box as a printer puts them at 100 %.

PDF's units are 1/72 inch, and ``cm`` puts a matrix before the one in force (ISO 32000-1, 8.3.2.3 and 8.4.4).
"""

import re
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot

MM = 25.4 / 72
"""Millimetres of one unit of a PDF."""
_PAPER = re.compile(rb"/MediaBox\s*\[\s*0 0 ([0-9.]+) ([0-9.]+)\s*\]")
_STREAM = re.compile(rb"stream\r?\n(.*?)endstream", re.DOTALL)
_DRAWING = re.compile(r"^((?:-?[0-9.]+ )*)(q|Q|cm|m|l|re)$", re.MULTILINE)
"""An operator that moves the matrix or draws straight lines, with its numbers."""
Matrix = tuple[float, float, float, float, float, float]


@dataclass(frozen=True)
class Drawn:
    """A straight line, or the upper and left side of a box: how long it is across and along, in mm."""

    kind: str
    across: float
    along: float


def papers(pdf: bytes) -> list[tuple[float, float]]:
    """Return the size of each page, in mm."""
    return [(float(one[1]) * MM, float(one[2]) * MM) for one in _PAPER.finditer(pdf)]


def drawn(pdf: bytes) -> Iterator[Drawn]:
    """Yield what each page draws, in order."""
    for one in _STREAM.finditer(pdf):
        try:
            text = zlib.decompress(one[1]).decode("latin-1")
        except zlib.error:  # a font or another stream that is packed otherwise
            continue
        yield from _of_page(text)


def _of_page(text: str) -> Iterator[Drawn]:
    now: Matrix = (1, 0, 0, 1, 0, 0)
    kept: list[Matrix] = []
    at = (0.0, 0.0)
    for one in _DRAWING.finditer(text):
        given = [float(number) for number in one[1].split()]
        match one[2]:
            case "q":
                kept.append(now)
            case "Q":
                now = kept.pop()
            case "cm":
                now = _before(given, now)
            case "m":
                at = (given[0], given[1])
            case "l":
                yield Drawn("line", *_size(now, given[0] - at[0], given[1] - at[1]))
                at = (given[0], given[1])
            case "re":
                yield Drawn("box", *_size(now, given[2], given[3]))


def _before(given: list[float], now: Matrix) -> Matrix:
    a, b, c, d, e, f = given
    k, m, n, o, p, q = now
    return (
        a * k + b * n, a * m + b * o, c * k + d * n, c * m + d * o,
        e * k + f * n + p, e * m + f * o + q,
    )  # fmt: skip


def _size(now: Matrix, across: float, along: float) -> tuple[float, float]:
    a, b, c, d, _, _ = now
    return hypot(a * across, b * across) * MM, hypot(c * along, d * along) * MM
