"""Exact tests behind an extent."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import betabinom, binom, fisher_exact

from qcledger.findings.evidence import gather
from qcledger.findings.field import CriterionField, fields
from qcledger.findings.strength import STRICT, Family, Suspect, by_exchanging_lots, exact_p, tail_p
from qcledger.stats.homogeneity import lot_against_others
from qcledger.vocab import WhyBought
from tests.findings.made import HALF, confirming, field, only, paints


def the_field(rows) -> CriterionField:
    """Return the field of the only criterion."""
    return fields(gather(rows, only()))["froth"]


def asked(rows, family=1):
    """Return the check against maker A's half pans."""
    everyone = the_field(rows)
    suspect = Suspect("A", HALF, everyone.numbers(everyone.shelf.cell, ("A", HALF)))
    (chance,) = by_exchanging_lots(everyone, [suspect], Family(family))
    (check,) = chance.checks
    return check


def test_three_of_three_beside_none_of_six():
    """The bad lot of the demo: one of 84 ways (statistics by hand; also lot_against_others)."""
    assert exact_p(3, 3, 0, 6) == pytest.approx(1 / 84)
    assert lot_against_others([3, 0, 0], [3, 3, 3])[0] == pytest.approx(1 / 84)


counts = st.integers(0, 8).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@given(counts, counts)
def test_exact_p_is_fishers(first, second):
    """The one-sided exact test of scipy gives the same."""
    table = [[first[0], first[1] - first[0]], [second[0], second[1] - second[0]]]
    assert exact_p(*first, *second) == pytest.approx(fisher_exact(table, alternative="greater").pvalue)


@given(counts.filter(lambda one: one[1]), st.floats(0.01, 0.99), st.floats(0.01, 0.99))
def test_tail_p_of_one_lot_is_beta_binomial(count, rate, rho):
    """The tail of scipy's beta-binomial gives the same."""
    faulty, tested = count
    a, b = rate * (1 - rho) / rho, (1 - rate) * (1 - rho) / rho
    assert tail_p([count], rate, rho) == pytest.approx(betabinom.sf(faulty - 1, tested, a, b), abs=1e-9)


@given(st.lists(st.booleans(), min_size=1, max_size=8), st.floats(0.01, 0.99))
def test_tail_p_of_single_specimens_is_binomial(faulty, rate):
    """Lots of one specimen are independent whatever rho is."""
    lots = [(int(one), 1) for one in faulty]
    assert tail_p(lots, rate, 0.5) == pytest.approx(binom.sf(sum(faulty) - 1, len(faulty), rate), abs=1e-9)


def test_tail_p_counts_a_lot_once():
    """One faulty specimen in each of two lots is rarer than two of two in one of them; both by hand, rho 0.5."""
    both = 0.1 * 1.1 / 2  # a = 0.1, b = 0.9: two of two of one lot
    one_or_more = 2 * (0.1 - both) + both
    assert tail_p([(1, 2), (1, 1)], 0.1, 0.5) == pytest.approx(one_or_more * 0.1)
    assert tail_p([(2, 2), (0, 1)], 0.1, 0.5) == pytest.approx(0.1 + 0.9 * both)


def test_tail_p_of_many_specimens():
    """Thousands of specimens are no trouble."""
    a = 0.2 * 0.5 / 0.5
    assert tail_p([(900, 5000)], 0.2, 0.5) == pytest.approx(betabinom.sf(899, 5000, a, 1 - a), rel=1e-6)


def test_a_clear_maker_is_beyond_chance():
    """Eight bad lots beside forty sound ones of the same pigments leave no room for chance."""
    assert asked(paints("A", bad=5) + field()).met


def test_a_fair_maker_is_not():
    """A maker like its peers is what chance makes."""
    check = asked(paints("A", bad=5) + field(bad=5))
    assert not check.met
    assert check.found.startswith("p 1")


def test_the_family_raises_the_bar():
    """The same lots that pass alone may fail among hundreds of makers looked at."""
    rows = paints("A", bad=5, lots=("L1",), pigments=("PR101", "PY42", "PB29")) + field("BCD", lots=("L1",))
    alone, among_many = asked(rows), asked(rows, family=200)
    assert alone.met
    assert not among_many.met
    assert f"{STRICT:g}" in alone.needed


def test_only_planned_lots_enter():
    """What was bought to confirm was bought because it looked bad, and is left to its own check."""
    rows = paints("A", bad=5) + field()
    assert asked(rows + confirming("A", number=5)).found == asked(rows).found


def test_planned_leaves_out_what_was_not():
    """Lots without a planned specimen count as nothing tested; mixed ones shrink."""
    everyone = the_field(confirming("A") + paints("A", why=WhyBought.NOTE, lots=("L1",)) + paints("A", bad=4))
    assert (everyone.as_planned.counts.faulty, everyone.as_planned.counts.tested) == (8, 8)
    assert everyone.as_planned.as_planned is everyone.as_planned
    assert everyone.counts.tested == 14
