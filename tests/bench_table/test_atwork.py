"""What keys mean at work: digits grade and move on, undo takes back, a failed save leaves the sheet as on disk."""

from datetime import UTC, datetime
from itertools import count

import pytest

from qcledger.bench import sheets
from qcledger.bench.atwork import AtWork
from qcledger.bench.runsheet import SheetSquare, Walk
from qcledger.errors import BadInput
from qcledger.records import Observation
from qcledger.vocab import TAKEN_BACK, Censored
from tests.small import Small


@pytest.fixture
def work(small: Small) -> AtWork:
    with small.open() as ledger:
        sheet = sheets.load(ledger, "se")
    ids = count()
    return AtWork(
        sheet,
        tester="OV",
        now=lambda: datetime(2026, 3, 9, 10, 0, tzinfo=UTC),
        new_id=lambda: f"new-{next(ids)}",
    )


def grades(work):
    return [seen.grade for seen in work.sheet.seen.values()]


def test_digits_grade_one_criterion_after_the_other(work):
    """After a digit the place is settled, and the next digit belongs to the next criterion."""
    work.digit(3)
    assert work.here == SheetSquare(0, "turns")
    assert work.settled
    work.digit(1)
    assert work.here == SheetSquare(0, "spread")
    assert grades(work) == [3.0, 1.0]


def test_at_the_end_of_a_specimen_a_digit_waits_for_enter(work):
    """The specimen has to be changed by hand first; nothing is graded twice by the way."""
    work.go(SheetSquare(0, "smell"))
    work.digit(0)
    with pytest.raises(BadInput, match="Enter for the next specimen"):
        work.digit(0)
    assert len(work.sheet.seen) == 1
    assert work.next_group()
    assert work.here == SheetSquare(1, "turns")


def test_going_back_and_pressing_a_digit_amends(work):
    """A digit at a place that was graded before supersedes it with a reason."""
    work.digit(3)
    work.digit(1)
    work.move(-1)
    amended = work.digit(4).observation
    assert (amended.grade, amended.reason) == (4.0, "regraded at the bench")
    assert amended.supersedes == "new-0"


def test_a_choice_is_made_by_its_number(work):
    """Digits count the choices from 1; other numbers are refused."""
    work.go(SheetSquare(0, "shine"))
    for number in (0, 4):
        with pytest.raises(BadInput, match="1 to 3"):
            work.digit(number)
    assert work.digit(2).observation.choice == "satin"


def test_a_refused_grade_changes_nothing(work):
    """A 2 where 0, 1, 3 and 5 are offered leaves the place open and unsettled."""
    work.go(SheetSquare(0, "rough"))
    with pytest.raises(BadInput, match="grade 2"):
        work.digit(2)
    assert not work.settled
    assert work.sheet.is_open(work.here)


def test_a_reading_proposes_its_grade_and_goes_with_whichever_is_given(work):
    """23 turns propose 3; Enter takes it, a digit takes another grade and keeps the reading."""
    assert work.read(23, Censored.EXACT) == 3.0
    accepted = work.accept()
    assert accepted is not None
    assert (accepted.observation.grade, accepted.observation.reading) == (3.0, 23)
    work.go(SheetSquare(1, "turns"))
    assert work.read(60, Censored.ABOVE) == 5.0
    other = work.digit(4).observation
    assert (other.grade, other.reading, other.censored) == (4.0, 60, "above")
    assert work.accept() is None


def test_a_reading_the_criterion_does_not_take_is_refused(work):
    """No reading where there is none, and none beyond the stop."""
    with pytest.raises(BadInput, match="reading 61"):
        work.read(61, Censored.EXACT)
    work.go(SheetSquare(0, "edge"))
    with pytest.raises(BadInput, match="no reading"):
        work.read(3, Censored.EXACT)
    assert work.pending is None


def test_a_reading_without_limits_waits_for_its_digit(work):
    """A count that fixes no grade proposes none and goes with the digit."""
    work.go(SheetSquare(0, "bubbles"))
    assert work.read(7, Censored.EXACT) is None
    assert work.digit(2).observation.reading == 7


