"""Do faults gather in some lots: what each test promises."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import fisher_exact

from qcledger.errors import BadInput
from qcledger.stats import homogeneity
from qcledger.stats.homogeneity import (
    faults_gather,
    lot_against_others,
    lots_against_peers,
    tarone,
)

LOT = st.integers(0, 4).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
LOTS = st.lists(LOT, min_size=1, max_size=5).map(lambda lots: np.array(lots).T)
BY_LOT = [tarone, faults_gather]


def scatter(faulty, tested):
    """Return sum((y - n p)^2) times sum(n), a whole number."""
    total, some = tested.sum(), faulty.sum()
    return int(((faulty * total - tested * some) ** 2).sum())


@given(lots=LOTS.filter(lambda lots: 0 < lots[1].sum() <= 11))
@settings(max_examples=40)
def test_exact_p_value_is_that_of_going_through_every_dealing(lots):
    """Choosing the faulty specimens in every possible way gives the same p-value."""
    faulty, tested = lots
    lot_of = np.repeat(np.arange(len(tested)), tested)
    observed = scatter(faulty, tested)
    scores = [
        scatter(np.bincount(lot_of[list(chosen)], minlength=len(tested)), tested)
        for chosen in combinations(range(len(lot_of)), int(faulty.sum()))
    ]
    found = faults_gather(faulty, tested)
    assert found.method.endswith("exact")
    assert found.p_value == pytest.approx(np.mean(np.array(scores) >= observed), abs=1e-9)
    assert found.statistic == pytest.approx(observed / tested.sum() ** 2, abs=1e-9)


@given(lots=LOTS, peers=LOTS)
@settings(max_examples=40)
def test_lots_against_peers_is_that_of_going_through_every_dealing(lots, peers):
    """Choosing the first group's lots in every possible way gives the same two-sided p-value."""
    ours, theirs = lots[:, lots[1] > 0], peers[:, peers[1] > 0]
    if not ours.size or not theirs.size:
        return
    every = np.hstack([ours, theirs])

    def score(chosen):
        inside = np.isin(np.arange(every.shape[1]), chosen)
        first, rest = every[:, inside].sum(axis=1), every[:, ~inside].sum(axis=1)
        return abs(int(first[0]) * int(rest[1]) - int(rest[0]) * int(first[1])) / (int(first[1]) * int(rest[1]))

    observed = score(range(ours.shape[1]))
    scores = [score(chosen) for chosen in combinations(range(every.shape[1]), ours.shape[1])]
    found = lots_against_peers(*lots, *peers)
    assert found.p_value == pytest.approx(np.mean(np.array(scores) >= observed), abs=1e-9)
    assert abs(found.statistic) == pytest.approx(observed)


@pytest.mark.parametrize(
    "call",
    [
        lambda **options: faults_gather([2, 0, 1, 0, 3], [3, 4, 2, 4, 4], **options),
        lambda **options: lots_against_peers([2, 2], [3, 4], [0, 1, 0, 2], [4, 2, 4, 4], **options),
    ],
)
def test_drawn_chance_agrees_with_counted_chance(call, monkeypatch):
    """Twenty thousand draws come within four standard errors of the exact p-value, and repeat for the same seed."""
    exact = call()
    monkeypatch.setattr(homogeneity, "EXACT_WORK", 0)
    drawn = call(draws=20_000, seed=5)
    assert exact.method.endswith("exact")
    assert drawn.method.endswith("20000 draws")
    error = np.sqrt(exact.p_value * (1 - exact.p_value) / 20_000)
    assert abs(drawn.p_value - exact.p_value) < 4 * error
    assert drawn == call(draws=20_000, seed=5)
    assert drawn != call(draws=20_000, seed=6)


def test_large_sets_are_drawn():
    """Beyond the work allowed, chance is drawn, and the p-value is never 0."""
    found = faults_gather([20] * 5 + [0] * 25, [20] * 30, draws=99)
    assert found.method == "permutation of specimens, 99 draws"
    assert found.p_value == 1 / 100


@pytest.mark.parametrize("test", BY_LOT)
@given(lots=LOTS, order=st.randoms(use_true_random=False))
def test_order_and_empty_lots_do_not_matter(test, lots, order):
    """The same lots in another order, with an untested lot among them, give the same outcome."""
    shuffled = list(range(lots.shape[1]))
    order.shuffle(shuffled)
    one, other = test(*lots), test(*np.hstack([[[0], [0]], lots[:, shuffled]]))
    assert (one.statistic, one.p_value) == pytest.approx((other.statistic, other.p_value), abs=1e-9)
    assert 0 <= one.p_value <= 1


