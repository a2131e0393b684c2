"""Drift within a session and from session to session: what the numbers promise."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import kendalltau

from qcledger.errors import BadInput
from qcledger.stats import trend
from qcledger.stats.trend import between_sessions, within_session

PAIRS = st.lists(st.tuples(st.integers(1, 20), st.integers(-3, 3)), min_size=1, max_size=8)
VALUES = st.lists(st.integers(-50, 50), min_size=3, max_size=9).map(lambda row: [value / 10 for value in row])


@given(pairs=PAIRS)
def test_signs_are_changed_in_every_way(pairs):
    """The chance is the share of all changes of signs whose slope is as strong, counted one by one."""
    places, apart = np.array(pairs).T
    found = within_session(places, apart)
    pull = places * apart
    every = [abs(np.dot(signs, pull)) >= abs(pull.sum()) for signs in product((-1, 1), repeat=len(pull))]
    assert found.p_value == pytest.approx(np.mean(every))
    assert found.size == len(pairs)


@given(pairs=PAIRS)
def test_the_slope_is_that_of_least_squares_through_nothing(pairs):
    """No other slope leaves smaller squares."""
    places, apart = np.array(pairs, dtype=float).T
    slope = within_session(places, apart).slope

    def left(at):
        return ((apart - at * places) ** 2).sum()

    assert left(slope) <= min(left(slope - 0.01), left(slope + 0.01))
    assert slope == pytest.approx(np.linalg.lstsq(places[:, None], apart, rcond=None)[0][0], abs=1e-12)


@given(pairs=PAIRS, factor=st.sampled_from([-1.0, 2.0, 0.5]))
def test_a_slope_grows_with_the_differences_and_the_chance_stays(pairs, factor):
    """Differences twice as large, or of the other sign, are a slope twice as large, or of the other sign."""
    places, apart = np.array(pairs, dtype=float).T
    one, other = within_session(places, apart), within_session(places, factor * apart)
    assert other.slope == pytest.approx(factor * one.slope)
    assert other.p_value == pytest.approx(one.p_value)


def test_many_pairs_are_drawn_and_come_near_the_count(monkeypatch):
    """Past the number that is counted the chance is drawn, the same for one seed, and near the counted one."""
    rng = np.random.default_rng(2)
    places, apart = rng.integers(1, 12, 11), rng.integers(-2, 3, 11) + 0.25
    counted = within_session(places, apart).p_value
    monkeypatch.setattr(trend, "EXACT", 5)
    drawn = within_session(places, apart, seed=1).p_value
    assert drawn == within_session(places, apart, seed=1).p_value
    assert drawn == pytest.approx(counted, abs=4 * (counted * (1 - counted) / trend.DRAWS) ** 0.5 + 1 / trend.DRAWS)


def test_differences_that_all_point_up_are_found():
    """Eight pieces, each graded higher the second time: 2 of 256 changes of signs are as strong."""
    found = within_session([3] * 8, [1] * 8)
    assert (found.slope, found.p_value) == pytest.approx((1 / 3, 2 / 256))


@pytest.mark.parametrize("apart", [[], [0, 0, 0]])
def test_no_difference_says_nothing(apart):
    """Without pairs, or with pairs that are all alike, there is no drift to speak of."""
    found = within_session([1] * len(apart), apart)
    assert (found.size, found.slope, found.p_value) == (len(apart), 0.0, 1.0)


@given(values=VALUES)
def test_the_slope_over_sessions_is_the_median_of_all_slopes(values):
    """Of each two sessions, as Theil and Sen have it; the chance is that of Kendall's tau."""
    found = between_sessions(values)
    if len(set(values)) == 1:
        assert (found.slope, found.p_value) == (0.0, 1.0)
        return
    slopes = [(values[j] - values[i]) / (j - i) for i in range(len(values)) for j in range(i + 1, len(values))]
    assert found.slope == pytest.approx(np.median(slopes))
    assert found.p_value == pytest.approx(kendalltau(range(len(values)), values).pvalue)


@given(values=VALUES)
def test_sessions_the_other_way_round_drift_the_other_way(values):
    """The same values in the reverse order have the opposite slope and the same chance."""
    one, other = between_sessions(values), between_sessions(values[::-1])
    assert other.slope == pytest.approx(-one.slope)
    assert other.p_value == pytest.approx(one.p_value)


def test_one_strange_session_hardly_moves_the_slope():
    """A control that rises by a tenth a session is told so, whatever one of eleven sessions says."""
    values = [0.1 * session for session in range(11)]
    values[5] = 40.0
    assert between_sessions(values).slope == pytest.approx(0.1, abs=0.01)


def test_five_rising_sessions_have_the_exact_chance():
    """All ten pairs of five sessions rise: 2 of the 120 orders are as strict (Kendall 1938, from memory)."""
    assert between_sessions([1, 2, 3, 4, 5]).p_value == pytest.approx(2 / 120)


@pytest.mark.parametrize("values", [[], [1.0], [1.0, 2.0]])
def test_two_sessions_are_no_drift(values):
    """Two values always lie on a line."""
    found = between_sessions(values)
    assert (found.size, found.slope, found.p_value) == (len(values), 0.0, 1.0)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: within_session([0, 1], [1, 1]), "places"),
        (lambda: within_session([-2, 1], [1, 1]), "places"),
        (lambda: within_session([1, 2], [1, float("nan")]), "second|differences"),
        (lambda: within_session([1, 2], [1]), "second|differences"),
        (lambda: between_sessions([[1, 2], [3, 4]]), "values"),
        (lambda: between_sessions(["a", "b", "c"]), "values"),
    ],
)
def test_bad_rows_are_named(call, named):
    """A place before the first, a missing number, rows that do not fit."""
    with pytest.raises(BadInput, match=f"^({named}): found .*; allowed: "):
        call()
