"""Charts of one control specimen over sessions: which value is out of line with the others.

For readings and other values on a fine scale. Grades have few values: `moved` judges those.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, stdtrit

from qcledger.errors import bad
from qcledger.stats import check
from qcledger.stats.check import FloatArray

WIDTH = 3
"""Limits lie this many deviations from the centre (Shewhart)."""

RANGE_MEAN = 2 / np.pi**0.5
"""Mean range of two normal values in deviations (d2 = 1.128), so that 3 deviations are 2.66 mean moving ranges."""

RANGE_LIMIT = 1 + WIDTH * (np.pi / 2 - 1) ** 0.5
"""Upper limit of a moving range in mean moving ranges (D4 = 3.267)."""

FREEDOM = 0.6
"""Degrees of freedom of a deviation from moving ranges, for each range: its variance is about 0.83 / n of the squared
deviation (Cryer & Ryan 1990, J Qual Technol 22:187-192, from memory)."""


class Rule(StrEnum):
    """A rule that a point breaks, together with those before it; zones are in deviations from the centre."""

    BEYOND = "one beyond 3"
    TWO_OF_THREE = "two of three beyond 2"
    FOUR_OF_FIVE = "four of five beyond 1"
    EIGHT = "eight on one side"


_WINDOWS = {Rule.BEYOND: (1, 1, 3), Rule.TWO_OF_THREE: (2, 3, 2), Rule.FOUR_OF_FIVE: (4, 5, 1), Rule.EIGHT: (8, 8, 0)}
"""For each rule: how many, of how many in a row, lie beyond how many deviations on one side."""

RULES = (Rule.BEYOND, Rule.EIGHT)
"""The rules in use: a steady control breaks one of them once in 153 sessions on average (Champ & Woodall 1987); the
four together would be broken once in 92. Slow drift is left to `ewma`."""


@dataclass(frozen=True, slots=True)
class Point:
    """One value on a chart.

    Parameters
    ----------
    value
        What was measured, or made of it.
    centre, low, high
        Where it is expected, and its limits, in the unit of the value.
    broke
        Rules it breaks; empty for a point in control.
    """

    value: float
    centre: float
    low: float
    high: float
    broke: tuple[Rule, ...] = ()


@dataclass(frozen=True, slots=True)
class Chart:
    """Individual values and their moving ranges.

    Parameters
    ----------
    values
        One point a session.
    ranges
        One point for each two sessions that follow one another: the second belongs to it.
    """

    values: tuple[Point, ...]
    ranges: tuple[Point, ...]


def individuals(
    values: ArrayLike,
    baseline: ArrayLike | None = None,
    *,
    step: float = 0.0,
    rules: Sequence[Rule] = RULES,
) -> Chart | None:
    """Draw up a chart of individual values and moving ranges.

    Parameters
    ----------
    values
        One value a session in the order of time.
    baseline
        For each session whether it sets the limits. Without one, each session is judged by the others, so that a
        session out of control does not widen its own limits.
    step
        Smallest difference that is written down, in the unit of the values; half of it is the least deviation used.
    rules
        Rules to apply to values; ranges are held to their limit alone.

    Returns
    -------
    Chart or None
        None when limits would rest on fewer than `LEAST` values.

    Raises
    ------
    BadInput
        A value is no number, or the baseline does not fit; the message names it.

    Notes
    -----
    Mean and 2.66 mean moving ranges (Shewhart; NIST/SEMATECH e-Handbook 6.3.2.2) for a session that helped to set
    them. Another session is held to the prediction limits of the same chance: 3 becomes the quantile of Student's t,
    with `FREEDOM` degrees of freedom a range, times the root of 1 + 1 / n (Hillier 1969, J Qual Technol 1:17-26, for
    short runs). They tend to 2.66 as the baseline grows. Run rules: Western Electric, as in Champ & Woodall 1987,
    Technometrics 29:393-399.
    """
    row = check.numbers("values", values)
    if row.ndim != 1:
        raise bad("values", f"shape {row.shape}", "one value for each session")
    marked = None if baseline is None else _marked(baseline, len(row))
    if (len(row) - 1 if marked is None else int(marked.sum())) < LEAST:
        return None
    judged = [_limits(row, index, marked, step) for index in range(len(row))]
    scores = np.array([(value - centre) / third for value, (centre, third) in zip(row, judged, strict=True)])
    broke = broken(scores, rules)
    points = (
        Point(float(value), centre, centre - WIDTH * third, centre + WIDTH * third, rule)
        for value, (centre, third), rule in zip(row, judged, broke, strict=True)
    )
    return Chart(tuple(points), _ranges(row, marked, step))


LEAST = 5
"""Values from which limits are drawn; with fewer they would say nothing."""


def broken(scores: ArrayLike, rules: Sequence[Rule] = RULES) -> tuple[tuple[Rule, ...], ...]:
    """Return for each of `scores`, in deviations from the centre and the order of time, which rules it breaks.

    A point breaks a run rule when it lies in the rule's zone itself and completes the number there.
    """
    row = check.numbers("scores", scores)
    hit = {rule: _completes(row, *_WINDOWS[rule]) | _completes(-row, *_WINDOWS[rule]) for rule in rules}
    return tuple(tuple(rule for rule in rules if hit[rule][index]) for index in range(len(row)))


def ewma(
    values: ArrayLike, centre: float, deviation: float, *, weight: float = 0.2, width: float = WIDTH
) -> tuple[Point, ...]:
    """Return the exponentially weighted moving averages of values, for slow drift.

    Parameters
    ----------
    values
        One value a session in the order of time.
    centre, deviation
        Where the control lay and how it scattered in a steady period; the first average starts from `centre`.
    weight
        Weight of the newest value, between 0 and 1.
    width
        Limits in deviations of the average.

    Raises
    ------
    BadInput
        A value is no number, the weight or the deviation out of range; the message names it.

    Notes
    -----
    Roberts 1959, Technometrics 1:239-250, with limits exact at each session: they widen to the root of
    weight / (2 - weight) as in NIST/SEMATECH e-Handbook 6.3.2.4.
    """
    row, share = check.numbers("values", values), check.inner("weight", weight)
    if check.one_number("deviation", deviation) <= 0:
        raise bad("deviation", f"{deviation:g}", "a number above 0")
    points, average = [], check.one_number("centre", centre)
    for index, value in enumerate(row, 1):
        average += share * (float(value) - average)
        half = width * deviation * (share / (2 - share) * (1 - (1 - share) ** (2 * index))) ** 0.5
        beyond = (Rule.BEYOND,) if abs(average - centre) > half else ()
        points.append(Point(average, centre, centre - half, centre + half, beyond))
    return tuple(points)


def deviation_of(values: ArrayLike, step: float = 0.0) -> float:
    """Return the deviation of steady values from their moving ranges: mean range / 1.128, at least half a `step`.

    Moving ranges hardly feel a slow drift, which would widen an ordinary standard deviation.
    """
    row = check.numbers("values", values)
    mean = float(np.abs(np.diff(row)).mean()) if len(row) > 1 else 0.0
    return max(mean / float(RANGE_MEAN), step / 2)


def _marked(baseline: ArrayLike, sessions: int) -> NDArray[np.bool_]:
    marked = np.asarray(baseline)
    if marked.shape != (sessions,) or marked.dtype != np.bool_:
        raise bad("baseline", f"shape {marked.shape}", f"true or false for each of {sessions} sessions")
    return marked


def _limits(row: FloatArray, index: int, marked: NDArray[np.bool_] | None, step: float) -> tuple[float, float]:
    """Return the centre for one session and a third of the way from there to its limits."""
    if marked is not None and marked[index]:
        return float(row[marked].mean()), max(deviation_of(row[marked], step), np.finfo(float).tiny)
    others = np.delete(row, index) if marked is None else row[marked]
    size = len(others)
    third = deviation_of(others, step) * _wider(size, WIDTH) * (1 + 1 / size) ** 0.5
    return float(others.mean()), max(third, np.finfo(float).tiny)


def _wider(size: int, width: float) -> float:
    """Return by what factor `width` deviations grow when the deviation comes from the ranges of `size` values."""
    return float(stdtrit(FREEDOM * (size - 1), ndtr(width))) / width


def _completes(row: FloatArray, wanted: int, among: int, beyond: float) -> NDArray[np.bool_]:
    inside = row > beyond
    total = np.cumsum(np.concatenate([np.zeros(among, dtype=int), inside]))
    completes: NDArray[np.bool_] = inside & (total[among:] - total[:-among] >= wanted)
    return completes


def _ranges(row: FloatArray, marked: NDArray[np.bool_] | None, step: float) -> tuple[Point, ...]:
    """Return moving ranges; without a baseline each is held to those that do not touch its two sessions."""
    return tuple(_range(row, index, marked, step) for index in range(1, len(row)))


def _range(row: FloatArray, index: int, marked: NDArray[np.bool_] | None, step: float) -> Point:
    others = np.delete(row, [index - 1, index]) if marked is None else row[marked]
    centre = deviation_of(others, step) * RANGE_MEAN
    value = abs(float(row[index] - row[index - 1]))
    # A range that did not help to set its limit is held to Student's t, as a value is.
    own = marked is not None and bool(marked[index])
    high = RANGE_LIMIT * centre * (1.0 if own else _wider(len(others), RANGE_LIMIT * RANGE_MEAN / 2**0.5))
    return Point(value, centre, 0.0, high, (Rule.BEYOND,) if value > high else ())
