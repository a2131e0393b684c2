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
from qcledger.stats.proportion import Interval, wilson

ENOUGH = 10
"""Pairs from which shares and kappa are given; with fewer only counts are."""

SCALE = np.arange(6.0)
"""Grades over which rare pieces are spread in the interval for kappa."""

SHAPE, SPREAD, NOISE = 0.75, 0.5, 0.5
"""Shape of a pair's weight (less 1 / pairs); weight of the piece and of the pair added; see `kappa_limits`."""

DRAWS, SEED = 4000, 20261125
"""Draws of weights behind the interval for kappa, and their seed."""


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
    low, high = kappa_limits(one, other, level)
    return Interval(float(low), float(high), level, "weighted pairs")


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
    A Bayesian bootstrap (Rubin 1981, Ann Stat 9:130-134): pairs get random weights, and kappa is the variance
    between pieces over that between grades. Three things of our own, chosen by tests/bench/bench_agreement.py, keep
    it true at 10 pairs: weights scatter somewhat more than Rubin's; half a piece is spread evenly over `SCALE`,
    since few pieces rarely hold the rare grades; and half a pair, equal or one grade apart, stands for the noise
    that ten equal pairs do not show. The weights are drawn from a fixed seed and given to the pairs in the order of
    their grades.
    """
    one, other = check.numbers("first", first), check.numbers("second", second)
    middle, apart = (one + other) / 2, (one - other) ** 2
    order = np.argsort(middle * 1000 + apart, axis=-1)
    middle, apart = (np.take_along_axis(part, order, axis=-1) for part in (middle, apart))
    low, high = _quantiles(middle, apart, check.inner("level", level))
    by_chance = one.var(axis=-1) + other.var(axis=-1) + (one.mean(axis=-1) - other.mean(axis=-1)) ** 2
    seen = 1 - apart.mean(axis=-1) / np.where(by_chance > 0, by_chance, np.inf)
    return np.minimum(low, seen), np.maximum(high, seen)


def _quantiles(middle: FloatArray, apart: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    """Return the quantiles of kappa over weights, from each pair's mean grade and squared distance."""
    pairs, rng = middle.shape[-1], np.random.default_rng(SEED)
    shape = SHAPE - 1 / pairs
    weights = rng.gamma(shape, size=(pairs, DRAWS))
    spread = rng.gamma(SPREAD / len(SCALE), size=(len(SCALE), DRAWS))
    equal, one_apart = rng.gamma(NOISE / 2, size=(2, DRAWS))
    ours, added = weights.sum(axis=0), spread.sum(axis=0)
    within = (apart @ weights + one_apart) / (ours + equal + one_apart)
    mean = (middle @ weights + SCALE @ spread) / (ours + added)
    total = (middle**2 @ weights + SCALE**2 @ spread) / (ours + added) - mean**2
    # A weighted variance is short by one in so many pieces, and a quarter of what looks scatter is still in it.
    between = total * (1 + 1 / (pairs * shape + SPREAD)) - ours / (ours + added) * within / 4
    between = np.maximum(between, 0.0)
    tails = (1 - level) / 2, (1 + level) / 2
    low, high = np.quantile(2 * between / (2 * between + within), tails, axis=-1)
    return low, high
