"""Session checks on grades: what they promise."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qcledger.errors import BadInput
from qcledger.stats import moved
from qcledger.stats.moved import LINE, check_sessions

SESSIONS, CRITERIA, PIECES = 8, 6, 14


def ledger(rng, lift=0.0, sick=None, lifted=(0, 1)):
    """Return the rows of a control seen in every session and of two repeats a session, each from an earlier one.

    A second grade is equal in 75 %, one off in 23 %, two off in 2 %; in session `sick` the criteria `lifted` read
    `lift` higher.
    """
    rows = []
    for session in range(SESSIONS):
        for piece in [0, *(1 + session * 2 + np.arange(2)), *(1 + (session * 2 - 2 + np.arange(2)) % (2 * SESSIONS))]:
            for criterion in range(CRITERIA):
                true = (7 * piece + 3 * criterion) % 4
                off = rng.choice([0, 1, 2], p=[0.75, 0.23, 0.02]) * rng.choice([-1, 1])
                drift = lift if session == sick and criterion in lifted else 0.0
                rows.append((np.clip(true + off + drift, 0, 5), session, criterion, piece))
    return [np.array(column) for column in zip(*rows, strict=True)]


def test_a_drifted_session_is_found_and_no_other():
    """Two of six criteria read 1.5 higher in one session: that one has moved, at any place in the row."""
    for sick in (0, 3, SESSIONS - 1):
        checks = check_sessions(*ledger(np.random.default_rng(sick), 1.5, sick))
        assert [one.session for one in checks if one.moved] == [sick]
        assert [shift.shift > 0.5 for shift in checks[sick].shifts[:2]] == [True, True]
        assert checks[sick].mean.shift > checks[sick].mean.limit * 0.5


def test_a_first_look_spares_work_and_changes_nothing(monkeypatch):
    """With the whole number of draws in the first look, and no line to spare by, every chance is the same."""
    rows = ledger(np.random.default_rng(4), 1.5, 2)
    spared = check_sessions(*rows)
    monkeypatch.setattr(moved, "FIRST_DRAWS", moved.DRAWS)
    monkeypatch.setattr(moved, "FIRST_LINE", 1.0)
    assert check_sessions(*rows) == spared


@given(
    rows=st.lists(st.lists(st.sampled_from([0, 1, 2.5, 4, np.nan]), min_size=5, max_size=5), min_size=1, max_size=6)
)
def test_the_median_of_others_leaves_out_the_value_itself(rows):
    """Each known value is held against the median of the others of its row, as one by one; alone it has none."""
    means = np.array(rows, dtype=float)
    expected = np.full(means.shape, np.nan)
    for at in zip(*np.nonzero(~np.isnan(means)), strict=True):
        others = np.delete(means[at[0]], at[1])
        if not np.isnan(others).all():
            expected[at] = np.nanmedian(others)
    assert np.array_equal(moved._median_of_others(means), expected, equal_nan=True)


def test_the_work_ends_when_it_is_no_longer_wanted():
    """Whoever hears that it goes on may end it, before anything is drawn and between two sessions."""

    class Enough(Exception):
        pass

    heard = 0

    def going_on():
        nonlocal heard
        heard += 1
        if heard == 3:
            raise Enough

    with pytest.raises(Enough):
        check_sessions(*ledger(np.random.default_rng(4)), going_on=going_on)
    assert heard == 3


def test_steady_sessions_are_seldom_accused():
    """Over 6 steady ledgers of 8 sessions at most 2 sessions are called moved; the bench has more."""
    rng = np.random.default_rng(11)
    assert sum(one.moved for _ in range(6) for one in check_sessions(*ledger(rng))) <= 2


def test_an_unsteady_hand_is_called_scattered():
    """Repeats of one session that lie three grades apart, up as often as down, scatter without a shift."""
    grades, session, criterion, piece = ledger(np.random.default_rng(3))
    wild = session == 4
    grades[wild] = np.clip(grades[wild] + np.where((piece + criterion)[wild] % 2, 3, -3), 0, 5)
    found = check_sessions(grades, session, criterion, piece)[4]
    assert found.scattered


def test_pieces_graded_twice_on_one_sheet_count_as_scatter_alone():
    """A piece seen only in one session says nothing about a shift, and its two grades are compared."""
    calm = check_sessions([2, 2, 1, 1], [0, 0, 1, 1], [0, 0, 0, 0], [0, 0, 1, 1])
    assert [(one.mean.pieces, one.moved_p_value) for one in calm] == [(0, 1.0), (0, 1.0)]
    wild = check_sessions([0, 5] * 4 + [1, 1], [0] * 8 + [1] * 2, [0] * 10, [0, 0, 1, 1, 2, 2, 3, 3, 4, 4])
    assert wild[0].scattered
    assert not wild[1].scattered


def test_nothing_to_compare_says_nothing():
    """Without a second grade of anything both chances are 1; without grades there is no session."""
    only = check_sessions([3.0], [5], [0], [0])
    assert [(one.session, one.moved_p_value, one.scattered_p_value, one.shifts) for one in only] == [
        (5, 1.0, 1.0, ())
    ]
    assert check_sessions([], [], [], []) == ()


@pytest.mark.parametrize("sick", [0, 2, 5])
def test_a_shift_is_the_distance_from_the_median_elsewhere(sick):
    """A control at 2 that reads 4 in one session of six stood 2 higher there, and nowhere else."""
    grades = [4.0 if session == sick else 2.0 for session in range(6)]
    found = check_sessions(grades, range(6), [0] * 6, [0] * 6)
    assert [one.mean.shift for one in found] == [2.0 if session == sick else 0.0 for session in range(6)]
    assert [one.mean.pieces for one in found] == [1] * 6


def test_a_piece_seen_twice_in_a_session_counts_with_its_mean():
    """Grades of 1 and 3 stand where 2 stands elsewhere; that they lie apart is scatter, and no shift."""
    found = check_sessions([2, 2, 2, 1, 3], [0, 1, 2, 3, 3], [0] * 5, [0] * 5)
    assert [one.mean.shift for one in found] == [0.0] * 4
    assert found[3].scattered_p_value < found[0].scattered_p_value


def test_numbers_are_but_names():
    """Other numbers in the same order, for sessions, criteria and pieces, change only what things are called."""
    grades, session, criterion, piece = ledger(np.random.default_rng(12), 1.5, 3)
    one = check_sessions(grades, session, criterion, piece)
    other = check_sessions(grades, 10 * session + 1, criterion + 5, 3 * piece)
    assert [found.session for found in other] == [10 * found.session + 1 for found in one]
    assert [found.moved_p_value for found in other] == [found.moved_p_value for found in one]
    assert [shift.criterion for shift in other[0].shifts] == [5 + shift.criterion for shift in one[0].shifts]
    assert [found.mean.shift for found in other] == [found.mean.shift for found in one]


@settings(max_examples=2, deadline=None)
@given(seed=st.integers(0, 1000), lift=st.sampled_from([0.0, 1.0]))
def test_chances_are_chances_and_repeat(seed, lift):
    """Chances lie in 0 to 1, limits are not negative, the same rows give the same answer, and so do mirrored ones."""
    rows = ledger(np.random.default_rng(seed), lift, 2)
    checks = check_sessions(*rows)
    assert checks == check_sessions(*rows)
    for one in checks:
        assert all(0 < shift.p_value <= 1 and shift.limit >= 0 for shift in (one.mean, *one.shifts))
        assert one.moved == (one.moved_p_value <= LINE)
    mirrored = check_sessions(5 - rows[0], *rows[1:])
    assert [one.mean.shift for one in mirrored] == pytest.approx([-one.mean.shift for one in checks])
    assert [one.moved_p_value for one in mirrored] == pytest.approx([one.moved_p_value for one in checks])


@pytest.mark.parametrize(
    ("rows", "named"),
    [
        (([[1.0]], [0], [0], [0]), "grades"),
        (([1.0], [0, 1], [0], [0]), "session"),
        (([1.0], [0], [0.5], [0]), "criterion"),
        (([1.0], [0], [0], [-1]), "piece"),
    ],
)
def test_bad_rows_are_refused(rows, named):
    """The message names the argument."""
    with pytest.raises(BadInput, match=named):
        check_sessions(*rows)
