"""How many further specimens or lots will be faulty, by what is known of their rate."""

from collections.abc import Iterable
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import betaln, expit, gammaln

from qcledger.stats import check
from qcledger.stats.check import FloatArray

LEAST_SD = 1e-4
"""Least standard deviation of a rate: nothing is known as well as that."""
_MEANS, _SIZES = 140, 24
"""Steps of the mean, and of the size, that `rates_of` looks at."""


class Betas(NamedTuple):
    """A rate that is beta(a, b) with the chance `weight`, each of shape (K,); the weights add up to 1."""

    a: FloatArray
    b: FloatArray
    weight: FloatArray

    def after(self, faulty: float, tested: float) -> "Betas":
        """Return what is known of the rate of one of the groups that showed so many; its own are in `weight` yet."""
        return Betas(self.a + faulty, self.b + tested - faulty, self.weight)


def beta_of(mean: float, sd: float) -> tuple[float, float]:
    """Return the parameters a, b > 0 of the beta distribution with a mean and a standard deviation.

    Parameters
    ----------
    mean, sd
        Of a rate, the mean from 0 to 1. A spread that no beta of this mean has is taken as the widest without a dip
        in the middle or more, a + b = 1.

    Notes
    -----
    By moments: a + b = mean (1 - mean) / sd^2 - 1 (Johnson, Kotz and Balakrishnan 1995, Continuous Univariate
    Distributions 2, ch. 25).
    """
    middle = min(max(check.one_share("mean", mean), 1e-6), 1 - 1e-6)
    size = max(middle * (1 - middle) / max(check.one_number("sd", sd), LEAST_SD) ** 2 - 1, 1.0)
    return middle * size, (1 - middle) * size


def rates_of(groups: Iterable[tuple[float, float]]) -> Betas:
    """Return how the rates of groups are spread, by (faulty, tested) of each group on file.

    Parameters
    ----------
    groups
        Lots, paints or makers; parts of one are allowed. Without any, every mean is as likely.

    Notes
    -----
    Each group's rate is beta(a, b), its count beta-binomial; a / (a + b) is uniform from 0 to 1 and (a + b)^-1/2
    uniform from 0.05 to 2, which is the prior (a + b)^(-5/2) of Gelman, Carlin, Stern, Dunson, Vehtari and Rubin
    2013, Bayesian Data Analysis, 3rd ed., section 5.3, with ends, so that groups of one specimen each can be read
    too. What looks worst of many is in part bad luck: that is in the spread of all of them.
    """
    a, b, weight = _grid()
    counted = np.array([(some, tested) for some, tested in groups if tested > 0], np.float64).reshape(-1, 2)
    pairs, times = np.unique(counted, axis=0, return_counts=True)
    for (some, tested), number in zip(pairs, times, strict=True):
        weight = weight + number * (betaln(a + some, b + tested - some) - betaln(a, b))
    chance = np.exp(weight - weight.max())
    kept = chance > chance.max() * 1e-6
    return Betas(a[kept], b[kept], chance[kept] / chance[kept].sum())


@cache
def _grid() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return a, b and the logarithm of the prior's density, each of shape (`_MEANS` x `_SIZES`,)."""
    logit = np.linspace(-7, 7, _MEANS)
    root = (np.arange(_SIZES) + 0.5) / _SIZES * 1.95 + 0.05
    mean, size = (one.ravel() for one in np.meshgrid(expit(logit), root**-2.0))
    # Even steps of the logit stand for a uniform mean by its slope, mean (1 - mean).
    return mean * size, (1 - mean) * size, np.log(mean) + np.log1p(-mean)


def further_faulty(count: int, a: ArrayLike, b: ArrayLike, weight: ArrayLike = 1.0) -> FloatArray:
    """Return the chances that 0, 1, ... `count` of `count` further ones are faulty, shape (count + 1,).

    Parameters
    ----------
    count
        How many, at least 0.
    a, b, weight
        Their rate is beta(a, b), or such a one with each of the chances `weight`, all of shape (K,).

    Notes
    -----
    Beta-binomial (Skellam 1948, J R Stat Soc B 10:257-261).
    """
    size = check.one_whole("count", count, 0)
    one, other, share = np.broadcast_arrays(*(np.atleast_1d(np.asarray(each, float)) for each in (a, b, weight)))
    faulty = np.arange(size + 1)[:, None]
    ways = gammaln(size + 1) - gammaln(faulty + 1) - gammaln(size - faulty + 1)
    each = np.exp(ways + betaln(faulty + one, size - faulty + other) - betaln(one, other))
    found: FloatArray = each @ share
    return found
