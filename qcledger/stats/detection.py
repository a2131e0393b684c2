"""How many units it takes: to see a fault at all, to accept a lot, to tell two rates apart.

Rates, chances and levels lie between 0 and 1. `BadInput` names an argument out of range.
"""

from math import ceil, log1p

import numpy as np
from scipy.special import bdtr, bdtrc, bdtri, gammaln, ndtri

from qcledger.errors import bad
from qcledger.stats import check
from qcledger.stats.check import FloatArray

MOST_UNITS = 300
"""Most units a group that are looked at when two rates are to be told apart."""

TIE = 1 + 1e-7
"""Tables whose chances differ by less than this factor are equally likely, as in R's `fisher.test`."""


def units_to_see(rate: float, chance: float = 0.95) -> int:
    """Return how many independent units show at least one faulty one with probability `chance`.

    `rate` is the share faulty, between 0 and 1: the smallest n with 1 - (1 - rate)^n >= chance.
    """
    needed = log1p(-check.inner("chance", chance)) / log1p(-check.inner("rate", rate))
    return max(1, ceil(needed - 1e-9))


def units_to_see_in_lot(lot: int, faulty: int, chance: float = 0.95) -> int:
    """Return how many units of a lot show at least one of its `faulty` faulty ones with probability `chance`.

    Parameters
    ----------
    lot
        Units in the lot, at least 1.
    faulty
        Faulty units among them, from 1 to `lot`.
    chance
        Probability wanted, between 0 and 1.

    Returns
    -------
    int
        From 1 to `lot` - `faulty` + 1, which is sure to show one.

    Raises
    ------
    BadInput
        An argument is out of range; the message names it.

    Notes
    -----
    Hypergeometric; Cannon & Roe 1982, Livestock disease surveys.
    """
    size, some = check.one_whole("lot", lot, 1), check.one_whole("faulty", faulty, 1)
    check.one_count(some, size, ("faulty", "lot"))
    missed, drawn = 1.0, 0
    while 1 - missed < check.inner("chance", chance) - 1e-12:
        missed *= max(size - some - drawn, 0) / (size - drawn)
        drawn += 1
    return drawn


def chance_of_acceptance(rate: float, tested: int, allowed: int) -> float:
    """Return the chance that at most `allowed` of `tested` independent units are faulty.

    `rate` is the share faulty, from 0 to 1. This is the operating characteristic of the single sampling plan with
    n = `tested` and c = `allowed`.
    """
    accepted, total = check.one_count(allowed, tested, ("allowed", "tested"))
    return float(bdtr(accepted, int(total), check.one_share("rate", rate)))


def rate_at_acceptance(chance: float, tested: int, allowed: int) -> float:
    """Return the rate at which at most `allowed` of `tested` are faulty with probability `chance`, between 0 and 1.

    1 when every number is allowed.
    """
    accepted, total = check.one_count(allowed, tested, ("allowed", "tested"))
    wanted = check.inner("chance", chance)
    return float(bdtri(accepted, int(total), wanted)) if accepted < total else 1.0


def chance_to_tell(rate: float, peer_rate: float, units: int, alpha: float = 0.05) -> float:
    """Return the power of Fisher's exact test between two groups of independent units.

    Parameters
    ----------
    rate, peer_rate
        True rates of the groups, from 0 to 1.
    units
        Units in each group, at least 1.
    alpha
        Two-sided level of the test, between 0 and 1.

    Returns
    -------
    float
        Probability that the p-value is at most `alpha`.

    Raises
    ------
    BadInput
        An argument is out of range; the message names it.

    Notes
    -----
    Summed over every outcome; the two-sided p-value adds the tables no likelier than the one seen, given the margins.
    """
    size = check.one_whole("units", units, 1)
    rejected = _fisher_p_values(size) <= check.inner("alpha", alpha)
    ours, peers = (_binomial(size, check.one_share(*named)) for named in _named(rate, peer_rate))
    return min(1.0, float(ours @ rejected @ peers))


def units_to_tell(rate: float, peer_rate: float, chance: float = 0.8, alpha: float = 0.05) -> int:
    """Return how many independent units a group tell the two rates apart with probability `chance`.

    Parameters
    ----------
    rate, peer_rate
        True rates of the groups, from 0 to 1.
    chance
        Power wanted, between 0 and 1.
    alpha
        Two-sided level of Fisher's exact test, between 0 and 1.

    Returns
    -------
    int
        The first size at which `chance_to_tell` reaches `chance`. The power of an exact test is a saw: a few more
        units can take it a little below again.

    Raises
    ------
    BadInput
        An argument is out of range, or the rates are so close that more than `MOST_UNITS` a group are needed.
    """
    wanted = check.inner("chance", chance)
    start = _normal_units(rate, peer_rate, wanted, check.inner("alpha", alpha))
    # The exact test needs more than the normal one: at least 1.09 times as many for the rates the tests go through.
    for units in range(max(1, int(start)), MOST_UNITS + 1):
        if chance_to_tell(rate, peer_rate, units, alpha) >= wanted:
            return units
    raise bad("peer_rate", peer_rate, f"a rate that at most {MOST_UNITS} units a group tell from {rate:g}")


