"""Hidden repeats as pairs, the error they measure, and grades moved by it; the control against other sessions."""

from dataclasses import replace
from datetime import timedelta

import pytest

from qcledger.findings.control import history, shifts, within
from qcledger.findings.drift import DriftProposal, drift_of, drifts
from qcledger.findings.repeats import TESTERS_ERROR, USUAL_SCATTER, grade_error, moved, own_pairs, pairs, scatter_of
from qcledger.findings.stress import stress
from qcledger.findings.tester import measure, side_by_side
from qcledger.findings.wording_of_checks import stands_in
from qcledger.stats.apart import ToldApart
from qcledger.vocab import Extent, Role
from tests.findings.made import only, row
from tests.findings.test_stress import BAD_LOT, worry


def look(number, grade, session="S1", role=Role.SPECIMEN, minute=0, tester="OV", **more):
    """Return one grade of a specimen on a sheet."""
    base = row(grade=grade, session=session, **more)
    at = base.trial_at + timedelta(minutes=minute, days=int(session[1:]))
    trial = f"{session} {role} {number} {minute}"
    return replace(
        base, specimen=f"p{number}", sticker=f"OV {number:04}", role=role, tester=tester, trial=trial,
        observation=f"{trial} {base.criterion}", trial_at=at, at=at, session_code=session,
    )  # fmt: skip


def repeated(*grades, **more):
    """Return pairs of one sheet: a specimen's first grade and its repeat."""
    return [
        one
        for number, (first, second) in enumerate(grades)
        for one in (
            look(number, first, minute=number, **more),
            look(number, second, role=Role.REPEAT, minute=60 + number, **more),
        )
    ]


def test_a_repeat_is_held_against_the_first_look():
    """Of three looks the first and the hidden repeat make the pair; a second one of its own does not."""
    rows = [*repeated((1, 2)), look(0, 4, "S2"), look(9, 3, "S2", Role.REPEAT)]
    (pair,) = pairs(reversed(rows))
    assert (pair.first.grade, pair.second.grade, pair.shift, pair.across) == (1, 2, 1, False)


def test_void_looks_measure_nobody():
    """A void first look is passed over for the next one; a void repeat measures nobody but is still a pair."""
    first, second, third = look(0, 5), look(0, 2, "S2"), look(0, 2, "S3", Role.REPEAT)
    assert [pair.shift for pair in pairs([replace(first, void=True), second, third])] == [0]
    assert own_pairs([first, replace(third, void=True)]) == []
    assert len(pairs([first, replace(third, void=True)])) == 1


def test_another_tester_does_not_measure_this_one():
    """A guest's repeat of one's own grade says nothing about one's own scatter."""
    rows = [look(0, 1), look(0, 3, "S2", Role.REPEAT, tester="TL")]
    assert len(pairs(rows)) == 1
    assert own_pairs(rows) == []


def test_the_error_needs_ten_pairs_and_goes_either_way():
    """Nine pairs say nothing; ten with two shifts of +1 give a tenth up and a tenth down, summing to 1."""
    grades = [(2, 3), (2, 3), *[(1, 1)] * 8]
    assert grade_error(repeated(*grades[:9])) is None
    error = grade_error(repeated(*grades))
    assert error is not None
    assert {shift: share for shift, share in error.shares.items() if share} == pytest.approx(
        {-1: 0.1, 0: 0.8, 1: 0.1}
    )
    assert error.pairs == 10
    assert scatter_of(repeated(*grades)) == pytest.approx((0.2 / 2) ** 0.5)
    assert scatter_of([]) == USUAL_SCATTER


def test_moved_grades_have_the_measured_shares():
    """Over many grades the shifts are as frequent as measured; the same rows are moved the same way each time."""
    error = grade_error(repeated((2, 3), (2, 1), (2, 3), (2, 1), *[(2, 2)] * 6))
    assert error is not None
    rows = [look(number, 2.5) for number in range(2_000)]
    ((kind, _, first),) = list(moved(rows, error, 1))
    assert kind == TESTERS_ERROR
    up, down = (sum(one.grade == 2.5 + by for one in first) / 2_000 for by in (1, -1))
    # Four standard errors of a share of 0.2 at 2,000 draws: 0.036.
    assert (up, down) == pytest.approx((0.2, 0.2), abs=0.036)
    assert next(moved(rows, error, 1))[2] == first


