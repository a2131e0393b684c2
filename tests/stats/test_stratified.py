"""Lots compared within strata."""

from itertools import combinations, product
from math import comb

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import permutation_test

from qcledger.errors import BadInput
from qcledger.stats.stratified import STEPS, lots_above_peers


def _one(ours, theirs, stratum="s"):
    return [(stratum, True, *lot) for lot in ours] + [(stratum, False, *lot) for lot in theirs]


def _by_hand(strata):
    """Count every exchange one by one."""
    choices, seen = [], 0
    for ours, theirs in strata:
        scores = [round(STEPS * y / n) for y, n in (*ours, *theirs)]
        choices.append([sum(drawn) for drawn in combinations(scores, len(ours))])
        seen += sum(scores[: len(ours)])
    sums = [sum(one) for one in product(*choices)]
    return sum(total >= seen for total in sums) / len(sums)


def test_a_lady_tasting_tea():
    """4 of 4 cups told right have a chance of 1 in 70 (Fisher 1935, Design of Experiments, ch. II; from memory)."""
    assert lots_above_peers(_one([(1, 1)] * 4, [(0, 1)] * 4)) == pytest.approx(1 / 70)


def test_three_bad_lots_beside_six_sound():
    """Lots faulty throughout beside sound ones: one exchange in all the ways to choose them."""
    assert lots_above_peers(_one([(2, 2)] * 3, [(0, 2)] * 6)) == pytest.approx(1 / comb(9, 3))


def test_agrees_with_scipy_permutation_test():
    """In one stratum it is scipy's exact permutation test on the sum of rates."""
    ours, theirs = [(1, 2), (3, 3), (0, 1)], [(0, 2), (1, 3), (0, 1), (1, 1), (0, 4)]
    rates = [np.array([y / n for y, n in lots]) for lots in (ours, theirs)]
    wanted = permutation_test(
        rates, lambda x, _, axis: np.sum(x, axis=axis), alternative="greater", n_resamples=np.inf, vectorized=True
    )
    assert lots_above_peers(_one(ours, theirs)) == pytest.approx(wanted.pvalue)


lot = st.integers(1, 6).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
stratum = st.tuples(st.lists(lot, min_size=1, max_size=3), st.lists(lot, min_size=1, max_size=3))


@settings(max_examples=60, deadline=None)
@given(st.lists(stratum, min_size=1, max_size=2))
def test_equals_counting_by_hand(strata):
    """Every exchange counted one by one gives the same."""
    lots = [row for name, pair in enumerate(strata) for row in _one(*pair, stratum=name)]
    assert lots_above_peers(lots) == pytest.approx(_by_hand(strata))


@given(st.lists(stratum, min_size=1, max_size=2))
def test_a_sounder_lot_of_ours_never_makes_it_less_likely(strata):
    """One more sound specimen in a suspected lot never lowers the chance."""
    lots = [row for name, pair in enumerate(strata) for row in _one(*pair, stratum=name)]
    (name, mine, faulty, tested), *rest = lots
    assert lots_above_peers([(name, mine, faulty, tested + 1), *rest]) >= lots_above_peers(lots) - 1e-12


@pytest.mark.parametrize(
    "lots",
    [[], _one([], [(1, 1)]), _one([(1, 1)], []), _one([(0, 2)], [(0, 3)]), _one([(0, 0)], [(1, 1)])],
    ids=["no lots", "none of ours", "no peers", "no faults", "nothing tested"],
)
def test_nothing_to_exchange_says_nothing(lots):
    """Where nothing can be told the chance is 1."""
    assert lots_above_peers(lots) == 1


def test_hundreds_of_lots_stay_within_floats():
    """A large stratum neither overflows nor loses its chance: it is near one half when nothing differs."""
    lots = [("s", place % 2 == 0, (place // 2) % 3, 3) for place in range(400)]
    assert 0.4 < lots_above_peers(lots) < 0.6


def test_counts_out_of_range_are_refused():
    """More faulty than tested is told."""
    with pytest.raises(BadInput, match="faulty"):
        lots_above_peers([("s", True, 2, 1)])
