"""What to spend a sum on: at most one choice of each group, so that what is hoped for is as much as the sum buys."""

from collections.abc import Sequence
from functools import reduce
from math import gcd
from typing import NamedTuple

import numpy as np

from qcledger.errors import bad

MOST_STEPS = 2_000_000
"""Most different sums that are looked at; a larger budget is looked at in steps of several coins, rounded up."""


class Choice(NamedTuple):
    """What one choice costs, in the smallest coin and at least 1, and what it is worth, at least 0."""

    cost: int
    worth: float


def best_choices(groups: Sequence[Sequence[Choice]], budget: int) -> tuple[int | None, ...]:
    """Return the place of the choice to take in each group, None for none, worth most within a budget.

    Parameters
    ----------
    groups
        The choices of each group, of which one at most is taken.
    budget
        What may be spent, in the smallest coin, at least 0.

    Returns
    -------
    tuple
        One place a group. Of equal plans the one that spends least.

    Raises
    ------
    BadInput
        For a budget or a cost that cannot be.

    Notes
    -----
    The multiple-choice knapsack, exactly, by dynamic programming over the sum spent (Dudzinski and Walukiewicz 1987,
    Eur J Oper Res 28:3-21). Past `MOST_STEPS` different sums costs are rounded up to a step, so that the budget still
    holds.
    """
    if budget < 0:
        raise bad("budget", budget, "0 or more")
    costs = [choice.cost for group in groups for choice in group]
    if min(costs, default=1) < 1:
        raise bad("cost", min(costs), "1 or more")
    spent = min(budget, sum(max((choice.cost for choice in group), default=0) for group in groups))
    step = max(reduce(gcd, costs, 0) or 1, -(-spent // MOST_STEPS))
    size = spent // step
    worth, taken = np.zeros(size + 1), np.full((len(groups), size + 1), -1, np.int16)
    for number, group in enumerate(groups):
        before, mine = worth.copy(), taken[number]
        for place, choice in enumerate(group):
            cost = -(-choice.cost // step)
            if cost > size:
                continue
            with_it = before[: size + 1 - cost] + choice.worth
            better = with_it > worth[cost:] + 1e-12
            worth[cost:][better], mine[cost:][better] = with_it[better], place
    return _walked_back(groups, taken, int(np.argmax(worth >= worth.max() - 1e-12)), step)


def _walked_back(
    groups: Sequence[Sequence[Choice]], taken: "np.ndarray[tuple[int, int], np.dtype[np.int16]]", at: int, step: int
) -> tuple[int | None, ...]:
    """Return what was taken of each group, from the last one back, of the plan that spends `at` steps."""
    found: list[int | None] = []
    for number in reversed(range(len(groups))):
        place = int(taken[number, at])
        found.append(None if place < 0 else place)
        at -= 0 if place < 0 else -(-groups[number][place].cost // step)
    return tuple(reversed(found))