@pytest.mark.parametrize("test", BY_LOT)
@given(lots=LOTS)
def test_counting_the_sound_specimens_gives_the_same_outcome(test, lots):
    """Sound specimens gather in lots exactly when faulty ones do."""
    one, other = test(*lots), test(lots[1] - lots[0], lots[1])
    assert (one.statistic, one.p_value) == pytest.approx((other.statistic, other.p_value), abs=1e-9)


@pytest.mark.parametrize("test", BY_LOT)
@pytest.mark.parametrize(
    ("faulty", "tested"),
    [([], []), ([0], [0]), ([0, 0, 0], [2, 3, 4]), ([2, 3], [2, 3]), ([1, 0, 1, 0], [1, 1, 1, 1])],
)
def test_where_nothing_can_be_told_the_p_value_is_1(test, faulty, tested):
    """No lots, none or all faulty, or lots of one specimen each tell nothing about gathering."""
    assert test(faulty, tested).p_value == 1


def test_a_single_lot_tells_nothing():
    """With one lot there is nothing to compare, however many of it are faulty."""
    assert faults_gather([3], [6]).p_value == 1
    assert lot_against_others([3], [6]).tolist() == [1]
    assert lots_against_peers([3], [6], [], []).p_value == 1
    assert lots_against_peers([3], [6], [0], [0]).p_value == 1


def test_one_bad_lot_of_four():
    """Six faulty of 24, all in one of four lots: 4 ways of C(24, 6) are as far out; spread out it is no surprise."""
    assert faults_gather([6, 0, 0, 0], [6] * 4).p_value == pytest.approx(4 / 134_596)
    assert faults_gather([1, 1, 2, 2], [6] * 4).p_value == 1


@given(lots=LOTS)
def test_one_lot_against_the_others_is_fisher_one_sided(lots):
    """Each p-value is scipy's one-sided exact test of the lot against the rest."""
    faulty, tested = lots
    found = lot_against_others(faulty, tested)
    for number, p_value in enumerate(found):
        own = [faulty[number], tested[number] - faulty[number]]
        rest = [faulty.sum() - own[0], (tested - faulty).sum() - own[1]]
        assert p_value == pytest.approx(fisher_exact([own, rest], alternative="greater").pvalue, abs=1e-9)


def test_homogeneity_of_two_rows_and_columns_is_exact():
    """A 2 x 2 table needs no draws: 3 of 3 against 0 of 3 is 2 ways of C(6, 3)."""
    found = homogeneity.homogeneity([[3, 0], [0, 3]])
    assert found.p_value == pytest.approx(2 / 20)
    assert found.method == "Fisher-Freeman-Halton, exact"


def test_homogeneity_repeats_for_the_same_seed():
    """Same table and seed, same number; empty rows and columns change nothing."""
    table = np.array([[3, 1, 0], [0, 2, 3], [1, 1, 4]])
    padded = np.pad(table, 1)
    one = homogeneity.homogeneity(table, draws=500, seed=1)
    assert one == homogeneity.homogeneity(padded, draws=500, seed=1)
    assert one.method == "Fisher-Freeman-Halton, 500 draws"
    assert 0 < one.p_value < 1


@pytest.mark.parametrize("table", [[[3, 4, 1]], [[3], [4]], [[0, 0], [0, 0]], [[3, 4], [0, 0]], np.zeros((0, 3))])
def test_homogeneity_of_one_row_or_column_tells_nothing(table):
    """With fewer than two rows or columns the p-value is 1."""
    assert homogeneity.homogeneity(table).p_value == 1


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: tarone([3], [2]), "faulty_by_lot"),
        (lambda: faults_gather([1], [2, 3.5]), "tested_by_lot"),
        (lambda: faults_gather([1], [2], draws=0), "draws"),
        (lambda: faults_gather([1], [2], seed=-1), "seed"),
        (lambda: lots_against_peers([1], [2], [3], [2]), "peer_faulty_by_lot"),
        (lambda: lots_against_peers([1], [2], [1], [-2]), "peer_tested_by_lot"),
        (lambda: lot_against_others(1, 2), "faulty_by_lot"),
        (lambda: homogeneity.homogeneity([1, 2]), "table"),
        (lambda: homogeneity.homogeneity([[1, -2], [3, 4]]), "table"),
        (lambda: homogeneity.homogeneity([[1, 2], [3, 4]], draws=1.5), "draws"),
    ],
)
def test_bad_arguments_are_named(call, named):
    """An argument out of range is refused by its name."""
    with pytest.raises(BadInput, match=f"^{named}: found .*; allowed: "):
        call()
