"""What to spend a sum on."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.errors import BadInput
from qcledger.stats.budget import Choice, best_choices

CHOICES = st.lists(st.builds(Choice, st.integers(1, 40), st.floats(0, 1)), max_size=3)


def _of(groups, plan):
    taken = [group[place] for group, place in zip(groups, plan, strict=True) if place is not None]
    return sum(one.cost for one in taken), sum(one.worth for one in taken)


@given(st.lists(CHOICES, max_size=5), st.integers(0, 100))
def test_no_other_plan_within_the_budget_is_worth_more(groups, budget):
    """Against every plan there is, one by one."""
    cost, worth = _of(groups, best_choices(groups, budget))
    places = product(*([None, *range(len(group))] for group in groups))
    best = max(value for spent, value in (_of(groups, plan) for plan in places) if spent <= budget)
    assert cost <= budget
    assert abs(worth - best) < 1e-9


def test_the_dearest_for_its_worth_is_not_always_left():
    """Worth a coin misleads: 6 coins for 0.7 leave 4 that buy nothing, 5 and 5 make 1.0."""
    groups = [[Choice(6, 0.7)], [Choice(5, 0.5)], [Choice(5, 0.5)]]
    assert best_choices(groups, 10) == (None, 0, 0)


def test_a_budget_of_nothing_buys_nothing_and_a_debt_is_refused():
    """Nothing is taken; a sum below 0 is none."""
    assert best_choices([[Choice(1, 1.0)]], 0) == (None,)
    with pytest.raises(BadInput, match="0 or more"):
        best_choices([], -1)
