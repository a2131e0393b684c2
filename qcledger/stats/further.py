"""How many further specimens or lots will be faulty, by what is known of their rate."""

import numpy as np
from scipy.special import betaln, gammaln

from qcledger.stats import check
from qcledger.stats.check import FloatArray

LEAST_SD = 1e-4
"""Least standard deviation of a rate: nothing is known as well as that."""


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


def further_faulty(count: int, a: float, b: float) -> FloatArray:
    """Return the chances that 0, 1, ... `count` of `count` further ones are faulty, their rate beta(a, b).

    Notes
    -----
    Beta-binomial (Skellam 1948, J R Stat Soc B 10:257-261).
    """
    size = check.one_whole("count", count, 0)
    faulty = np.arange(size + 1)
    ways = gammaln(size + 1) - gammaln(faulty + 1) - gammaln(size - faulty + 1)
    found: FloatArray = np.exp(ways + betaln(faulty + a, size - faulty + b) - betaln(a, b))
    return found
