"""Intervals for one rate, from `faulty` units among `tested` independent ones.

Functions named ``..._limits`` take arrays of counts and return two arrays; the others take one pair of counts and
return an `Interval`. Nothing tested says nothing: the interval is then 0 to 1. None faulty puts the low end at
exactly 0, and nothing but faulty units puts the high end at exactly 1.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import betaincinv, ndtri

from qcledger.stats import check
from qcledger.stats.check import FloatArray


@dataclass(frozen=True, slots=True)
class Interval:
    """A confidence interval.

    Parameters
    ----------
    low, high
        Ends, `low` <= `high`; rates lie in 0 to 1, differences in -1 to 1, ratios in 0 to infinity.
    level
        Two-sided confidence, between 0 and 1.
    method
        Name of the method, as a statistician would look it up.
    """

    low: float
    high: float
    level: float
    method: str

    def holds(self, value: float) -> bool:
        """Say whether `value` lies in the interval, ends included."""
        return self.low <= value <= self.high


def wilson(faulty: int, tested: int, level: float = 0.95) -> Interval:
    """Return the score interval for a rate; see `wilson_limits`."""
    some, total = check.one_count(faulty, tested)
    low, high = wilson_limits(some, total, level)
    return Interval(float(low), float(high), level, "Wilson")


def wilson_limits(faulty: ArrayLike, tested: ArrayLike, level: float = 0.95) -> tuple[FloatArray, FloatArray]:
    """Return the score limits for many rates at once.

    Parameters
    ----------
    faulty, tested
        Whole numbers, 0 <= faulty <= tested, of one common shape.
    level
        Two-sided confidence, between 0 and 1.

    Returns
    -------
    low, high
        Rates, of the common shape.

    Raises
    ------
    BadInput
        A count or the level is out of range; the message names it.

    Notes
    -----
    Wilson 1927, J Am Stat Assoc 22:209-212, without continuity correction: the rates whose own standard error puts
    the observed rate within z of them. Near its nominal level on average, not at every rate (Brown, Cai & DasGupta
    2001, Stat Sci 16:101-133).
    """
    some, total = check.counts(faulty, tested)
    z = ndtri(0.5 + check.inner("level", level) / 2)
    middle = (some + z**2 / 2) / (total + z**2)
    half = z * np.sqrt(some * (total - some) / np.maximum(total, 1) + z**2 / 4) / (total + z**2)
    return np.where(some == 0, 0.0, middle - half), np.where(some == total, 1.0, middle + half)


def clopper_pearson(faulty: int, tested: int, level: float = 0.95) -> Interval:
    """Return the exact interval for a rate; see `clopper_pearson_limits`."""
    some, total = check.one_count(faulty, tested)
    low, high = clopper_pearson_limits(some, total, level)
    return Interval(float(low), float(high), level, "Clopper-Pearson")


def clopper_pearson_limits(
    faulty: ArrayLike, tested: ArrayLike, level: float = 0.95
) -> tuple[FloatArray, FloatArray]:
    """Return the exact limits for many rates at once.

    Parameters, returned arrays and errors are those of `wilson_limits`.

    Notes
    -----
    Clopper & Pearson 1934, Biometrika 26:404-413, as Beta quantiles. Never covers less often than `level` says, and
    is wider than it need be for most rates.
    """
    some, total = check.counts(faulty, tested)
    return beta_limits(some, total, check.inner("level", level))


def beta_limits(some: FloatArray, total: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    """Return the Clopper-Pearson limits for `some` of `total`, which need not be whole; arguments are not checked."""
    tail, rest = (1 - level) / 2, total - some
    # A Beta with a zero parameter has no quantile; 1 stands in where the end is set outright.
    low = betaincinv(np.where(some > 0, some, 1.0), rest + 1, tail)
    high = betaincinv(some + 1, np.where(rest > 0, rest, 1.0), 1 - tail)
    return np.where(some > 0, low, 0.0), np.where(rest > 0, high, 1.0)


def upper_limit(faulty: int, tested: int, level: float = 0.95) -> float:
    """Return the highest rate that `faulty` of `tested` still allows: "0 of n still allows up to ...".

    Parameters
    ----------
    faulty, tested
        Whole numbers, 0 <= faulty <= tested.
    level
        One-sided confidence, between 0 and 1.

    Returns
    -------
    float
        The rate at which `faulty` or fewer would be seen with probability 1 - `level`. For 0 of n it is
        1 - (1 - level)**(1/n), about 3/n at 95 % (Hanley & Lippman-Hand 1983, JAMA 249:1743-1745). 1 when nothing
        was tested or every unit was faulty.

    Raises
    ------
    BadInput
        A count or the level is out of range; the message names it.
    """
    some, total = check.one_count(faulty, tested)
    two_sided = 2 * check.inner("level", level) - 1
    return float(beta_limits(np.asarray(some), np.asarray(total), two_sided)[1])
