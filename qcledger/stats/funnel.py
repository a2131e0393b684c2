"""Funnel limits: how far the rate of a group of a given size strays from a common rate by chance alone.

Spiegelhalter 2005, Stat Med 24:1185-1202. `target` is the common rate, between 0 and 1. Array arguments share one
shape and so do the results.
"""

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import bdtr, bdtrik, ndtri

from qcledger.errors import bad
from qcledger.stats import check
from qcledger.stats.check import FloatArray


def funnel_limits(
    target: float, tested: ArrayLike, level: float = 0.95, *, smooth: bool = False
) -> tuple[FloatArray, FloatArray]:
    """Return the exact limits for groups of independent units.

    Parameters
    ----------
    target
        Common rate, between 0 and 1.
    tested
        Units in each group, whole numbers from 0.
    level
        Two-sided: the share of groups expected within the limits, between 0 and 1.
    smooth
        Whether the steps are taken out, for drawing. Smooth limits pass just inside the rate they stand for, so that
        a small group falls outside far too easily: 1 of 2 at a common rate of 10 %.

    Returns
    -------
    low, high
        Rates from 0 to 1; 0 and 1 where nothing was tested. Without `smooth` a group lies beyond either one with
        probability at most (1 - level) / 2.

    Raises
    ------
    BadInput
        An argument is out of range; the message names it.

    Notes
    -----
    r / n with r the binomial quantile at p, the smallest r with F(r) >= p; smooth, (r - a) / n with
    a = (F(r) - p) / (F(r) - F(r - 1)).
    """
    rate, total = check.inner("target", target), check.whole("tested", tested)
    tail = (1 - check.inner("level", level)) / 2
    low, high = (_quantile(p, total, rate, smooth) / np.maximum(total, 1) for p in (tail, 1 - tail))
    return np.where(total > 0, np.clip(low, 0, 1), 0.0), np.where(total > 0, np.clip(high, 0, 1), 1.0)


def _quantile(p: float, total: FloatArray, rate: float, smooth: bool) -> FloatArray:
    """Return the binomial quantile at `p`, in units."""
    size = np.maximum(total, 1).astype(np.int64)
    r = np.clip(np.ceil(bdtrik(p, size, rate)), 0, size)
    upto, before = bdtr(r, size, rate), np.where(r > 0, bdtr(np.maximum(r - 1, 0), size, rate), 0.0)
    quantile: FloatArray = r - (upto - p) / (upto - before) if smooth else r
    return quantile


def funnel_normal_limits(
    target: float, tested: ArrayLike, level: float = 0.95, *, overdispersion: float = 1.0
) -> tuple[FloatArray, FloatArray]:
    """Return the normal limits, widened for groups that stray more than chance makes them.

    Parameters
    ----------
    target, tested, level
        As for `funnel_limits`.
    overdispersion
        Phi, from `overdispersion`; below 1 it counts as 1.

    Returns
    -------
    low, high
        target -+ z sqrt(phi target (1 - target) / n), kept within 0 to 1; 0 and 1 where nothing was tested.

    Raises
    ------
    BadInput
        An argument is out of range; the message names it.
    """
    rate, total = check.inner("target", target), check.whole("tested", tested)
    phi = max(check.one_number("overdispersion", overdispersion), 1.0)
    z = float(ndtri(0.5 + check.inner("level", level) / 2))
    half = np.where(total > 0, z * np.sqrt(phi * rate * (1 - rate) / np.maximum(total, 1)), 1.0)
    return np.clip(rate - half, 0, 1), np.clip(rate + half, 0, 1)


def z_scores(faulty: ArrayLike, tested: ArrayLike, target: float) -> FloatArray:
    """Return by how many standard errors the rate of each group exceeds `target`; 0 where nothing was tested.

    `faulty` and `tested` are whole numbers, 0 <= faulty <= tested, `target` the common rate, between 0 and 1. The
    standard error is the one under the common rate. `BadInput` names an argument out of range.
    """
    some, total = check.counts(faulty, tested)
    rate = check.inner("target", target)
    scores: FloatArray = (some - total * rate) / np.sqrt(np.maximum(total, 1) * rate * (1 - rate))
    return scores


def overdispersion(faulty: ArrayLike, tested: ArrayLike, target: float, *, winsorised: float = 0.0) -> float:
    """Return phi, the mean squared z-score of the groups: about 1 when they stray no more than chance makes them.

    Parameters
    ----------
    faulty, tested
        Whole numbers, one a group, 0 <= faulty <= tested. Groups of which nothing was tested are left out.
    target
        Common rate, between 0 and 1.
    winsorised
        Share of the z-scores at either end that is first drawn in to the quantile there, from 0 to below 0.5: 0.1
        keeps a few truly bad groups from hiding themselves by widening the limits.

    Returns
    -------
    float
        1 when there is no group.

    Raises
    ------
    BadInput
        An argument is out of range; the message names it.
    """
    some, total = check.counts(faulty, tested)
    if not 0 <= check.one_number("winsorised", winsorised) < 0.5:
        raise bad("winsorised", winsorised, "a number from 0 to below 0.5")
    scores = z_scores(some, total, target)[total > 0]
    if not scores.size:
        return 1.0
    return float(np.mean(np.clip(scores, *np.quantile(scores, [winsorised, 1 - winsorised])) ** 2))
