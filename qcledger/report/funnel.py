"""The funnel view: a line for each maker, most tested first, with the limits of chance around the common share.

The fewer were tested the wider are the limits, so that they open downwards. Funnel plots for comparing institutions:
Spiegelhalter 2005, Stat Med 24:1185-1202.
"""

from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from qcledger.findings import Finding
from qcledger.report.layout import cut
from qcledger.stats.funnel import funnel_limits

LEVEL = 0.95
ASKED, SHARE, LOW, HIGH, BETWEEN, TOGETHER = ">", "*", "(", ")", "-", "|"
NOTE = (
    "> this maker; * its share of faulty ones; | the makers together; ( ) the 95 % limits of chance around that, "
    "each specimen taken by itself: faults that come by the lot stray farther."
)
"""Printed below the drawing."""
MOST = 16
"""Most makers that are drawn: those of whom most was tested, and the one asked about."""

_NAME, _COUNTS = 12, 7
_LEAST = 20
"""Fewest columns of a drawing that still tells something."""


def funnel(finding: Finding, width: int) -> list[str]:
    """Return the makers of one criterion in one format as lines.

    Parameters
    ----------
    finding
        Whose maker is marked `ASKED`.
    width
        Columns of the longest line.

    Returns
    -------
    list of str
        Empty where nobody can be compared, where none or every specimen is faulty, and where there is no room.
    """
    points = _points(finding)
    tested, faulty = (sum(counts) for counts in zip(*points.values(), strict=True)) if points else (0, 0)
    columns = width - _NAME - _COUNTS - 4
    if len(points) < 2 or finding.maker not in points or not 0 < faulty < tested or columns < _LEAST:
        return []
    names = {lot.row.maker: lot.row.maker_name for lot in finding.field.lots}
    ordered = sorted(points, key=lambda maker: (-points[maker][0], names[maker].casefold(), maker))
    shown = [maker for place, maker in enumerate(ordered) if place < MOST - 1 or maker == finding.maker]
    rate = faulty / tested
    lines = [
        f"{ASKED if maker == finding.maker else ' '} {cut(names[maker], _NAME)} {drawn} "
        f"{f'{points[maker][1]}/{points[maker][0]}':>{_COUNTS}}"
        for maker, drawn in zip(shown, _drawn([points[maker] for maker in shown], rate, columns), strict=True)
    ]
    left = len(points) - len(shown)
    return [*lines, _scale(columns), *([f"  {left} more of whom less was tested"] if left else [])]


def _points(finding: Finding) -> dict[str, tuple[int, int]]:
    """Return specimens tested and faulty ones of each maker in the format."""
    tested: Counter[str] = Counter()
    faulty: Counter[str] = Counter()
    for lot in finding.field.lots:
        if lot.row.format == finding.format:
            tested[lot.row.maker] += lot.tested
            faulty[lot.row.maker] += lot.faulty
    return {maker: (number, faulty[maker]) for maker, number in tested.items()}


def _drawn(points: Sequence[tuple[int, int]], rate: float, columns: int) -> Iterator[str]:
    """Yield a line for each of these numbers tested and faulty, from 0 on the left to 100 % on the right."""
    low, high = funnel_limits(rate, np.array([size for size, _ in points]), LEVEL)
    for (size, some), first, last in zip(points, low.tolist(), high.tolist(), strict=True):
        line = [" "] * columns
        begin, end = _place(first, columns), _place(last, columns)
        line[begin : end + 1] = BETWEEN * (end + 1 - begin)
        line[end], line[begin] = HIGH, LOW
        line[_place(rate, columns)] = TOGETHER
        line[_place(some / size, columns)] = SHARE
        yield "".join(line)


def _place(rate: float, columns: int) -> int:
    """Return the column of a share; the first is of 0 alone, lest none look like few."""
    return min(1 + int(rate * (columns - 1) + 1e-9), columns - 1) if rate > 0 else 0


def _scale(columns: int) -> str:
    before = " " * (_NAME + 3)
    middle = f"{'0':<{columns // 2 - 1}}50"
    return f"{before}{middle}{'100 %':>{columns - len(middle)}}"
