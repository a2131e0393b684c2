"""Coins are shared out whole, and none is lost."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.stats.apportion import largest_remainders

WEIGHTS = st.lists(st.fractions(0, 1000, max_denominator=100), min_size=1, max_size=40).filter(any)


@given(st.integers(0, 10**12), WEIGHTS)
def test_shares_add_up_and_stay_by_their_quota(total, weights):
    """The shares of any amount add up to it exactly, and none is a whole coin from what is due."""
    shares = largest_remainders(total, weights)
    assert sum(shares) == total
    for share, weight in zip(shares, weights, strict=True):
        assert abs(share - Fraction(weight) * total / sum(weights)) < 1
        assert share == 0 or weight


@given(st.integers(0, 10**9), WEIGHTS)
def test_whoever_weighs_more_never_gets_less(total, weights):
    """Of two shares the heavier one is never the smaller."""
    shares = largest_remainders(total, weights)
    pairs = sorted(zip(weights, shares, strict=True))
    assert all(mine <= yours for (own, mine), (other, yours) in pairwise(pairs) if own < other)


@given(st.data())
def test_a_part_of_prices_never_takes_more_than_a_price(data):
    """A discount no larger than all prices, shared by them, leaves nothing below zero."""
    prices = data.draw(st.lists(st.integers(0, 10**6), min_size=1, max_size=30).filter(any))
    discount = data.draw(st.integers(0, sum(prices)))
    assert all(less <= price for less, price in zip(largest_remainders(discount, prices), prices, strict=True))


def test_by_hand():
    """10 by 1:1:1 is 4, 3, 3: the odd coin goes to the first; 100 by 2.5:1:1 is 56, 22, 22 (quota 55.56)."""
    assert largest_remainders(10, [1, 1, 1]) == [4, 3, 3]
    assert largest_remainders(100, [Fraction("2.5"), 1, 1]) == [56, 22, 22]
    assert largest_remainders(0, [0, 0]) == [0, 0]


@pytest.mark.parametrize(("total", "weights"), [(-1, [1]), (1, [-1, 2]), (1, [0]), (1, [])])
def test_what_cannot_be_shared_is_refused(total, weights):
    """Nothing below zero is shared, nothing by nothing."""
    with pytest.raises(ValueError, match="cannot be shared"):
        largest_remainders(total, weights)