def test_a_note_goes_with_the_next_grade_or_amends_the_one_that_stands(work):
    """Before the grade it waits, after it it is an amendment that keeps the grade."""
    assert work.annotate("soap in the brush") is None
    first = work.digit(3).observation
    assert first.note == "soap in the brush"
    second = work.annotate("no soap after all")
    assert second is not None
    assert (second.observation.grade, second.observation.note) == (3.0, "no soap after all")
    assert second.observation.supersedes == first.id


def test_undo_takes_back_one_thing_after_the_other(work):
    """Each undo is an amendment, goes to its place, and the one before it is next."""
    work.digit(3)
    work.digit(1)
    work.move(-1)
    work.digit(4)
    assert work.undo().observation.grade == 3.0
    assert work.here == SheetSquare(0, "turns")
    assert work.undo().observation.not_testable == TAKEN_BACK
    assert work.here == SheetSquare(0, "spread")
    assert work.undo().observation.not_testable == TAKEN_BACK
    assert work.here == SheetSquare(0, "turns")
    with pytest.raises(BadInput, match="nothing done"):
        work.undo()
    assert all(work.sheet.is_open(place) for place in work.sheet.places(Walk.BY_SPECIMEN))


def test_after_undo_the_digit_belongs_to_the_place_taken_back(work):
    """The undo key and the right digit correct a slip in two presses."""
    work.digit(3)
    work.undo()
    assert work.digit(2).place == SheetSquare(0, "turns")
    assert work.sheet.result(SheetSquare(0, "turns")).grade == 2.0


def test_a_save_that_failed_shows_the_sheet_as_on_disk(work):
    """The place is open again, undo forgets what never was, and another key makes a new save."""
    on_disk = work.sheet
    failed = work.digit(3)
    work.restore(on_disk, failed)
    assert work.sheet.is_open(SheetSquare(0, "turns"))
    with pytest.raises(BadInput, match="nothing done"):
        work.undo()
    assert work.digit(3).observation.id != failed.observation.id


def test_the_same_key_tries_an_unconfirmed_save_again(work):
    """Same place, same grade: the same records under the same ids, so that nothing is doubled."""
    on_disk = work.sheet
    failed = work.digit(3)
    work.restore(on_disk, failed, confirmed=False)
    assert work.digit(3).records == failed.records
    work.restore(on_disk, failed, confirmed=False)
    assert work.digit(2).records != failed.records


def test_a_step_stays_to_be_taken_back_where_a_later_one_and_its_undoing_failed(work):
    """What was restored under a new id stands under its old one again once that was not saved."""
    first = work.digit(3)
    work.move(0)
    second = work.digit(4)
    back = work.undo()
    work.put_back((second,))
    work.put_back((back,))
    assert work.sheet.seen[first.place] == first.observation
    assert [done.made for done in work.done] == [first.observation.id]
    assert work.undo().observation.supersedes == first.observation.id


def test_half_steps_and_not_testable(work):
    """+ amends the grade that was just given; - says why there is none."""
    work.go(SheetSquare(0, "veil"))
    work.digit(3)
    assert work.half().observation.grade == 3.5
    assert work.not_testable().observation.criterion == "rough"
    assert work.sheet.result(SheetSquare(0, "rough")).not_testable == "no reason noted"


def test_walking_by_test_keeps_the_criterion(work):
    """The other walk goes on from where one is: the same test of the next specimen."""
    work.digit(3)
    assert work.turn() is Walk.BY_TEST
    work.digit(2)
    assert work.here == SheetSquare(1, "turns")
    assert isinstance(work.sheet.seen[work.here], Observation)


def test_moving_on_leaves_an_ungraded_reading_behind(work):
    """A reading belongs to the place it was taken at."""
    work.read(23, Censored.EXACT)
    work.move(1)
    assert work.proposed is None
    assert work.digit(1).observation.reading is None
