"""Repeatability and reproducibility: the same by an analysis of variance written out, and in every unit."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.errors import BadInput
from qcledger.stats.pair_weights import Prior, limits
from qcledger.stats.precision import LIMIT, precision, repeatability

READING = st.integers(1, 400).map(lambda number: number / 10)
PAIRS = st.lists(st.tuples(READING, READING), min_size=1, max_size=12).map(lambda rows: np.array(rows).T)
TESTERS = st.lists(st.lists(READING, min_size=1, max_size=5), min_size=2, max_size=5).filter(
    lambda rows: any(len(row) > 1 for row in rows)
)


@given(pairs=PAIRS)
def test_pairs_are_testers_with_two_readings(pairs):
    """The deviation within pairs is that within testers, each pair a tester's."""
    found = repeatability(*pairs)
    if pairs.shape[1] > 1:
        assert found.deviation == pytest.approx(precision(pairs.T).repeatability, abs=1e-9)
    assert found.limit == pytest.approx(LIMIT * found.deviation)
    assert found.interval.low <= found.deviation <= found.interval.high


@given(pairs=PAIRS, factor=st.sampled_from([0.1, 25.4]), moved=st.sampled_from([0.0, 5.0]))
def test_units_do_not_matter(pairs, factor, moved):
    """In other units, from another zero, everything grows with the unit; as a share nothing changes."""
    one, other = repeatability(*pairs), repeatability(*(factor * pairs + moved))
    assert other.deviation == pytest.approx(factor * one.deviation, abs=1e-9)
    assert other.interval.high == pytest.approx(factor * one.interval.high, abs=1e-8)
    one, other = repeatability(*pairs, relative=True), repeatability(*(factor * pairs), relative=True)
    assert (one.deviation, one.limit) == pytest.approx((other.deviation, other.limit), abs=1e-9)


def test_the_interval_holds_the_truth_as_often_as_it_says():
    """Of 2,000 times ten pairs of normal readings, 95 % hold the true deviation, within four standard errors."""
    rng = np.random.default_rng(8)
    pairs = rng.normal(10, 1.5, (2000, 2, 10))
    held = np.mean([repeatability(*row).interval.holds(1.5) for row in pairs])
    assert held == pytest.approx(0.95, abs=4 * (0.95 * 0.05 / 2000) ** 0.5)


def test_two_readings_seldom_differ_by_more_than_the_limit():
    """The limit of a large sample holds 95 % of differences: 2.8 deviations, as ISO 5725-6 says [from memory]."""
    rng = np.random.default_rng(9)
    first, second = rng.normal(0, 2, (2, 20_000))
    limit = repeatability(first, second).limit
    assert np.mean(np.abs(first - second) <= limit) == pytest.approx(0.952, abs=0.006)


@given(rows=TESTERS)
def test_precision_is_the_analysis_of_variance_written_out(rows):
    """Mean squares within and between testers, with the typical number of readings, as ISO 5725-2 has them."""
    found = precision(rows)
    every = np.concatenate([np.array(row) for row in rows])
    sizes = np.array([len(row) for row in rows])
    within = sum(((np.array(row) - np.mean(row)) ** 2).sum() for row in rows) / (len(every) - len(rows))
    between = sum(len(row) * (np.mean(row) - every.mean()) ** 2 for row in rows) / (len(rows) - 1)
    typical = (len(every) - (sizes**2).sum() / len(every)) / (len(rows) - 1)
    assert found.mean == pytest.approx(every.mean())
    assert found.repeatability == pytest.approx(within**0.5, abs=1e-9)
    over = within + max(0.0, (between - within) / typical)
    assert found.reproducibility == pytest.approx(over**0.5, abs=1e-9)


@given(rows=TESTERS, order=st.randoms(use_true_random=False))
def test_testers_come_in_any_order(rows, order):
    """Who is called the first makes no difference, and scatter over testers is never below that of one."""
    shuffled = list(rows)
    order.shuffle(shuffled)
    one, other = precision(rows), precision(shuffled)
    assert (one.mean, one.repeatability) == pytest.approx((other.mean, other.repeatability), abs=1e-9)
    assert one.reproducibility == pytest.approx(other.reproducibility, abs=1e-9)
    assert one.reproducibility >= one.repeatability


def test_no_pairs_say_nothing():
    """There is no deviation, no limit and no interval."""
    found = repeatability([], [])
    assert (found.pairs, found.deviation, found.limit, found.interval) == (0, None, None, None)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: repeatability([1, 2], [1]), "second"),
        (lambda: repeatability([[1, 2]], [[1, 2]]), "second"),
        (lambda: repeatability([1, float("nan")], [1, 2]), "first"),
        (lambda: repeatability([1, 0], [1, 2], relative=True), "first"),
        (lambda: repeatability([1, 2], [1, -2], relative=True), "second"),
        (lambda: repeatability([1], [1], level=0), "level"),
        (lambda: precision([[1, 2]]), "by_tester"),
        (lambda: precision([[1], [2]]), "by_tester"),
        (lambda: precision([[1, 2], []]), "by_tester"),
    ],
)
def test_bad_readings_are_named(call, named):
    """Rows that do not fit, readings that are none, too few of them."""
    with pytest.raises(BadInput, match=f"^{named}: found .*; allowed: "):
        call()


def weighted(middle, apart, level=0.9):
    """Return limits with a plain prior: grades 0 to 5, a pair one grade apart, a slip of three."""
    prior = Prior(np.arange(6.0), np.array(1.0), 9.0, 0.02, (1.0, 1.0))
    return limits(np.asarray(middle, float), np.asarray(apart, float), prior, level)


@given(rows=st.lists(st.tuples(st.integers(0, 5), st.integers(0, 2)), min_size=4, max_size=15))
def test_limits_by_random_weights_are_shares_in_order(rows):
    """Between 0 and 1, the lower first, wider at a higher level, whatever the order of the pairs."""
    middle, steps = np.array(rows, float).T
    low, high = weighted(middle, steps**2)
    lower, higher = weighted(middle, steps**2, 0.99)
    assert 0 <= lower <= low <= high <= higher <= 1
    assert weighted(middle[::-1], steps[::-1] ** 2) == pytest.approx((low, high), abs=1e-12)


def test_pairs_further_apart_have_lower_limits():
    """The same pieces, seen twice with more scatter, share less of what they show."""
    middle = np.tile(np.arange(6.0), 4)
    near, far = weighted(middle, np.zeros(24)), weighted(middle, np.full(24, 4.0))
    assert far[0] < near[0]
    assert far[1] < near[1]
    assert near[0] > 0.8
