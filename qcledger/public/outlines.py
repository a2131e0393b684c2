"""Outlines of specimens by their format, as polygons, and the hatching that marks a faulty one; plain geometry.

Whatever draws specimens, a page or a picture, takes their shapes from here, so that one shape means one thing.
"""

from collections.abc import Iterator, Mapping
from math import cos, pi, sin
from typing import Final, NamedTuple

from qcledger.vocab import Format

Point = tuple[float, float]

HEIGHT: Final = 22.0
"""Height of the box that every outline stands in."""


class Outline(NamedTuple):
    """A shape in a box of `width` by `HEIGHT`, as the corners of a polygon in their order."""

    width: float
    points: tuple[Point, ...]


def _pan(width: float) -> Outline:
    left, right, top, foot, bend = 2.0, width - 2, 6.0, 20.0, 1.2
    return Outline(width, (
        (left + bend, top), (right - bend, top), (right, top + bend), (right, foot - bend),
        (right - bend, foot), (left + bend, foot), (left, foot - bend), (left, top + bend),
    ))  # fmt: skip


_SHAPES: Final[Mapping[str, Outline]] = {
    Format.TUBE: Outline(12, ((4, 1), (8, 1), (8, 4), (10, 6), (10, 20), (2, 20), (2, 6), (4, 4))),
    Format.HALF_PAN: _pan(18),
    Format.FULL_PAN: _pan(28),
    Format.STICK: Outline(11, ((3, 1), (8, 1), (8, 20), (3, 20))),
    Format.BOTTLE: Outline(16, ((6, 1), (10, 1), (10, 6), (14, 9), (14, 20), (2, 20), (2, 9), (6, 6))),
    Format.PENCIL: Outline(10, ((5, 1), (8, 6), (8, 20), (2, 20), (2, 6))),
}
_DISC: Final = Outline(18, tuple((9 + 7 * cos(pi * n / 12), 12 + 7 * sin(pi * n / 12)) for n in range(24)))
"""Of every other format."""


def outline_of(format_: str) -> Outline:
    """Return the outline of a format; of one without a shape of its own, a disc."""
    return _SHAPES.get(format_, _DISC)


def placed(outline: Outline, left: float, top: float, scale: float) -> tuple[Point, ...]:
    """Return the corners of an outline where it is drawn, `scale` times as large."""
    return tuple((left + x * scale, top + y * scale) for x, y in outline.points)


def hatching(points: tuple[Point, ...], gap: float) -> Iterator[tuple[Point, Point]]:
    """Yield strokes at 45 degrees that fill a polygon, from edge to edge.

    Parameters
    ----------
    points
        Its corners.
    gap
        How far two strokes are apart, measured along an axis; above 0.
    """
    sums = [x + y for x, y in points]
    level = min(sums) + gap / 2
    while level < max(sums):
        crossed = sorted(_crossings(points, level))
        yield from zip(crossed[::2], crossed[1::2], strict=True)
        level += gap


def _crossings(points: tuple[Point, ...], level: float) -> Iterator[Point]:
    """Yield where the line x + y = `level` crosses the edges of a polygon; a corner counts for one of its edges."""
    for (x1, y1), (x2, y2) in zip(points, (*points[1:], points[0]), strict=True):
        first, second = x1 + y1 - level, x2 + y2 - level
        if (first < 0) != (second < 0):
            share = first / (first - second)
            yield (x1 + (x2 - x1) * share, y1 + (y2 - y1) * share)
