"""How well two looks at the same pieces agree: hidden repeats of one tester, or two testers side by side.

A pair is two grades of one piece, `first` and `second`, in grades (0 to 5, half steps allowed). Grades are taken as
equally spaced, which is what a quadratic weight says: two grades apart count four times as much as one.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import fdtri

from qcledger.errors import bad
from qcledger.stats import check
from qcledger.stats.check import FloatArray
from qcledger.stats.proportion import Interval, wilson

ENOUGH = 10
"""Pairs from which shares and kappa are given; with fewer only counts are."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """How two looks at the same pieces agree.

    Parameters
    ----------
    pairs, equal, within_one
        Pairs; those with the same grade twice; those at most one grade apart (the equal ones among them).
    shift
        Mean of second less first, in grades; 0 without pairs.
    equal_interval, within_one_interval
        Intervals for the shares `equal` / `pairs` and `within_one` / `pairs`; None under `ENOUGH` pairs.
    kappa, kappa_interval
        Quadratic weighted kappa, at most 1, and its interval; None under `ENOUGH` pairs, or where every grade is the
        same, which leaves nothing to agree on.
    """

    pairs: int
    equal: int
    within_one: int
    shift: float
    equal_interval: Interval | None
    within_one_interval: Interval | None
    kappa: float | None
    kappa_interval: Interval | None


def agreement(first: ArrayLike, second: ArrayLike, level: float = 0.95) -> Agreement:
    """Count how two looks at the same pieces agree and, from `ENOUGH` pairs on, say how firmly.

    Parameters
    ----------
    first, second
        Grades in a row, one pair a piece.
    level
        Two-sided confidence, between 0 and 1.

    Raises
    ------
    BadInput
        A grade is no number, the rows differ in length, or the level is out of range; the message names it.
    """
    check.inner("level", level)
    one, other = grade_pairs(first, second)
    apart = np.abs(other - one)
    pairs, equal, within = len(one), int((apart == 0).sum()), int((apart <= 1).sum())
    shift = float((other - one).mean()) if pairs else 0.0
    if pairs < ENOUGH:
        return Agreement(pairs, equal, within, shift, None, None, None, None)
    kappa = quadratic_kappa(one, other)
    interval = None if kappa is None else _kappa_interval(one, other, level)
    shares = wilson(equal, pairs, level), wilson(within, pairs, level)
    return Agreement(pairs, equal, within, shift, *shares, kappa, interval)


def grade_pairs(first: ArrayLike, second: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return two rows of grades of one length."""
    one, other = check.numbers("first", first), check.numbers("second", second)
    if one.ndim != 1 or one.shape != other.shape:
        raise bad("second", f"shapes {one.shape} and {other.shape}", "two rows of grades of one length")
    return one, other


def quadratic_kappa(first: ArrayLike, second: ArrayLike) -> float | None:
    """Return the quadratic weighted kappa of two rows of grades, None where every grade is the same.

    Notes
    -----
    Cohen 1968, Psychol Bull 70:213-220, with squared distances as weights: 1 less the mean squared distance within
    pairs over that of all first with all second grades. Close to the intraclass correlation (Fleiss & Cohen 1973,
    Educ Psychol Meas 33:613-619).
    """
    one, other = grade_pairs(first, second)
    if not len(one):
        return None
    by_chance = one.var() + other.var() + (one.mean() - other.mean()) ** 2
    return float(1 - ((one - other) ** 2).mean() / by_chance) if by_chance else None


def kappa_of_table(table: ArrayLike, disagreement: ArrayLike) -> float | None:
    """Return the weighted kappa of a square table of counts or shares.

    Parameters
    ----------
    table
        Counts or shares, shape (k, k): rows by the first look, columns by the second.
    disagreement
        Weights, shape (k, k), 0 where both agree, larger for worse.

    Returns
    -------
    float or None
        At most 1; None where chance alone gives no disagreement.

    Raises
    ------
    BadInput
        The table is not square or holds negative numbers, or the weights have another shape.

    Notes
    -----
    Cohen 1968, Psychol Bull 70:213-220. Weights of 1 off the diagonal give the plain kappa of Cohen 1960.
    """
    seen, weights = check.numbers("table", table), check.numbers("disagreement", disagreement)
    if seen.ndim != 2 or seen.shape[0] != seen.shape[1] or (seen < 0).any():
        raise bad("table", f"shape {seen.shape}", "a square table of counts")
    if weights.shape != seen.shape:
        raise bad("disagreement", f"shape {weights.shape}", f"weights of shape {seen.shape}")
    total = seen.sum()
    by_chance = float((weights * np.outer(seen.sum(axis=1), seen.sum(axis=0))).sum())
    return 1 - float((weights * seen).sum()) * float(total) / by_chance if by_chance else None


def _kappa_interval(one: FloatArray, other: FloatArray, level: float) -> Interval:
    """Return the F interval of the one-way intraclass correlation (Shrout & Fleiss 1979, Psychol Bull 86:420-428)."""
    pairs = len(one)
    between = 2 * ((one + other) / 2).var(ddof=1)
    within = ((one - other) ** 2).mean() / 2
    if within == 0:
        return Interval(1.0, 1.0, level, "F")
    tail = (1 + level) / 2
    low = between / within / fdtri(pairs - 1, pairs, tail)
    high = between / within * fdtri(pairs, pairs - 1, tail)
    return Interval((low - 1) / (low + 1), (high - 1) / (high + 1), level, "F")
