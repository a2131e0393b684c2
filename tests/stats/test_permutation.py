"""Dealing at random, counted exactly: the same chances as going through every dealing."""

from itertools import combinations, pairwise, product
from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import fisher_exact, mannwhitneyu

from qcledger.stats.permutation import GradesToGroups, LotsToGroups, SpecimensToLots, drawn_p_value

LOTS = st.lists(st.integers(1, 4).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), min_size=2, max_size=6)
PLACES = st.lists(st.integers(0, 9), min_size=2, max_size=8)


def of_lots(lots):
    """Return lots as two arrays: faulty and tested."""
    return np.array(lots, dtype=np.int64).T


def scatter(faulty, sizes):
    """Return the summed squared distances of lots from what each would hold of equal rates."""
    expected = sizes * faulty.sum() / sizes.sum()
    return float(((faulty - expected) ** 2).sum())


def every_dealing(faulty, sizes):
    """Yield each way the faulty specimens may lie in lots, and in how many dealings they lie so."""
    for dealt in product(*(range(min(size, faulty.sum()) + 1) for size in sizes)):
        if sum(dealt) == faulty.sum():
            yield np.array(dealt), np.prod([comb(int(n), y) for n, y in zip(sizes, dealt, strict=True)])


@given(lots=LOTS)
def test_specimens_dealt_to_lots_are_counted_as_if_one_by_one(lots):
    """The chance of lots as uneven is that of all dealings whose squared distances sum to as much or more."""
    faulty, sizes = of_lots(lots)
    dealer = SpecimensToLots(sizes, int(faulty.sum()))
    own, as_uneven, ways = scatter(faulty, sizes), 0, 0
    for dealt, often in every_dealing(faulty, sizes):
        ways += often
        as_uneven += often * (scatter(dealt, sizes) >= own - 1e-9)
    assert dealer.exact_p_value(dealer.score(faulty)) == pytest.approx(as_uneven / ways, rel=1e-9)
    assert ways == comb(int(sizes.sum()), int(faulty.sum()))


@given(lots=LOTS)
def test_scores_rise_with_the_scatter_of_lots(lots):
    """Of two dealings the more uneven one has the higher score, and those alike have one score."""
    faulty, sizes = of_lots(lots)
    dealer = SpecimensToLots(sizes, int(faulty.sum()))
    rows = sorted((scatter(dealt, sizes), dealer.score(dealt)) for dealt, _ in every_dealing(faulty, sizes))
    for (less, low), (more, high) in pairwise(rows):
        assert (low < high) == (more - less > 1e-9)


def test_two_lots_are_the_two_sided_exact_test_of_equal_halves():
    """With two lots of one size it is Fisher's exact test, both sides: 7 and 1 of 10 each have a chance of 0.0198."""
    dealer = SpecimensToLots(np.array([10, 10]), 8)
    expected = fisher_exact([[7, 3], [1, 9]])[1]
    assert dealer.exact_p_value(dealer.score(np.array([7, 1]))) == pytest.approx(expected, rel=1e-9)
    assert expected == pytest.approx(0.0198, abs=5e-5)


def test_drawn_specimens_come_near_the_counted_chance():
    """With 20,000 dealings the drawn chance lies within four of its standard errors of the counted one."""
    sizes, faulty = np.array([6, 6, 6, 6, 4]), np.array([5, 1, 1, 0, 0])
    dealer = SpecimensToLots(sizes, 7)
    exact, drawn = (
        dealer.exact_p_value(dealer.score(faulty)),
        dealer.drawn_p_value(dealer.score(faulty), 20_000, 3),
    )
    assert drawn == pytest.approx(exact, abs=4 * (exact * (1 - exact) / 20_000) ** 0.5)
    assert drawn == dealer.drawn_p_value(dealer.score(faulty), 20_000, 3)


@given(lots=LOTS)
def test_nothing_faulty_or_all_faulty_can_be_dealt_in_one_way(lots):
    """Then every dealing is as uneven as what was seen."""
    _, sizes = of_lots(lots)
    for faulty in (np.zeros_like(sizes), sizes):
        dealer = SpecimensToLots(sizes, int(faulty.sum()))
        assert dealer.exact_p_value(dealer.score(faulty)) == pytest.approx(1.0)


