"""Many comparisons at once: p-values adjusted for how many are shown.

An adjusted p-value is compared with the level wanted for the whole set. P-values come in any order and any number,
none included; what comes back has their shape.
"""

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammaln

from qcledger.stats import check
from qcledger.stats.check import FloatArray

_ROUNDING = 1e-9
"""How far, as a share, a computed p-value may lie from the true one."""


def holm(p_values: ArrayLike) -> FloatArray:
    """Return p-values adjusted so that a single false rejection in the whole set is rare.

    Parameters
    ----------
    p_values
        Numbers from 0 to 1.

    Returns
    -------
    array
        Adjusted p-values, each at least its p-value and at most 1. Those at or below a level are the rejections that
        keep the chance of any false one at that level, however the comparisons depend on each other.

    Raises
    ------
    BadInput
        A p-value is out of range.

    Notes
    -----
    Holm 1979, Scand J Stat 6:65-70, step down.
    """
    given = check.share("p_values", p_values)
    order = np.argsort(given, axis=None)
    adjusted = np.empty(given.size)
    adjusted[order] = np.maximum.accumulate(given.ravel()[order] * np.arange(given.size, 0, -1))
    return np.minimum(adjusted, 1.0).reshape(given.shape)


def benjamini_hochberg(p_values: ArrayLike) -> FloatArray:
    """Return p-values adjusted so that few of the rejections are false.

    Parameters
    ----------
    p_values
        Numbers from 0 to 1.

    Returns
    -------
    array
        Adjusted p-values, each at least its p-value and at most 1. Of those at or below a level, no larger share than
        that level is expected to be false, for comparisons that are independent or rise and fall together.

    Raises
    ------
    BadInput
        A p-value is out of range.

    Notes
    -----
    Benjamini & Hochberg 1995, J R Stat Soc B 57:289-300, step up, by scipy.
    """
    given = check.share("p_values", p_values)
    if not given.size:
        return given
    from scipy.stats import false_discovery_control

    adjusted: FloatArray = false_discovery_control(given.ravel(), method="bh").reshape(given.shape)
    return adjusted


def least_exact_p(inside: ArrayLike, faulty: ArrayLike, total: ArrayLike) -> FloatArray:
    """Return the smallest p-value that Fisher's exact test could give, whichever of the specimens were the faulty.

    Parameters
    ----------
    inside
        Specimens of the group tested, at most `total`; shape (G,).
    faulty
        Faulty ones in all, at most `total`; shape (G,).
    total
        Specimens of the group and of what it is compared with; shape (G,).

    Returns
    -------
    array
        The one-sided p-value with as many of the faulty inside as there is room for, shape (G,).
    """
    some, bad, every = (np.asarray(given, np.float64) for given in (inside, faulty, total))
    most = np.minimum(some, bad)

    def ways(of: FloatArray, drawn: FloatArray) -> FloatArray:
        return np.asarray(gammaln(of + 1) - gammaln(drawn + 1) - gammaln(of - drawn + 1))

    return np.exp(ways(bad, most) + ways(every - bad, some - most) - ways(every, some))


def could_tell(least: ArrayLike, level: float) -> int:
    """Return by how many comparisons a p-value is to be multiplied where most of them could never have been small.

    Parameters
    ----------
    least
        Smallest p-value that each comparison could give, whatever came out; shape (G,).
    level
        Chance wanted for a single false rejection in the whole set.

    Returns
    -------
    int
        K, 1 or more: no more than K comparisons could come out at or below level / K.

    Notes
    -----
    Tarone 1990, A modified Bonferroni method for discrete data, Biometrics 46:515-522.
    """
    rising = np.sort(check.share("least", least), axis=None)
    number = np.arange(1, rising.size + 1)
    # What stands right at the line passes it, so it counts, however its p-value was rounded.
    enough = np.searchsorted(rising, level / number * (1 + _ROUNDING), side="right") <= number
    return int(number[enough][0]) if rising.size else 1
