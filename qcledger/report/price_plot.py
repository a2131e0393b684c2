"""Prices beside what was found, drawn: a letter a maker, its price across, up the share that may be faulty."""

from collections.abc import Iterator, Sequence
from typing import Final

from qcledger.figures import money_text
from qcledger.findings.checks import percent
from qcledger.findings.price_beside import PricePoint, PricesBeside
from qcledger.findings.words import out_of
from qcledger.report.layout import paragraph
from qcledger.report.price_rows import comparable_row
from qcledger.report.prices_text import comparable_words
from qcledger.report.rows import Row
from qcledger.rubric.ladder import WIDTH

LETTERS: Final = "abcdefghijklmnopqrstuvwxyz"
"""One for each maker; makers beyond them are told below and not drawn."""
SEVERAL: Final = "*"
"""Stands where letters would fall on each other."""
STEPS: Final = 10
"""Lines between 0 and 100 %."""
SIDE: Final = 8
"""Columns before the drawing."""
NOTE: Final = (
    "For you only, whatever its standing. Up: the highest share of faulty specimens that the counts of the maker's "
    "format allow (95 %, the worse of by specimen and by lot), never the rate, so that little tested stands high; "
    "100 % where nothing was looked at. Across: the middle price, from 0. Pigments, and which of them were looked "
    "at, differ between makers. It ranks nobody: a share that is allowed is not one that was seen."
)


def plot_lines(found: Sequence[PricesBeside], title: str, mark: str = ".", width: int = WIDTH) -> list[str]:
    """Return prices beside what was found on a criterion, a drawing for each format and size, as lines.

    Parameters
    ----------
    found
        The makers, by what may be compared.
    title
        The criterion's.
    mark
        What stands before decimals.
    width
        Columns of the longest line.
    """
    lines = paragraph(f"Price beside what was found: {title}", width=width)
    looked = [one for one in found if any(point.tested for point in one.points)]
    for one in looked:
        lines += ["", *paragraph(comparable_words(one.of, mark), width=width), *_drawn(one, mark, width)]
        lines += [line for told in _legend(one, mark) for line in paragraph(told, "  ", "    ", width)]
    if left := "; ".join(comparable_words(one.of, mark) for one in found if one not in looked):
        lines += ["", *paragraph(f"With a price, and not looked at for this: {left}.", width=width)]
    if not found:
        lines += ["", *paragraph("Nothing that was sold by itself has a price here.", width=width)]
    return [*lines, "", *paragraph(NOTE, width=width)]


def plot_rows(found: Sequence[PricesBeside], key: str) -> Iterator[Row]:
    """Yield the points as named values; `key` is the criterion's."""
    for one in found:
        for point in one.points:
            yield {
                "criterion": key,
                **comparable_row(one.of),
                "maker": point.maker,
                "priced": point.prices.priced,
                "low_minor": point.prices.low,
                "middle_minor": point.prices.middle,
                "high_minor": point.prices.high,
                "tested": point.tested,
                "faulty": point.faulty,
                "up_to": round(point.up_to, 4),
            }


def _drawn(one: PricesBeside, mark: str, width: int) -> list[str]:
    """Return the drawing: the share's scale at the left, the price's below, both from 0."""
    room = max(width - SIDE, 10)
    dearest = max(point.prices.middle or 0 for point in one.points) or 1
    grid = [[" "] * room for _ in range(STEPS + 1)]
    for letter, point in zip(LETTERS, one.points, strict=False):
        line = grid[STEPS - _step(point.up_to, STEPS)]
        place = _step((point.prices.middle or 0) / dearest, room - 1)
        line[place] = letter if line[place] == " " else SEVERAL
    scale = {0: "100 %", STEPS // 2: "50 %", STEPS: "0 %"}
    drawn = [f"  {scale.get(number, ''):>5}|{''.join(line)}".rstrip() for number, line in enumerate(grid)]
    last = f"{money_text(dearest, one.of.currency, mark)} {one.of.currency}"
    return [*drawn, f"{'':>{SIDE - 1}}+{'-' * room}", f"{'':>{SIDE}}0{last:>{room - 1}}"]


def _step(share: float, steps: int) -> int:
    """Return the place of a share on a scale, never below where it lies: an upper limit is not drawn lower."""
    return min(max(int(-(-share * steps // 1)), 0), steps)


def _legend(one: PricesBeside, mark: str) -> Iterator[str]:
    for place, point in enumerate(one.points):
        letter = LETTERS[place] if place < len(LETTERS) else "-"
        yield f"{letter}  {point.maker}: {_paid(point, one.of.currency, mark)}; {_seen(point)}"


def _paid(point: PricePoint, code: str, mark: str) -> str:
    low, middle, high = (
        money_text(each or 0, code, mark) for each in (point.prices.low, point.prices.middle, point.prices.high)
    )
    return middle if low == high else f"{middle} in the middle, {low} to {high}"


def _seen(point: PricePoint) -> str:
    if not point.tested:
        return "not looked at for this"
    return f"{out_of(point.faulty, point.tested)} faulty, up to {percent(point.up_to)} possible"
