"""Balanced orders: exact where nothing is asked, near the best of a search otherwise, and within their rules."""

from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qcledger.bench.chance import SeededDraws
from qcledger.bench.orders import APART, Item, OrderAsked, arrange, balance, imbalance, room_for_repeats
from qcledger.vocab import Role

FACTOR = 2.0
"""A constrained sheet is at most so many times as uneven as the best order that a long search finds."""


def items(number: int, makers: int = 5, weak: int = 0) -> tuple[Item, ...]:
    """Return specimens of some makers in two formats, the first `weak` of them weak colours."""
    return tuple(
        Item(f"s{n:02}", (f"maker {n % makers}", ("tube", "half pan")[n // makers % 2]), int(n >= weak))
        for n in range(number)
    )


CONTROL = Item("control", ("maker 0", "tube"))


@pytest.mark.parametrize(("number", "sheets"), [(4, 4), (6, 12), (5, 10), (8, 8)])
def test_sheets_that_ask_for_nothing_are_exact_squares(number, sheets):
    """Each specimen follows each other equally often and has each place equally often, whatever the seed."""
    asked = OrderAsked(items(number), sheets=sheets)
    for seed in (1, 2):
        orders = [[spot.item.specimen for spot in order] for order in arrange(asked, SeededDraws(seed))]
        follows = Counter(pair for order in orders for pair in pairwise(order))
        assert len(follows) == number * (number - 1)
        assert len(set(follows.values())) == 1
        places = Counter(pair for order in orders for pair in enumerate(order))
        assert set(places.values()) == {sheets // number}
        assert balance(asked, arrange(asked, SeededDraws(seed)), SeededDraws(9)).exact


def test_other_numbers_of_sheets_are_not_called_exact():
    """Three sheets of four specimens cannot be even, and it is said how far off they are."""
    asked = OrderAsked(items(4), sheets=3)
    found = balance(asked, arrange(asked, SeededDraws(1)), SeededDraws(2))
    assert not found.exact
    assert 0 < found.imbalance <= found.shuffled


@given(number=st.integers(1, 20), weak=st.integers(0, 20), repeats=st.integers(0, 2), seed=st.integers(0, 10**6))
@settings(max_examples=15, deadline=None)
def test_a_sheet_keeps_its_rules(number, weak, repeats, seed):
    """Control first and last, weak before strong, repeats far enough after their specimen, everyone once besides."""
    own = items(number, weak=min(weak, number))
    asked = OrderAsked(own, CONTROL, min(repeats, room_for_repeats(own)))
    (order,) = arrange(asked, SeededDraws(seed), turns=20)
    assert [spot.role for spot in order if spot.item is CONTROL] == [Role.CONTROL] * 2
    assert order[0].item is order[-1].item is CONTROL
    middle = order[1:-1]
    assert [spot.item.group for spot in middle] == sorted(spot.item.group for spot in middle)
    first = {spot.item.specimen: place for place, spot in enumerate(middle) if spot.role is Role.SPECIMEN}
    assert sorted(first) == sorted(item.specimen for item in own)
    again = [(place, spot.item.specimen) for place, spot in enumerate(middle) if spot.role is Role.REPEAT]
    assert len(again) == asked.repeats
    assert all(place - first[specimen] >= APART for place, specimen in again)


def test_imbalance_is_a_chi_square_by_hand():
    """Two makers in turn on four places: counted with a pencil.

    Pairs: A-B twice, B-A once; of 3 pairs an even mix expects 3 x 2 x 2 / (4 x 3) = 1 of A-B and of B-A and 0.5 of
    A-A and of B-B: 1 + 0 + 0.5 + 0.5 = 2. Places from the middle: A -1.5 + 0.5 = -1, B +1; each of variance
    2 x 15/12 = 2.5: 1/2.5 + 1/2.5 = 0.8. Together 2.8.
    """
    order = arrange(OrderAsked((Item("a", ("A",)),)), SeededDraws(1))[0]
    spot = order[0]
    turns = tuple(spot._replace(item=Item(f"s{n}", (name,))) for n, name in enumerate("ABAB"))
    assert imbalance([turns]) == pytest.approx(2.8)


def test_a_sheet_is_near_the_best_that_search_finds():
    """Within `FACTOR` of the best of a longer search; tests/bench/bench_orders.py prints it for more kinds."""
    asked = OrderAsked(items(10, makers=4, weak=5), CONTROL, 1)
    best = imbalance(arrange(asked, SeededDraws(11), turns=800))
    ours = arrange(asked, SeededDraws(5))
    assert imbalance(ours) <= FACTOR * best
    assert imbalance(ours) < 0.5 * balance(asked, ours, SeededDraws(3)).shuffled