def test_moved_grades_stay_on_the_scale_and_leave_the_rest():
    """Nothing falls below 0 or past 5, and what has no grade has none."""
    error = grade_error(repeated(*[(0, 2)] * 5, *[(2, 0)] * 5))
    assert error is not None
    rows = [look(n, grade) for n, grade in enumerate((0, 5, None) * 40)]
    for _, _, told in moved(rows, error):
        assert {one.grade for one in told} <= {0, 2, 3, 5, None}
        assert sum(one.grade is None for one in told) == 40


def test_the_error_is_among_the_stress_checks():
    """A claim that hangs on single grades falls when grades are moved far; it is said so."""
    error = grade_error(repeated(*[(0, 5)] * 10))
    assert error is not None
    rows = [replace(one, observation=f"o{n}") for n, one in enumerate(BAD_LOT)]  # how far hangs on the id
    found = stress(worry(rows, Extent.LOT), only(), moved=lambda rows: moved(rows, error))
    kinds = [check for check in found.checks if check.kind == TESTERS_ERROR]
    assert len(kinds) == 5
    assert not all(check.stands for check in kinds)
    assert "with grades moved by the tester's error, draw" in stands_in(found)


def control(session, grade, **more):
    """Return the control's look in a session."""
    return look(99, grade, session, Role.CONTROL, **more)


def test_the_control_is_held_against_the_median_of_the_others():
    """4 among sessions of 2, 2 and 3: usual 2, moved by 2; void sessions do not set what is usual."""
    rows = [control("S1", 2), control("S2", 2), control("S3", 3), control("S4", 4)]
    (shift,) = shifts(history(rows, "S4"), "S4")
    assert (shift.usual, shift.by, shift.sessions) == (2, 2, 3)
    (shift,) = shifts(history([replace(rows[0], void=True), *rows[1:]], "S4"), "S4")
    assert (shift.usual, shift.sessions) == (2.5, 2)


def test_first_and_last_on_a_sheet_are_one_look():
    """Two looks at the control of one sheet give their mean, and their own shift."""
    rows = [control("S1", 1), control("S1", 3, minute=90), control("S2", 2)]
    looks = history(rows, "S1")
    assert shifts(looks, "S1")[0].grade == 2
    assert within(looks, "S1") == [(rows[0].criterion, 1, 3)]
    assert drift_of(rows, "S1", "S1").proposal is DriftProposal.LOOK


def test_the_next_tube_of_a_lot_goes_on_and_another_lot_does_not():
    """The control is the paint and its lot; a tube of another lot begins anew."""
    rows = [
        control("S1", 2, lot="L1"),
        replace(control("S2", 2, lot="L1"), specimen="other"),
        control("S3", 4, lot="L2"),
    ]
    assert shifts(history(rows, "S2"), "S2")[0].sessions == 1
    assert shifts(history(rows, "S3"), "S3") == []


def test_one_criterion_of_one_control_is_looked_into_but_not_voided():
    """A control that moved by two grades once, with nothing to bear it out, is no proposal to void."""
    rows = [control(f"S{n}", 2) for n in range(1, 6)] + [control("S6", 4)]
    told = {one.code: one.proposal for one in drifts(rows)}
    assert told.pop("S6") is DriftProposal.LOOK
    assert set(told.values()) == {DriftProposal.KEEP}


def test_two_testers_side_by_side_share_specimens():
    """Only what both have graded counts; the shift is the second's less the first's."""
    rows = [look(0, 1), look(1, 2), look(2, 3), look(0, 2, "S2", tester="TL"), look(1, 3, "S2", tester="TL")]
    (beside,) = side_by_side(rows)
    assert (beside.one, beside.other, beside.together.grades.pairs, beside.together.grades.shift) == (
        "OV",
        "TL",
        2,
        1,
    )
    assert beside.together.alpha is None
    (criterion,) = beside.by_criterion
    assert (criterion.grades, criterion.alpha.pieces, criterion.alpha.interval) == (beside.together.grades, 2, None)
    assert side_by_side(rows[:3]) == []


def test_grades_that_are_swapped_are_not_told_apart():
    """Twelve of fourteen pieces between 2 and 3 were swapped: not told apart; under ten pairs kappa is not given."""
    (tester,) = measure(repeated(*[(2, 3), (3, 2)] * 6, (2, 2), (3, 3)))
    assert tester.neighbours[2].verdict is ToldApart.NOT_APART
    assert tester.by_criterion[0].grades.kappa_interval is not None
    (tester,) = measure(repeated(*[(2, 3)] * 9))
    assert tester.by_criterion[0].grades.kappa is None
    assert tester.together.grades.pairs == 9
