"""Grades side by side: what the comparison promises."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import brunnermunzel, mannwhitneyu

from qcledger.errors import BadInput
from qcledger.stats.ordinal import ENOUGH, superiority

GRADE = st.sampled_from([0, 0.5, 1, 2, 3, 4, 5])
FEW = st.lists(GRADE, min_size=1, max_size=6)
MANY = st.lists(GRADE, min_size=ENOUGH, max_size=25)


def rate(ours, peers):
    """Return P(grade > peer's) + P(tie) / 2 by going through the pairs."""
    pairs = np.subtract.outer(np.array(ours), np.array(peers))
    return np.mean((pairs > 0) + 0.5 * (pairs == 0))


@given(ours=FEW | MANY, peers=FEW | MANY)
def test_probability_counts_pairs_and_lies_in_its_interval(ours, peers):
    """The probability is the share of pairs won, ties half, and its interval holds it."""
    found = superiority(ours, peers)
    assert found.probability == pytest.approx(rate(ours, peers))
    assert 0 <= found.low <= found.probability <= found.high <= 1
    assert 0 <= found.p_value <= 1


@given(ours=FEW | MANY, peers=FEW | MANY)
def test_seen_from_the_other_side(ours, peers):
    """Exchanging the groups mirrors probability and interval, turns the sign, and keeps the p-value."""
    one, other = superiority(ours, peers), superiority(peers, ours)
    assert one.probability == pytest.approx(1 - other.probability)
    assert (one.low, one.high) == pytest.approx((1 - other.high, 1 - other.low), abs=1e-9)
    assert one.statistic == pytest.approx(-other.statistic, abs=1e-9)
    assert one.p_value == pytest.approx(other.p_value, abs=1e-9)


@given(ours=FEW | MANY, peers=FEW | MANY)
def test_only_the_order_of_grades_matters(ours, peers):
    """Stretching the scale changes nothing; turning it over mirrors the comparison."""
    one = superiority(ours, peers)
    assert superiority(np.array(ours) ** 3 * 7 - 2, np.array(peers) ** 3 * 7 - 2) == one
    assert superiority(-np.array(ours), -np.array(peers)).probability == pytest.approx(1 - one.probability)


@given(ours=MANY, peers=MANY)
def test_large_groups_agree_with_scipy(ours, peers):
    """Statistic and p-value are those of scipy `brunnermunzel`, wherever it has an answer."""
    found = superiority(ours, peers)
    if found.method == "Brunner-Munzel":
        expected = brunnermunzel(peers, ours)
        assert found.statistic == pytest.approx(expected.statistic, abs=1e-7)
        assert found.p_value == pytest.approx(expected.pvalue, abs=1e-7)


@given(ours=FEW, peers=FEW)
@settings(max_examples=60)
def test_small_groups_count_every_dealing(ours, peers):
    """The p-value is the share of all dealings of these grades that lie at least as far from one half."""
    every, size = np.array(ours + peers), len(ours)
    observed, as_far = abs(rate(ours, peers) - 0.5), []
    for chosen in combinations(range(len(every)), size):
        inside = np.isin(np.arange(len(every)), chosen)
        as_far.append(abs(rate(every[inside], every[~inside]) - 0.5) >= observed - 1e-12)
    assert superiority(ours, peers).p_value == pytest.approx(np.mean(as_far))


@pytest.mark.parametrize(("ours", "peers"), [(3, 4), (12, 15), (1, 9), (30, 2)])
def test_groups_that_do_not_overlap(ours, peers):
    """All above all peers: probability 1, an interval that stops short of certainty, scipy's exact p-value."""
    found = superiority(np.arange(ours) + 100, np.arange(peers))
    exact = mannwhitneyu(np.arange(ours) + 100, np.arange(peers), method="exact")
    assert (found.probability, found.high) == (1, 1)
    assert 0 < found.low < 1
    assert found.p_value == pytest.approx(exact.pvalue)
    assert found.df == np.inf


def test_more_grades_narrow_the_interval():
    """The same grades seen twice as often leave less room, whichever method is at work."""
    for times in (1, 2, 4):
        few, many = (superiority([2, 3, 3, 5] * k, [1, 2, 2, 3] * k) for k in (times, 2 * times))
        assert many.high - many.low < few.high - few.low


def test_all_tied():
    """Grades that are all the same tell nothing apart, in small groups and large."""
    for size in (1, 3, 12):
        found = superiority([2] * size, [2] * size)
        assert (found.probability, found.p_value, found.statistic) == (0.5, 1, 0)
        assert 0 < found.low < 0.5 < found.high < 1


@pytest.mark.parametrize(("ours", "peers"), [([], [1, 2]), ([1, 2], []), ([], [])])
def test_no_grades_say_nothing(ours, peers):
    """Without grades on a side: one half, 0 to 1, p-value 1."""
    found = superiority(ours, peers)
    assert (found.probability, found.low, found.high, found.p_value) == (0.5, 0, 1, 1)


@pytest.mark.parametrize("share", [0.5, 0.75, 0.9])
def test_small_sample_interval_covers(share):
    """In 600 simulated pairs of 6 against 5 normal samples the interval holds the truth at least 93 times in 100."""
    from scipy.special import ndtri

    generator = np.random.default_rng(20261125)
    shift = np.sqrt(2) * ndtri(share)
    held = 0
    for _ in range(600):
        found = superiority(generator.normal(shift, 1, 6), generator.normal(0, 1, 5))
        held += found.low <= share <= found.high
    assert held / 600 >= 0.93


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (([1, "a"], [1]), "grades"),
        (([1], [float("nan")]), "peer_grades"),
        (([[1]], [1]), "grades"),
        ((1, [1]), "grades"),
        (([1], [1], 0.0), "level"),
    ],
)
def test_bad_arguments_are_named(arguments, named):
    """Grades that are no numbers in a row, or a level out of range, are refused by name."""
    with pytest.raises(BadInput, match=f"^{named}: found .*; allowed: "):
        superiority(*arguments)
