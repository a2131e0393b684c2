"""How closely readings repeat: repeatability of one tester, and reproducibility over several."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtri

from qcledger.errors import bad
from qcledger.stats import check
from qcledger.stats.check import FloatArray
from qcledger.stats.proportion import Interval

LIMIT = 2.8
"""Two results of one tester differ by more than 2.8 deviations in about 5 % of cases: 1.96 times the root of 2, as
ISO 5725-6 rounds it (from memory)."""


@dataclass(frozen=True, slots=True)
class Repeatability:
    """How closely one tester's readings repeat.

    Parameters
    ----------
    pairs
        Pairs of readings it rests on.
    deviation
        Repeatability standard deviation, in the unit of the readings; as a share of the reading where `relative`.
        None without pairs.
    limit
        Repeatability limit: two readings closer than this are not told apart. In the unit of the readings, or where
        `relative` as a share by which the larger may exceed the smaller.
    interval
        Interval for `deviation`.
    relative
        Whether deviation and limit are shares of the reading.
    """

    pairs: int
    deviation: float | None
    limit: float | None
    interval: Interval | None
    relative: bool


def repeatability(
    first: ArrayLike, second: ArrayLike, *, relative: bool = False, level: float = 0.95
) -> Repeatability:
    """Return the repeatability of pairs of readings.

    Parameters
    ----------
    first, second
        Readings in a row, one pair a piece, none of them censored.
    relative
        Whether scatter grows with the reading; then logarithms are compared, and readings must lie above 0.
    level
        Two-sided confidence, between 0 and 1.

    Raises
    ------
    BadInput
        A reading is no number, or not above 0 where `relative`; the rows differ in length; the level is out of range.

    Notes
    -----
    ISO 5725-2: the deviation of pairs is the root of their summed squared differences over twice their number, the
    limit 2.8 times that (ISO 5725-6). Interval: chi-square, for normal scatter.
    """
    check.inner("level", level)
    one, other = check.numbers("first", first), check.numbers("second", second)
    if one.ndim != 1 or one.shape != other.shape:
        raise bad("second", f"shapes {one.shape} and {other.shape}", "two rows of readings of one length")
    if relative:
        one, other = _logarithms("first", one), _logarithms("second", other)
    pairs = len(one)
    if not pairs:
        return Repeatability(0, None, None, None, relative)
    squares = float(((one - other) ** 2).sum()) / 2
    ends = (np.sqrt(squares / chdtri(pairs, (1 + side * level) / 2)) for side in (-1, 1))
    low, high = sorted(float(end) for end in ends)
    deviation = (squares / pairs) ** 0.5
    limit = float(np.expm1(LIMIT * deviation)) if relative else LIMIT * deviation
    return Repeatability(pairs, deviation, limit, Interval(low, high, level, "chi-square"), relative)


@dataclass(frozen=True, slots=True)
class Precision:
    """Precision of a method over several testers.

    Parameters
    ----------
    mean
        Mean of the readings, weighted by their number.
    repeatability, reproducibility
        Standard deviations within one tester and over testers, in the unit of the readings.
    """

    mean: float
    repeatability: float
    reproducibility: float


def precision(by_tester: Sequence[ArrayLike]) -> Precision:
    """Return repeatability and reproducibility of readings of one thing by several testers.

    Parameters
    ----------
    by_tester
        For each tester a row of readings; two testers at least, one of them with two readings at least.

    Raises
    ------
    BadInput
        There are too few readings, or one is no number.

    Notes
    -----
    ISO 5725-2:1994 section 7.4, testers in the place of laboratories: one-way analysis of variance with unequal
    numbers; a between-tester variance below 0 counts as 0, so that reproducibility is never below repeatability.
    """
    rows = [check.numbers("by_tester", row).ravel() for row in by_tester]
    sizes = np.array([len(row) for row in rows], dtype=np.float64)
    testers, total = len(rows), sizes.sum()
    if testers < 2 or sizes.min() < 1 or total <= testers:
        raise bad("by_tester", f"{testers} rows of {int(total)} readings", "two rows at least, one with two readings")
    means = np.array([row.mean() for row in rows])
    mean = float(sizes @ means / total)
    within = float(sum(((row - row.mean()) ** 2).sum() for row in rows) / (total - testers))
    typical = (total - sizes @ sizes / total) / (testers - 1)
    between = (float(sizes @ (means - mean) ** 2) / (testers - 1) - within) / float(typical)
    return Precision(mean, within**0.5, (within + max(between, 0.0)) ** 0.5)


def _logarithms(name: str, readings: FloatArray) -> FloatArray:
    if (readings <= 0).any():
        raise bad(name, f"{readings.min():g}", "readings above 0 where scatter is a share of the reading")
    return np.log(readings)