def lots_to_tell(
    rate: float,
    peer_rate: float,
    chance: float = 0.8,
    alpha: float = 0.05,
    *,
    per_lot: int = 1,
    concentration: float = 0.0,
) -> int:
    """Return how many lots a group tell the two rates apart: "to tell 50 % from 8 % you need about k lots".

    Parameters
    ----------
    rate, peer_rate, chance, alpha
        As for `units_to_tell`.
    per_lot
        Specimens of each lot, at least 1.
    concentration
        How alike specimens of a lot are, from 0, independent, to 1, all alike.

    Returns
    -------
    int
        Lots in each group.

    Raises
    ------
    BadInput
        As for `units_to_tell`.

    Notes
    -----
    Independent units times the design effect 1 + (per_lot - 1) concentration (Kish 1965, Survey Sampling, sec. 5.4).
    """
    size = check.one_whole("per_lot", per_lot, 1)
    alike = check.one_share("concentration", concentration)
    effect = 1 + (size - 1) * alike
    return ceil(units_to_tell(rate, peer_rate, chance, alpha) * effect / size - 1e-9)


def lots_beyond(rate: float, usual: float, chance: float = 0.9, alpha: float = 0.05) -> tuple[int, int]:
    """Return how many lots, a specimen of each, show that a rate is above a known one, and how many must be faulty.

    Parameters
    ----------
    rate, usual
        The true rate and the known one, the lower, between 0 and 1.
    chance
        Power wanted, between 0 and 1.
    alpha
        One-sided level of the exact binomial test, between 0 and 1.

    Returns
    -------
    tuple
        The smallest n for which P(X >= c) >= chance at `rate`; c is the smallest with P(X >= c) <= alpha at `usual`.

    Raises
    ------
    BadInput
        An argument is out of range, or the rates are so close that more than `MOST_UNITS` are needed.
    """
    wanted, level = check.inner("chance", chance), check.inner("alpha", alpha)
    ours, known = check.inner("rate", rate), check.inner("usual", usual)
    for size in range(1, MOST_UNITS + 1):
        faulty = next((c for c in range(1, size + 1) if bdtrc(c - 1, size, known) <= level + 1e-12), None)
        if faulty is not None and bdtrc(faulty - 1, size, ours) >= wanted - 1e-12:
            return size, faulty
    raise bad("usual", usual, f"a rate that at most {MOST_UNITS} lots tell from {rate:g}")


def _normal_units(rate: float, peer_rate: float, chance: float, alpha: float) -> float:
    """Return the size of each group by the arcsine approximation, or one too large to look at."""
    ours, peers = (np.arcsin(np.sqrt(check.one_share(*named))) for named in _named(rate, peer_rate))
    nearest = 1 / np.sqrt(2 * MOST_UNITS + 2)
    return float((ndtri(1 - alpha / 2) + ndtri(chance)) / max(abs(ours - peers), nearest)) ** 2 / 2


def _named(rate: float, peer_rate: float) -> tuple[tuple[str, float], tuple[str, float]]:
    return ("rate", rate), ("peer_rate", peer_rate)


def _fisher_p_values(size: int) -> FloatArray:
    """Return the two-sided p-values of x and y faulty in two groups of `size`, as a table over x and y."""
    log_ways = gammaln(size + 1) - gammaln(np.arange(size + 1) + 1) - gammaln(size - np.arange(size + 1) + 1)
    table = np.empty((size + 1, size + 1))
    for faulty in range(2 * size + 1):
        x = np.arange(max(0, faulty - size), min(size, faulty) + 1)
        ways = np.exp(log_ways[x] + log_ways[faulty - x] - (log_ways[x] + log_ways[faulty - x]).max())
        ordered = np.sort(ways)
        upto = np.cumsum(ordered) / ordered.sum()
        table[x, faulty - x] = upto[np.searchsorted(ordered, ways * TIE, "right") - 1]
    return table


def _binomial(size: int, rate: float) -> FloatArray:
    """Return the chance of 0, 1, ... `size` faulty units."""
    upto: FloatArray = bdtr(np.arange(size + 1), size, rate)
    return np.diff(upto, prepend=0.0)
