"""How well two looks at the same pieces agree: hidden repeats of one tester, or two testers side by side.

A pair is two grades of one piece, `first` and `second`, in grades (0 to 5, half steps allowed). Grades are taken as
equally spaced, which is what a quadratic weight says: two grades apart count four times as much as one.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from qcledger.errors import bad
from qcledger.stats import check
from qcledger.stats.check import FloatArray
from qcledger.stats.pair_weights import Prior, limits
from qcledger.stats.proportion import Interval

ENOUGH = 10
"""Pairs from which a mean shift says something; with fewer only counts are given."""

KAPPA_FROM = 10
"""Pairs from which kappa is given, with its interval: the least number at which simulated testers tried it
(tests/bench/agreement_coverage.txt, agreement_held_out.txt); with fewer the counts stand alone."""

SCALE = np.arange(6.0)
"""Grades over which rare pieces are spread in the interval for kappa."""

PRIOR = Prior(SCALE, np.array(1.0), far=12.0, slip=0.12, tails=(1.0, 1.8))
"""What stands beside the pairs in the interval for kappa; a slip is three to four grades off."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """How two looks at the same pieces agree.

    Parameters
    ----------
    pairs, equal, within_one
        Pairs; those with the same grade twice; those at most one grade apart (the equal ones among them).
    shift
        Mean of second less first, in grades; 0 without pairs.
    kappa, kappa_interval
        Quadratic weighted kappa, at most 1, and its interval; None under `KAPPA_FROM` pairs, or where every grade is
        the same, which leaves nothing to agree on.

    Notes
    -----
    Shares `equal` / `pairs` have no interval: a count of few pairs takes few values, and none of five methods keeps
    to 93 to 97 % at every share (tests/bench/share_coverage.txt).
    """

    pairs: int
    equal: int
    within_one: int
    shift: float
    kappa: float | None
    kappa_interval: Interval | None


def agreement(first: ArrayLike, second: ArrayLike, level: float = 0.95) -> Agreement:
    """Count how two looks at the same pieces agree and, from `KAPPA_FROM` pairs on, say how firmly.

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
    kappa = quadratic_kappa(one, other) if pairs >= KAPPA_FROM else None
    if kappa is None:
        return Agreement(pairs, equal, within, shift, None, None)
    low, high = kappa_limits(one, other, level)
    return Agreement(pairs, equal, within, shift, kappa, Interval(float(low), float(high), level, "weighted pairs"))


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


def kappa_limits(first: ArrayLike, second: ArrayLike, level: float = 0.95) -> tuple[FloatArray, FloatArray]:
    """Return limits for the quadratic weighted kappa of a tester, for many sets of pairs at once.

    Parameters
    ----------
    first, second
        Grades, shape (..., pairs); the last axis holds the pairs of one set, at least two.
    level
        Two-sided confidence, between 0 and 1.

    Returns
    -------
    low, high
        Shape (...); they hold the kappa of the pairs seen.

    Notes
    -----
    `pair_weights.limits` on the grades: kappa is the variance between pieces over that between grades.
    """
    one, other = check.numbers("first", first), check.numbers("second", second)
    low, high = limits((one + other) / 2, (one - other) ** 2, PRIOR, check.inner("level", level))
    by_chance = one.var(axis=-1) + other.var(axis=-1) + (one.mean(axis=-1) - other.mean(axis=-1)) ** 2
    seen = 1 - ((one - other) ** 2).mean(axis=-1) / np.where(by_chance > 0, by_chance, np.inf)
    return np.minimum(low, seen), np.maximum(high, seen)