@given(lots=LOTS, data=st.data())
def test_lots_dealt_to_groups_are_counted_as_if_one_by_one(lots, data):
    """The chance of rates as far apart is the share of choices of lots whose rates lie as far apart."""
    faulty, tested = of_lots(lots)
    chosen = data.draw(st.integers(1, len(lots) - 1))
    dealer = LotsToGroups(faulty, tested, chosen)

    def apart(which):
        some, total = faulty[list(which)].sum(), tested[list(which)].sum()
        return dealer.score(int(some), int(total))

    own = apart(range(chosen))
    every = [apart(which) for which in combinations(range(len(lots)), chosen)]
    expected = np.mean(np.array(every) >= own)
    assert dealer.exact_p_value(own) == pytest.approx(expected, rel=1e-9)


@given(lots=LOTS, data=st.data())
def test_the_score_of_groups_is_the_difference_of_their_rates(lots, data):
    """It does not matter which of the two groups is called the first."""
    faulty, tested = of_lots(lots)
    chosen = data.draw(st.integers(1, len(lots) - 1))
    first, rest = slice(0, chosen), slice(chosen, None)
    sums = [(int(faulty[part].sum()), int(tested[part].sum())) for part in (first, rest)]
    rates = [some / total for some, total in sums]
    dealer = LotsToGroups(faulty, tested, chosen)
    assert dealer.score(*sums[0]) == pytest.approx(abs(rates[0] - rates[1]))
    assert dealer.score(*sums[0]) == LotsToGroups(faulty, tested, len(lots) - chosen).score(*sums[1])


def test_drawn_lots_come_near_the_counted_chance():
    """With 20,000 dealings the drawn chance lies within four of its standard errors of the counted one."""
    faulty, tested = np.array([3, 2, 2, 0, 0, 1, 0, 0]), np.array([3, 3, 4, 3, 4, 3, 3, 2])
    dealer = LotsToGroups(faulty, tested, 3)
    own = dealer.score(7, 10)
    exact, drawn = dealer.exact_p_value(own), dealer.drawn_p_value(own, 20_000, 5)
    assert drawn == pytest.approx(exact, abs=4 * (exact * (1 - exact) / 20_000) ** 0.5)


def test_work_says_how_large_the_tables_are():
    """More specimens, or more lots chosen, take more additions; what is counted decides nothing else."""
    few, many = (SpecimensToLots(np.array([4] * lots), 4).work for lots in (3, 12))
    assert 0 < few < many
    lots = np.array([2, 1, 1, 0, 0, 0]), np.array([3] * 6)
    assert 0 < LotsToGroups(*lots, 1).work < LotsToGroups(*lots, 3).work


@given(places=PLACES, data=st.data())
def test_grades_dealt_to_groups_are_counted_as_if_one_by_one(places, data):
    """The chance of a sum as far from the middle is the share of choices whose sums lie as far."""
    chosen = data.draw(st.integers(1, len(places) - 1))
    own = sum(places[:chosen])
    middle = sum(places) * chosen
    far = abs(own * len(places) - middle)
    every = [abs(sum(one) * len(places) - middle) >= far for one in combinations(places, chosen)]
    found = GradesToGroups(np.array(places), chosen).exact_p_value(own)
    assert found == pytest.approx(np.mean(every), rel=1e-9)


def test_places_without_ties_are_the_rank_sum_test():
    """Ranks 1, 2 and 4 of nine: as scipy's exact Mann-Whitney test of the same grades, both sides."""
    grades, peers = [1.0, 2.0, 4.0], [3.0, 5.0, 6.0, 7.0, 8.0, 9.0]
    expected = mannwhitneyu(grades, peers, method="exact").pvalue
    assert GradesToGroups(np.arange(1, 10), 3).exact_p_value(7) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("far", "draws", "expected"), [(0, 99, 0.01), (99, 99, 1.0), (4, 999, 0.005)])
def test_what_was_seen_counts_among_the_draws(far, draws, expected):
    """So a drawn chance is never 0, and 1 where every draw lies as far out (Phipson & Smyth 2010, from memory)."""
    assert drawn_p_value(far, draws) == pytest.approx(expected)
