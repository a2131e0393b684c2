"""The funnel view: specimens tested against the rate, one sign a maker, drawn in characters."""

from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from qcledger.findings import Finding
from qcledger.findings.checks import percent
from qcledger.stats.funnel import funnel_limits

LEVEL = 0.95
OWN, OTHER, LIMIT, MEAN = "@", "o", ".", "-"
NOTE = (
    "@ this maker, o another, a digit: so many at one place; - the rate of these makers together; . the 95 % limits "
    "of chance around it, each specimen taken by itself: faults that come by the lot stray farther."
)
"""Printed below the drawing."""

_MARGIN = 6
"""Columns before the drawing, as in ``100 % ``."""
_LEAST = 20
"""Fewest columns of a drawing that still tells something."""


def funnel(finding: Finding, width: int, height: int = 10) -> list[str]:
    """Return the makers of one criterion in one format as lines.

    Parameters
    ----------
    finding
        Whose maker is marked `OWN`.
    width, height
        Columns of the whole drawing, and lines of its inside.

    Returns
    -------
    list of str
        Empty where nobody can be compared, where none or every specimen is faulty, and where there is no room.
    """
    points = _points(finding)
    tested, faulty = (sum(counts) for counts in zip(*points.values(), strict=True)) if points else (0, 0)
    columns = width - _MARGIN
    if len(points) < 2 or finding.maker not in points or not 0 < faulty < tested or columns < _LEAST:
        return []
    most = max(size for size, _ in points.values())
    grid = _limits(faulty / tested, most, columns, height)
    for maker, (size, some) in points.items():
        row, column = grid[_row(some / size, height)], min(int(size / most * columns), columns - 1)
        row[column] = _joined(row[column], OWN if maker == finding.maker else OTHER)
    return [*_with_scale(grid, faulty / tested), _below(columns, most)]


def _points(finding: Finding) -> dict[str, tuple[int, int]]:
    """Return specimens tested and faulty ones of each maker in the format."""
    tested: Counter[str] = Counter()
    faulty: Counter[str] = Counter()
    for lot in finding.field.lots:
        if lot.row.format == finding.format:
            tested[lot.row.maker] += lot.tested
            faulty[lot.row.maker] += lot.faulty
    return {maker: (number, faulty[maker]) for maker, number in tested.items()}


def _limits(rate: float, most: int, columns: int, height: int) -> list[list[str]]:
    """Return the rate and its limits for each number of specimens, drawn from left to right."""
    grid = [[" "] * columns for _ in range(height)]
    sizes = np.maximum(np.ceil(np.arange(1, columns + 1) * most / columns), 1)
    low, high = funnel_limits(rate, sizes, LEVEL)
    for column in range(columns):
        for value, sign in ((low[column], LIMIT), (high[column], LIMIT), (rate, MEAN)):
            grid[_row(float(value), height)][column] = sign
    return grid


def _row(rate: float, height: int) -> int:
    """Return the line of a rate, from 0 at the top for 100 %; the last is of 0 alone, lest none look like few."""
    return min(int((1 - rate) * height + 1e-9), height - 2) if rate > 0 else height - 1


def _joined(there: str, sign: str) -> str:
    """Return the sign of a place to which another maker comes; the maker asked about is never hidden."""
    if OWN in (there, sign):
        return OWN
    if there.isdigit():
        return str(min(int(there) + 1, 9))
    return "2" if there == OTHER else sign


def _with_scale(grid: Sequence[Sequence[str]], rate: float) -> Iterator[str]:
    height = len(grid)
    labels = {0: "100 %", height - 1: "0", _row(rate, height): percent(rate)}
    for number, row in enumerate(grid):
        yield f"{labels.get(number, ''):>{_MARGIN - 1}} {''.join(row)}".rstrip()


def _below(columns: int, most: int) -> str:
    label = f"{most} specimens tested"
    return f"{' ' * _MARGIN}0{label:>{columns - 1}}"
