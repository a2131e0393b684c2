"""What was seen becomes an observation, and a slip is amended, never erased."""

from datetime import UTC, datetime

import pytest

from qcledger.bench.result import Pencil, Result, amend, half_step, observe, result_of, take_back
from qcledger.errors import BadInput
from qcledger.vocab import TAKEN_BACK, Censored, StageName
from tests.small import ten

CRITERIA = ten().criteria
PENCIL = Pencil(id="o1", tester="OV", at=datetime(2026, 3, 9, tzinfo=UTC))


def seen(key="edge", **kwargs):
    return observe(
        Result(**kwargs), trial="t", criterion=CRITERIA[key], rubric="r", stage=StageName.WET, pencil=PENCIL
    )


def test_a_grade_becomes_an_observation():
    """Everything that is known is in the record: who, when, stage, rubric."""
    made = seen(grade=3.0)
    assert (made.grade, made.criterion, made.stage, made.tester, made.rubric) == (3.0, "edge", "wet", "OV", "r")


@pytest.mark.parametrize(
    ("key", "result", "found"),
    [
        ("edge", {"grade": 7.0}, "grade 7"),
        ("rough", {"grade": 2.0}, "grade 2"),
        ("edge", {"grade": 2.5}, "grade 2.5"),
        ("shine", {"choice": "dull"}, "choice dull"),
        ("turns", {"reading": 61.0}, "reading 61"),
    ],
)
def test_what_the_criterion_does_not_offer_is_refused(key, result, found):
    """A grade 7, or a 2 where only 0, 1, 3, 5 are offered, is named in one line and makes no record."""
    with pytest.raises(BadInput, match=found):
        seen(key, **result)


def test_an_amendment_points_at_what_it_supersedes_and_says_why():
    """Trial, criterion, rubric and stage stay; a reason is needed."""
    older = seen(grade=3.0)
    newer = amend(older, Result(grade=4.0), criterion=CRITERIA["edge"], reason="looked again", pencil=PENCIL)
    assert (newer.supersedes, newer.reason, newer.grade, newer.trial) == ("o1", "looked again", 4.0, "t")
    with pytest.raises(BadInput, match="reason"):
        amend(older, Result(grade=4.0), criterion=CRITERIA["edge"], reason="", pencil=PENCIL)


def test_taking_back_a_first_grade_leaves_nothing_standing():
    """The amendment says that it was taken back, and its result counts as open."""
    gone = take_back(seen(grade=3.0), None, criterion=CRITERIA["edge"], pencil=PENCIL)
    assert (gone.grade, gone.not_testable, gone.supersedes) == (None, TAKEN_BACK, "o1")
    assert result_of(gone).is_open


def test_taking_back_a_second_grade_restores_the_first():
    """What stood before stands again, reading and note with it."""
    first = seen("turns", grade=3.0, reading=23.0, note="stiff brush")
    second = amend(first, Result(grade=4.0), criterion=CRITERIA["turns"], reason="slip", pencil=PENCIL)
    back = take_back(second, first, criterion=CRITERIA["turns"], pencil=PENCIL)
    assert result_of(back) == result_of(first)


def test_half_steps_go_up_and_down_again():
    """+ makes 3 a 3.5 and 3.5 a 3; past the last grade and without half steps it is refused."""
    assert half_step(Result(grade=3.0), CRITERIA["veil"]).grade == 3.5
    assert half_step(Result(grade=3.5), CRITERIA["veil"]).grade == 3.0
    for key, grade, allowed in (("veil", 5.0, "half steps up to 5"), ("edge", 3.0, "whole grades only")):
        with pytest.raises(BadInput, match=allowed):
            half_step(Result(grade=grade), CRITERIA[key])
    with pytest.raises(BadInput, match="a digit first"):
        half_step(Result(), CRITERIA["veil"])


def test_not_testable_is_a_result():
    """It is recorded with its reason and is not open."""
    made = seen(not_testable="tube was solid")
    assert not result_of(made).is_open
    assert result_of(seen("turns", reading=60.0, censored=Censored.ABOVE)).reading == 60.0
