"""Differences and ratios of two rates: what they promise for every pair of counts."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from qcledger.errors import BadInput
from qcledger.stats import difference
from qcledger.stats.difference import difference_hybrid, difference_score, ratio_hybrid, ratio_score

DIFFERENCES = [difference_score, difference_hybrid]
RATIOS = [ratio_score, ratio_hybrid]
GROUP = st.integers(0, 60).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
TESTED_GROUP = GROUP.filter(lambda pair: pair[1] > 0)


@pytest.mark.parametrize("method", DIFFERENCES)
@given(ours=TESTED_GROUP, peers=TESTED_GROUP)
def test_difference_holds_its_estimate(method, ours, peers):
    """The observed difference lies in the interval, and the interval between -1 and 1."""
    interval = method(*ours, *peers)
    estimate = ours[0] / ours[1] - peers[0] / peers[1]
    assert -1 - 1e-12 <= interval.low <= estimate + 1e-12
    assert estimate - 1e-12 <= interval.high <= 1 + 1e-12


@pytest.mark.parametrize("method", DIFFERENCES)
@given(ours=GROUP, peers=GROUP)
def test_difference_changes_sign_with_the_groups(method, ours, peers):
    """Seen from the peers' side the same interval stands with the opposite sign."""
    one, other = method(*ours, *peers), method(*peers, *ours)
    assert (one.low, one.high) == pytest.approx((-other.high, -other.low), abs=1e-9)


@pytest.mark.parametrize("method", DIFFERENCES)
@given(ours=GROUP, peers=GROUP)
def test_difference_changes_sign_when_faulty_means_sound(method, ours, peers):
    """Counting the sound units instead turns the interval around."""
    one = method(*ours, *peers)
    other = method(ours[1] - ours[0], ours[1], peers[1] - peers[0], peers[1])
    assert (one.low, one.high) == pytest.approx((-other.high, -other.low), abs=1e-9)


@pytest.mark.parametrize("method", RATIOS)
@given(ours=TESTED_GROUP, peers=TESTED_GROUP)
def test_ratio_holds_its_estimate(method, ours, peers):
    """The observed ratio lies in the interval, also when it is 0 or infinite."""
    interval = method(*ours, *peers)
    assert 0 <= interval.low <= interval.high
    if ours[0] or peers[0]:
        estimate = ours[0] * peers[1] / (peers[0] * ours[1]) if peers[0] else np.inf
        assert interval.low <= estimate * (1 + 1e-9)
        assert interval.high >= estimate * (1 - 1e-9)


@pytest.mark.parametrize("method", RATIOS)
@given(ours=GROUP, peers=GROUP)
def test_ratio_turns_over_with_the_groups(method, ours, peers):
    """Seen from the peers' side the limits are one over the limits."""
    one, other = method(*ours, *peers), method(*peers, *ours)
    with np.errstate(divide="ignore"):
        turned = tuple(1 / np.array([other.high, other.low]))
    assert (one.low, one.high) == pytest.approx(turned, rel=1e-7)


@pytest.mark.parametrize("method", [*DIFFERENCES, *RATIOS])
@given(ours=GROUP, peers=GROUP)
def test_higher_level_is_wider(method, ours, peers):
    """A 99 % interval holds the 80 % interval."""
    narrow, wide = method(*ours, *peers, 0.80), method(*ours, *peers, 0.99)
    assert wide.low <= narrow.low + 1e-9
    assert wide.high >= narrow.high - 1e-9


@pytest.mark.parametrize(("method", "null"), [(difference_score, 0.0), (ratio_score, 1.0)])
@given(ours=TESTED_GROUP, peers=TESTED_GROUP)
def test_score_interval_without_correction_agrees_with_pearson(method, null, ours, peers):
    """The uncorrected interval excludes equal rates exactly when Pearson's chi-square exceeds 3.8415."""
    faulty, tested = ours[0] + peers[0], ours[1] + peers[1]
    if faulty in (0, tested):
        return
    expected = tested * (ours[0] * peers[1] - peers[0] * ours[1]) ** 2
    chi_square = expected / (ours[1] * peers[1] * faulty * (tested - faulty))
    if abs(chi_square - 3.8415) > 1e-3:
        assert method(*ours, *peers, corrected=False).holds(null) == (chi_square < 3.8415)


