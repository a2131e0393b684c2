"""Readings that stop at a limit: what medians and comparisons promise."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qcledger.errors import BadInput
from qcledger.stats.timed import against_peers, median

READINGS = st.lists(st.tuples(st.integers(1, 60), st.booleans()), min_size=1, max_size=15)


def test_beyond_the_limit_is_never_the_limit():
    """Three of five beyond 60: the median is not reached and lies above 60; as values of 60 they would give 60."""
    found = median([12, 20, 60, 60, 60], [False, False, True, True, True])
    assert (found.median, found.above, found.beyond) == (None, 60, 3)
    assert median([12, 20, 60, 60, 60], [False] * 5).median == 60


def test_no_readings_say_nothing():
    """Without readings there is no median, and nothing above which it lies."""
    found = median([], [])
    assert (found.readings, found.median, found.above, found.low, found.high) == (0, None, None, None, None)
    assert against_peers([], [], [5.0], [False]).p_value == 1


def test_nothing_reached_cannot_be_compared():
    """Only limits on both sides give a chance of 1."""
    assert against_peers([60, 60], [True, True], [60], [True]).p_value == 1


def test_slower_than_peers():
    """Twelve readings beyond 60 against twelve within 10 turns are far apart, and the sign says who is sooner."""
    ours, peers = ([60] * 12, [True] * 12), (list(range(1, 13)), [False] * 12)
    assert against_peers(*ours, *peers).statistic < 0
    assert against_peers(*ours, *peers).p_value < 0.001


@given(rows=READINGS)
def test_median_lies_in_its_interval_and_among_reached_readings(rows):
    """Where there is a median it was reached by some piece and its interval holds it."""
    readings, beyond = zip(*rows, strict=True)
    found = median(readings, beyond)
    assert (found.median is None) == (found.above is not None)
    if found.median is not None:
        assert found.median in [reading for reading, above in rows if not above]
        assert found.low is None or found.low <= found.median
        assert found.high is None or found.high >= found.median


@settings(max_examples=40, deadline=None)
@given(ours=READINGS, peers=READINGS, factor=st.sampled_from([0.5, 3]))
def test_only_the_order_counts_and_sides_mirror(ours, peers, factor):
    """Stretching the scale keeps statistic and chance; exchanging the sides turns the sign."""
    one, other = [np.array([row[0] for row in side], float) for side in (ours, peers)]
    above, below = [[row[1] for row in side] for side in (ours, peers)]
    found = against_peers(one, above, other, below)
    stretched = against_peers(one * factor, above, other * factor, below)
    back = against_peers(other, below, one, above)
    assert (stretched.statistic, stretched.p_value) == pytest.approx((found.statistic, found.p_value))
    assert (back.statistic, back.p_value) == pytest.approx((-found.statistic, found.p_value), abs=1e-9)
    assert 0 <= found.p_value <= 1


@pytest.mark.parametrize(
    ("readings", "beyond", "named"),
    [
        ([1, 2], [True], "readings"),
        (["> 60"], [True], "readings"),
        ([1.0], [0.5], "beyond"),
        ([[1]], [[True]], "row"),
    ],
)
def test_bad_readings_are_refused(readings, beyond, named):
    """A text such as "> 60", a row that does not fit or a mark that is neither true nor false is named."""
    with pytest.raises(BadInput, match=named):
        median(readings, beyond)
