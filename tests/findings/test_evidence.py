"""Rows to units: what counts, what is set apart, what is missing."""

import random
from dataclasses import replace
from datetime import timedelta

import pytest

from qcledger.findings.evidence import SetAside, gather
from qcledger.rubric import Reading
from qcledger.vocab import TAKEN_BACK, Censored, Doubt, Occasion, Role, Source, WhyBought
from tests.findings.made import FROTH, criterion, only, row


def again(first, *, days=7, **changes):
    """Return another trial of the same specimen, later by `days`."""
    other = row()
    at = first.trial_at + timedelta(days=days)
    return replace(first, trial=other.trial, observation=other.observation, trial_at=at, at=at, **changes)


def test_first_valid_trial_decides():
    """A later trial, better or worse, changes nothing and is set apart."""
    first = row(grade=1)
    found = gather([again(first, grade=5), first], only())
    assert [unit.grade for unit in found.units] == [1]
    assert [left.reason for left in found.aside] == [SetAside.LATER]


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"void": True}, SetAside.VOID),
        ({"on_reference": False}, SetAside.OTHER_PAPER),
        ({"mixed": True}, SetAside.MIX),
        ({"role": Role.REPEAT}, SetAside.REPEAT),
        ({"occasion": Occasion.OLDER_NOTES}, SetAside.OLDER_NOTES),
        ({"source": Source.GIFT}, SetAside.GIFT),
    ],
)
def test_what_does_not_count_is_told_apart(change, reason):
    """An observation that does not count is kept with its reason, and no unit comes of it."""
    found = gather([row(grade=5, **change)], only())
    assert found.units == ()
    assert [(left.reason, left.unit.faulty) for left in found.aside] == [(reason, True)]


@pytest.mark.parametrize("doubt", Doubt)
def test_what_the_ledger_doubts_never_counts(doubt):
    """Neither as the first trial nor as a fault; the next valid trial of the specimen counts."""
    doubted = row(grade=5, doubt=doubt)
    found = gather([doubted, again(doubted, doubt=None, grade=0)], only())
    assert [unit.grade for unit in found.units] == [0]
    reason = SetAside.SECOND if doubt is Doubt.SECOND else SetAside.IMPOSSIBLE
    assert [(left.reason, left.unit.faulty) for left in found.aside] == [(reason, None)]
    alone = gather([doubted], only())
    assert (alone.units, list(alone.criteria)) == ((), [doubted.criterion])


def test_a_trial_after_a_void_one_counts():
    """When the first trial was in a void session, the next valid one is the specimen's."""
    void = row(grade=5, void=True)
    found = gather([void, again(void, void=False, grade=0)], only())
    assert [unit.grade for unit in found.units] == [0]
    assert [left.reason for left in found.aside] == [SetAside.VOID]


def test_a_control_counts_once():
    """A control specimen is a specimen by its first valid trial; its other trials are later ones."""
    first = row(role=Role.CONTROL)
    found = gather([first, again(first, grade=4), again(first, days=14, grade=4)], only())
    assert len(found.units) == 1
    assert [left.reason for left in found.aside] == [SetAside.LATER] * 2


def test_gifts_and_older_notes_are_counted_by_specimen():
    """A second look at a gift is a later trial, not a second gift."""
    gift = row(source=Source.GIFT, grade=5)
    found = gather([gift, again(gift)], only())
    assert [left.reason for left in found.aside] == [SetAside.GIFT, SetAside.LATER]


def test_unpacking_is_a_trial():
    """A fault seen at unpacking, before any session, is the specimen's one trial."""
    assert gather([row(session=None, grade=5)], only()).units[0].faulty


def test_not_testable_is_missing():
    """A first trial that could not be judged leaves the specimen missing, also when a later one is sound."""
    first = row(grade=None, not_testable=True)
    found = gather([first, again(first, not_testable=False, grade=0)], only())
    assert (len(found.units), len(found.missing)) == (0, 1)


@pytest.mark.parametrize("grade", [0, 5])
def test_what_was_taken_back_hides_no_later_trial(grade):
    """The first trial that still stands decides; what was taken back is told apart and is no missing result."""
    first = row(grade=None, not_testable=True, why_not=TAKEN_BACK)
    later = again(first, not_testable=False, why_not=None, grade=grade)
    found = gather([later, first, again(first, days=14, not_testable=False, why_not=None, grade=2)], only())
    assert [unit.grade for unit in found.units] == [grade]
    assert found.missing == ()
    assert sorted(left.reason for left in found.aside) == [SetAside.LATER, SetAside.TAKEN_BACK]
    alone = gather([first], only())
    assert (alone.units, alone.missing, [left.reason for left in alone.aside]) == ((), (), [SetAside.TAKEN_BACK])


def test_each_grade_is_judged_by_its_own_rubric():
    """The fault line is that of the rubric version a grade was given with."""
    strict, lenient = criterion(fault_line=2), criterion(fault_line=4)
    found = gather(
        [row(grade=3, rubric="old"), row(grade=3, rubric="new")],
        lambda rubric, _: {"old": strict, "new": lenient}[rubric],
    )
    assert [unit.faulty for unit in found.units] == [True, False]
    assert found.criteria == {"froth": lenient}


def test_at_the_fault_line_is_a_fault():
    """The line itself is past it, half a grade below is not."""
    assert [unit.faulty for unit in gather([row(grade=3), row(grade=2.5)], only()).units] == [True, False]


def test_a_reading_without_a_grade_is_graded_by_its_limits():
    """A bare reading counts with the grade it fixes, and is missing where it leaves more than one open."""
    turns = replace(FROTH, reading=Reading("turns", (5, 10, 20, 35, 60)), half_steps=False)
    rows = [
        row(grade=None, reading=reading, censored=kind)
        for reading, kind in ((23, "exact"), (60, "above"), (8, "above"))
    ]
    rows = [replace(one, censored=Censored(one.censored)) for one in rows]
    found = gather(rows, only(turns))
    assert [(unit.grade, unit.faulty) for unit in found.units] == [(3, True), (5, True)]
    assert len(found.missing) == 1


def test_a_trait_is_never_faulty():
    """Where a rubric draws no fault line nothing is judged."""
    assert [unit.faulty for unit in gather([row(grade=5)], only(criterion(fault_line=None))).units] == [None]


def test_criteria_are_counted_apart():
    """The first trial on one criterion does not stand for another."""
    first = row(grade=1)
    second = again(first, criterion="faint", grade=4)
    found = gather([first, second], only(FROTH, criterion("faint")))
    assert {(unit.row.criterion, unit.grade) for unit in found.units} == {("froth", 1), ("faint", 4)}


def test_two_observations_in_one_trial():
    """Of two current observations of one criterion in one trial, the earlier counts, in whatever order they come."""
    first = row(grade=4)
    second = replace(first, observation="later", at=first.at + timedelta(minutes=3), grade=0)
    for rows in ([first, second], [second, first]):
        found = gather(rows, only())
        assert [unit.grade for unit in found.units] == [4]
        assert [left.unit.grade for left in found.aside] == [0]


def test_order_of_rows_does_not_matter():
    """Shuffled rows give the same evidence."""
    rows = [row(grade=grade, why=why, maker=maker) for grade in (0, 3) for why in WhyBought for maker in "AB"]
    rows += [again(one, grade=5) for one in rows[::2]]
    shuffled = random.Random(1).sample(rows, len(rows))
    first, second = gather(rows, only()), gather(shuffled, only())
    assert first.units == second.units
    assert sorted(first.aside, key=repr) == sorted(second.aside, key=repr)