@pytest.mark.parametrize("counts", [(7, 34, 1, 34), (0, 10, 0, 20), (9, 10, 3, 10), (5, 5, 0, 7)])
@pytest.mark.parametrize("true", [-0.4, -0.1, 0.05, 0.3])
def test_rates_under_a_fixed_difference_are_the_likeliest(counts, true):
    """The closed form finds the same rate as a search for the greatest likelihood."""
    pair = difference._Pair.of(*counts)
    found = float(difference._rate_at_difference(pair, np.array(true)))

    def surprise(rate):
        with np.errstate(divide="ignore"):
            logs = np.log([rate, 1 - rate, rate - true, 1 - rate + true])
        weights = np.array([counts[0], counts[1] - counts[0], counts[2], counts[3] - counts[2]])
        return -(weights[weights > 0] * logs[weights > 0]).sum()

    searched = minimize_scalar(surprise, bounds=(max(0, true), min(1, 1 + true)), options={"xatol": 1e-10})
    assert found == pytest.approx(searched.x, abs=1e-5)


@pytest.mark.parametrize("name", ["difference_score", "difference_hybrid", "ratio_score", "ratio_hybrid"])
def test_many_at_once_are_the_same_numbers(name):
    """The array form gives for each cell what the single form gives, edges included."""
    cells = np.array([(x, 4, y, 3) for x in range(5) for y in range(4)] + [(0, 0, 2, 5), (2, 5, 0, 0), (0, 0, 0, 0)])
    low, high = getattr(difference, f"{name}_limits")(*cells.T)
    single = [getattr(difference, name)(*map(int, cell)) for cell in cells]
    np.testing.assert_allclose(low, [interval.low for interval in single], rtol=1e-12)
    np.testing.assert_allclose(high, [interval.high for interval in single], rtol=1e-12)


@pytest.mark.parametrize("method", [*DIFFERENCES, *RATIOS])
@pytest.mark.parametrize("counts", [(0, 0, 2, 5), (2, 5, 0, 0), (0, 0, 0, 0)])
def test_an_untested_group_leaves_it_open(method, counts):
    """Nothing tested on either side: any difference, any ratio."""
    interval = method(*counts)
    assert (interval.low, interval.high) == ((-1, 1) if method in DIFFERENCES else (0, np.inf))


@pytest.mark.parametrize("method", RATIOS)
def test_ratio_edges(method):
    """None faulty leaves the ratio open, none among the peers leaves it open upwards, none here starts it at 0."""
    assert (method(0, 8, 0, 9).low, method(0, 8, 0, 9).high) == (0, np.inf)
    assert 1 < method(6, 6, 0, 9).low < method(6, 6, 0, 9).high == np.inf
    assert 0 == method(0, 9, 6, 6).low < method(0, 9, 6, 6).high < 1


@pytest.mark.parametrize("method", [*DIFFERENCES, *RATIOS])
@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        ((3, 2, 1, 2), "faulty"),
        ((1, 2, 3, 2), "peer_faulty"),
        ((1, 2, 1, 2.5), "peer_tested"),
        ((1, -2, 1, 2), "tested"),
        ((1, 2, 1, 2, 0), "level"),
        (([1, 1], 2, 1, 2), "faulty"),
    ],
)
def test_bad_arguments_are_named(method, arguments, named):
    """A count or level out of range is refused by its name."""
    with pytest.raises(BadInput, match=f"^{named}: found .*; allowed: "):
        method(*arguments)


def test_shapes_that_do_not_fit_are_refused():
    """Arrays for us and for the peers must pair up."""
    with pytest.raises(BadInput, match=r"^peer_faulty: .*one shape"):
        difference.difference_hybrid_limits([1, 2], [3, 4], [1, 2, 3], [4, 4, 4])
