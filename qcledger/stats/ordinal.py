"""Grades side by side: how likely a specimen of one group is to have a higher grade than one of its peers.

Grades are only ordered, so nothing here takes a difference of two grades; a tie counts half for each side.
"""

from dataclasses import dataclass
from math import comb

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri, stdtr, stdtrit

from qcledger.errors import bad
from qcledger.stats import check
from qcledger.stats.check import FloatArray
from qcledger.stats.permutation import GradesToGroups

ENOUGH = 10
"""Grades that each group needs for the Brunner-Munzel test, by the simulations of its authors."""

HALVINGS = 60
"""Steps of the search for a limit; each halves what is left, so 60 exhaust a float."""


@dataclass(frozen=True, slots=True)
class Superiority:
    """How two groups of grades compare.

    Parameters
    ----------
    probability
        P(grade > peer's grade) + P(tie) / 2, from 0 to 1; 0.5 when neither group tends to higher grades.
    low, high
        Ends of its confidence interval, from 0 to 1.
    level
        Two-sided confidence, between 0 and 1.
    statistic
        (probability - 0.5) / standard error; positive when this group's grades are higher.
    df
        Degrees of freedom of the statistic; infinite where a normal distribution stands in.
    p_value
        Two-sided, against a probability of 0.5.
    method
        Names of the interval and of the test.
    """

    probability: float
    low: float
    high: float
    level: float
    statistic: float
    df: float
    p_value: float
    method: str


def superiority(grades: ArrayLike, peer_grades: ArrayLike, level: float = 0.95) -> Superiority:
    """Compare the grades of one group with those of its peers.

    Parameters
    ----------
    grades, peer_grades
        Numbers in a row, higher meaning more of what is graded; one grade a specimen.
    level
        Two-sided confidence, between 0 and 1.

    Returns
    -------
    Superiority
        With 0.5, 0 to 1 and a p-value of 1 when a group has no grade.

    Raises
    ------
    BadInput
        A grade is no number, or the level is out of range; the message names the argument.

    Notes
    -----
    Brunner & Munzel 2000, Biom J 42:17-25: variance from the shares of peers below each grade, Satterthwaite degrees
    of freedom, interval cut at 0 and 1. It wants `ENOUGH` grades in each group: 1 1 1 2 against 2 3 3 would get a
    p-value of 0.0007, though 3 of the 35 ways to deal these grades lie as far apart. It has no answer where the
    groups do not overlap. In both cases the interval is method 5 of Newcombe 2006, Stat Med 25:559-573, and the
    p-value that of dealing the grades out at random, counted exactly.
    """
    check.inner("level", level)
    ours, peers = _row("grades", grades), _row("peer_grades", peer_grades)
    if not ours.size or not peers.size:
        return Superiority(0.5, 0.0, 1.0, level, 0.0, np.inf, 1.0, "no grades")
    above = _share_below(peers, ours)
    spreads = [_mean_variance(above), _mean_variance(_share_below(ours, peers))]
    if min(len(ours), len(peers)) >= ENOUGH and sum(spreads) > 0:
        return _brunner_munzel(float(above.mean()), spreads, [len(ours), len(peers)], level)
    return _newcombe(ours, peers, level)


def _row(name: str, grades: ArrayLike) -> FloatArray:
    array = check.numbers(name, grades)
    if array.ndim != 1:
        raise bad(name, f"shape {array.shape}", "grades in a row")
    return array


def _share_below(others: FloatArray, grades: FloatArray) -> FloatArray:
    """Return for each grade the share of `others` below it, ties counting half."""
    ordered = np.sort(others)
    both = np.searchsorted(ordered, grades, "left") + np.searchsorted(ordered, grades, "right")
    share: FloatArray = both / (2 * len(others))
    return share


def _mean_variance(shares: FloatArray) -> float:
    """Return the variance of the mean of `shares`, 0 for a single one."""
    return float(shares.var(ddof=1)) / len(shares) if len(shares) > 1 else 0.0


def _brunner_munzel(probability: float, spreads: list[float], sizes: list[int], level: float) -> Superiority:
    error = np.sqrt(sum(spreads))
    df = sum(spreads) ** 2 / sum(spread**2 / (size - 1) for spread, size in zip(spreads, sizes, strict=True))
    statistic = (probability - 0.5) / error
    half = float(stdtrit(df, (1 + level) / 2)) * error
    p_value = 2 * float(stdtr(df, -abs(statistic)))
    low, high = max(0.0, probability - half), min(1.0, probability + half)
    return Superiority(
        probability, float(low), float(high), level, float(statistic), float(df), p_value, "Brunner-Munzel"
    )


def _newcombe(ours: FloatArray, peers: FloatArray, level: float) -> Superiority:
    probability = float(_share_below(peers, ours).mean())
    sizes = len(ours), len(peers)
    low, high = (_newcombe_limit(probability, sizes, level, end) for end in (0.0, 1.0))
    statistic = (probability - 0.5) / np.sqrt(_newcombe_variance(0.5, sizes))
    p_value = _dealt_p_value(ours, peers)
    return Superiority(
        probability, low, high, level, float(statistic), np.inf, p_value, "Newcombe 5, exact permutation"
    )


def _newcombe_variance(probability: float, sizes: tuple[int, int]) -> float:
    """Return the variance of the estimate at a true `probability`, in the logistic form of Hanley and McNeil."""
    others = sum(sizes) / 2 - 1
    spread = 1 + others * ((1 - probability) / (2 - probability) + probability / (1 + probability))
    return probability * (1 - probability) * spread / (sizes[0] * sizes[1])


def _newcombe_limit(estimate: float, sizes: tuple[int, int], level: float, end: float) -> float:
    """Return, by halving, the probability furthest towards `end` that the estimate does not contradict."""
    z = float(ndtri((1 + level) / 2))
    near, far = estimate, end
    for _ in range(HALVINGS):
        middle = (near + far) / 2
        if (estimate - middle) ** 2 <= z**2 * _newcombe_variance(middle, sizes):
            near = middle
        else:
            far = middle
    return near


def _dealt_p_value(ours: FloatArray, peers: FloatArray) -> float:
    """Return the two-sided chance of groups this far apart when grades are dealt out at random, counted exactly."""
    every = np.sort(np.concatenate([ours, peers]))
    if every[0] == every[-1]:
        return 1.0
    if max(ours.min(), peers.min()) > min(ours.max(), peers.max()):
        # As far apart are only the dealings that give one group the lowest, or the highest, grades throughout.
        apart = sum(bool(every[size - 1] < every[size]) for size in (len(ours), len(peers)))
        return apart / comb(len(every), len(ours))
    fewer = ours if len(ours) <= len(peers) else peers
    places = np.searchsorted(every, every, "left") + np.searchsorted(every, every, "right")
    own = np.searchsorted(every, fewer, "left") + np.searchsorted(every, fewer, "right")
    return GradesToGroups(places, len(fewer)).exact_p_value(int(own.sum()))
