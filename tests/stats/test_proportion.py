"""Intervals for one rate: what they promise for every count."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, binomtest

from qcledger.errors import BadInput
from qcledger.stats.proportion import (
    Interval,
    clopper_pearson,
    clopper_pearson_limits,
    upper_limit,
    wilson,
    wilson_limits,
)

METHODS = [wilson, clopper_pearson]
COUNTS = st.integers(0, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
LEVELS = st.floats(0.5, 0.999)


@pytest.mark.parametrize("method", METHODS)
@given(counts=COUNTS, level=LEVELS)
def test_interval_holds_its_estimate_and_stays_between_0_and_1(method, counts, level):
    """Whatever the counts, 0 <= low <= rate <= high <= 1."""
    faulty, tested = counts
    found = method(faulty, tested, level)
    assert 0 <= found.low <= found.high <= 1
    assert tested == 0 or found.low <= faulty / tested + 1e-12
    assert tested == 0 or found.high >= faulty / tested - 1e-12


@pytest.mark.parametrize("method", METHODS)
@given(counts=COUNTS, level=LEVELS)
def test_calling_faulty_sound_mirrors_the_interval(method, counts, level):
    """The interval for the sound share is one minus the interval for the faulty share."""
    faulty, tested = counts
    one, other = method(faulty, tested, level), method(tested - faulty, tested, level)
    assert one.low == pytest.approx(1 - other.high, abs=1e-9)
    assert one.high == pytest.approx(1 - other.low, abs=1e-9)


@pytest.mark.parametrize("method", METHODS)
@given(counts=COUNTS, times=st.integers(2, 9))
def test_more_of_the_same_narrows_the_interval(method, counts, times):
    """The same rate seen in more units leaves less room."""
    faulty, tested = counts
    if not tested:
        return
    few, many = method(faulty, tested), method(faulty * times, tested * times)
    assert many.high - many.low < few.high - few.low


@pytest.mark.parametrize("method", METHODS)
@given(counts=COUNTS)
def test_higher_level_is_wider(method, counts):
    """A 99 % interval holds the 80 % interval."""
    narrow, wide = method(*counts, 0.80), method(*counts, 0.99)
    assert wide.low <= narrow.low
    assert wide.high >= narrow.high


@given(counts=COUNTS.filter(lambda pair: pair[1] > 0), level=LEVELS)
def test_agrees_with_scipy(counts, level):
    """Both methods are those of scipy `binomtest`, at every level."""
    for ours, theirs in [(wilson, "wilson"), (clopper_pearson, "exact")]:
        expected = binomtest(*counts).proportion_ci(level, method=theirs)
        found = ours(*counts, level)
        assert (found.low, found.high) == pytest.approx((expected.low, expected.high), abs=1e-9)


@pytest.mark.parametrize("limits", [wilson_limits, clopper_pearson_limits])
@given(pairs=st.lists(COUNTS, min_size=1, max_size=20))
def test_many_at_once_are_the_same_numbers(limits, pairs):
    """The array form gives for each pair what the single form gives."""
    single = {wilson_limits: wilson, clopper_pearson_limits: clopper_pearson}[limits]
    low, high = limits(*np.array(pairs).T)
    expected = [single(*pair) for pair in pairs]
    np.testing.assert_allclose(low, [interval.low for interval in expected], rtol=0, atol=1e-12)
    np.testing.assert_allclose(high, [interval.high for interval in expected], rtol=0, atol=1e-12)


@pytest.mark.parametrize("method", METHODS)
def test_edges_are_exact(method):
    """None faulty starts at 0, nothing but faulty ends at 1, nothing tested says nothing."""
    assert method(0, 12).low == 0.0
    assert method(12, 12).high == 1.0
    assert (method(0, 0).low, method(0, 0).high) == (0.0, 1.0)
    assert 0 < method(1, 1).low < method(1, 1).high == 1.0


@pytest.mark.parametrize("rate", [0.0, 0.01, 0.08, 0.3, 0.5, 0.93])
@pytest.mark.parametrize("tested", [1, 4, 12, 60])
def test_clopper_pearson_covers(rate, tested):
    """Summed over all outcomes, the exact interval covers the true rate at least 95 times in 100."""
    outcomes = np.arange(tested + 1)
    low, high = clopper_pearson_limits(outcomes, tested)
    covered = (low <= rate) & (rate <= high)
    assert binom.pmf(outcomes, tested, rate)[covered].sum() >= 0.95 - 1e-12


@given(tested=st.integers(1, 2000), level=LEVELS)
def test_zero_of_n_in_closed_form(tested, level):
    """The rate that 0 of n still allows is 1 - (1 - level)^(1/n)."""
    assert upper_limit(0, tested, level) == pytest.approx(-np.expm1(np.log1p(-level) / tested), rel=1e-9)


@given(counts=COUNTS.filter(lambda pair: pair[0] < pair[1]), level=LEVELS)
def test_upper_limit_is_the_rate_that_makes_so_few_rare(counts, level):
    """At the limit, so few faulty units or fewer come up with probability 1 - level."""
    faulty, tested = counts
    assert binom.cdf(faulty, tested, upper_limit(faulty, tested, level)) == pytest.approx(1 - level, abs=1e-8)


def test_upper_limit_without_evidence_is_1():
    """Nothing tested, or every unit faulty, allows any rate."""
    assert upper_limit(0, 0) == 1.0
    assert upper_limit(5, 5) == 1.0


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        ((3, 2), "faulty"),
        ((-1, 2), "faulty"),
        ((1.5, 2), "faulty"),
        ((float("nan"), 2), "faulty"),
        (("one", 2), "faulty"),
        (([1, 2], [3, 4]), "faulty"),
        ((0, -1), "tested"),
        ((1, 2, 1.0), "level"),
        ((1, 2, 95), "level"),
        ((1, 2, [0.9]), "level"),
    ],
)
@pytest.mark.parametrize("method", [*METHODS, upper_limit])
def test_bad_arguments_are_named(method, arguments, named):
    """A count or level out of range is refused by its name, with what is allowed."""
    with pytest.raises(BadInput, match=f"^{named}: found .*; allowed: "):
        method(*arguments)


def test_shapes_that_do_not_fit_are_refused():
    """Arrays of counts must pair up."""
    with pytest.raises(BadInput, match=r"^faulty: "):
        wilson_limits([1, 2], [3, 4, 5])


def test_interval_holds_its_ends():
    """An interval includes its ends and nothing beyond."""
    interval = Interval(0.2, 0.4, 0.95, "Wilson")
    assert interval.holds(0.2)
    assert interval.holds(0.4)
    assert not interval.holds(0.41)
