"""Charts and drift of a control: what they promise."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import kendalltau

from qcledger.errors import BadInput
from qcledger.stats.control_chart import LEAST, Rule, broken, deviation_of, ewma, individuals
from qcledger.stats.trend import between_sessions, within_session

VALUES = st.lists(st.floats(0, 100, allow_subnormal=False), min_size=LEAST + 1, max_size=15)


def test_a_session_does_not_widen_its_own_limits():
    """One of nine readings far out is beyond limits drawn from the other eight, and no other is."""
    values = [10.1, 9.8, 10.3, 10.0, 9.9, 10.2, 13.5, 10.1, 9.7]
    chart = individuals(values)
    assert chart is not None
    assert [i for i, point in enumerate(chart.values) if point.broke] == [6]
    assert [i for i, point in enumerate(chart.ranges, 1) if point.broke] == [6, 7]


def test_a_baseline_sets_the_limits():
    """Only marked sessions move limits; one outside is held to wider limits than one inside."""
    marked = np.array([True] * 6 + [False] * 2)
    one, other = (individuals([5, 6, 5, 4, 5, 6, 5, last], marked) for last in (5, 50))
    assert one is not None
    assert other is not None
    assert one.values[0] == other.values[0]
    assert one.values[6].high > one.values[0].high
    assert other.values[7].broke == (Rule.BEYOND,)


def test_too_few_sessions_draw_no_limits():
    """Five values leave four to judge each by, which is too few; six are enough."""
    assert individuals([1, 2, 1, 2, 1]) is None
    assert individuals([1, 2, 1, 2, 1, 2]) is not None


def test_a_step_of_the_scale_is_no_alarm():
    """Values written in whole units that never moved allow one unit, and cry out at four."""
    for last, broke in ((6, ()), (9, (Rule.BEYOND,))):
        chart = individuals([5] * 8 + [last], step=1.0)
        assert chart is not None
        assert chart.values[-1].broke == broke


def test_each_rule_by_hand():
    """A point breaks a rule where the count is complete, on one side, and the point itself lies in the zone."""
    assert broken([3.1, 2.9], [Rule.BEYOND]) == ((Rule.BEYOND,), ())
    assert broken([2.1, -2.1, 2.1, 0], [Rule.TWO_OF_THREE]) == ((), (), (Rule.TWO_OF_THREE,), ())
    assert [bool(one) for one in broken([1.1, 1.1, 0, 1.1, 1.1, 0.5], [Rule.FOUR_OF_FIVE])] == [False] * 4 + [
        True,
        False,
    ]
    assert [bool(one) for one in broken([-0.1] * 9, [Rule.EIGHT])] == [False] * 7 + [True] * 2


@settings(max_examples=30, deadline=None)
@given(values=VALUES, unit=st.sampled_from([0.5, 4.0]))
def test_charts_do_not_know_units(values, unit):
    """Limits hold the centre, and another unit scales every point and breaks the same rules."""
    chart, scaled = individuals(values, step=0.5), individuals(np.array(values) * unit, step=0.5 * unit)
    assert chart is not None
    assert scaled is not None
    for one, other in zip(chart.values, scaled.values, strict=True):
        assert one.low < one.centre < one.high
        assert (other.low, other.high) == pytest.approx((one.low * unit, one.high * unit), abs=1e-9)


def test_ewma_finds_a_drift_that_no_single_value_shows():
    """Values 1.2 deviations high stay inside three deviations, but their average passes its limit."""
    points = ewma([1.2] * 15, 0.0, 1.0)
    assert not points[0].broke
    assert points[-1].broke == (Rule.BEYOND,)
    assert all(one.high <= other.high for one, other in pairwise(points))


def test_slow_drift_hardly_widens_the_deviation():
    """A steady climb of a tenth a session has moving ranges of a tenth."""
    assert deviation_of(np.arange(10) / 10) == pytest.approx(0.1 * np.pi**0.5 / 2)
    assert deviation_of([4.0]) == 0
    assert deviation_of([4, 4], step=0.5) == 0.25


def test_drift_within_a_session():
    """Second looks that rise with the places between give their slope; balanced signs give none."""
    found = within_session([5, 10, 8, 6, 9, 12], [0.5, 1.0, 0.8, 0.6, 0.9, 1.2])
    assert found.slope == pytest.approx(0.1)
    assert found.p_value == pytest.approx(2 / 2**6)
    assert within_session([5, 5], [1, -1]).p_value == 1
    assert within_session([5, 9], [0, 0]) == within_session([3, 3], [0, 0])
    many = within_session(np.arange(1, 21), np.tile([1, -1], 10))
    assert many.p_value > 0.5


@given(st.lists(st.integers(-3, 3), min_size=1, max_size=10))
def test_a_drift_turned_round_is_as_strong(differences):
    """Exchanging the looks turns the slope and keeps the chance, which lies above 0 and at most at 1."""
    places = np.arange(5, 5 + len(differences))
    one, other = within_session(places, differences), within_session(places, -np.array(differences))
    assert one.slope == pytest.approx(-other.slope)
    assert one.p_value == pytest.approx(other.p_value)
    assert 0 < one.p_value <= 1


def test_drift_between_sessions():
    """The slope is the median of slopes, which one wild session does not move; the chance is Kendall's."""
    values = [1.0, 1.1, 1.2, 9.0, 1.4, 1.5, 1.6]
    found = between_sessions(values)
    assert found.slope == pytest.approx(0.1)
    assert found.p_value == pytest.approx(kendalltau(range(7), values).pvalue)
    assert between_sessions([2, 2, 2]).p_value == 1
    assert between_sessions([1, 2]).p_value == 1


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: individuals([[1.0]]), "values"),
        (lambda: individuals([1.0, 2.0], [True]), "baseline"),
        (lambda: individuals([1.0, 2.0], [1, 0]), "baseline"),
        (lambda: ewma([1.0], 0, 0), "deviation"),
        (lambda: ewma([1.0], 0, 1, weight=1.5), "weight"),
        (lambda: within_session([0], [1]), "places"),
        (lambda: between_sessions([[1]]), "values"),
    ],
)
def test_bad_arguments_are_named(call, named):
    """The message names the argument."""
    with pytest.raises(BadInput, match=named):
        call()
