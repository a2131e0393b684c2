"""The order of a sheet's stages and their times, out of one rubric or several."""

from datetime import timedelta

from qcledger.bench import stages
from qcledger.rubric import parse
from tests.pens import TEXT, pens
from tests.small import ten


def test_stages_of_several_rubrics_come_by_their_times():
    """Whichever rubric is named first, what is due later comes later; each stage comes once."""
    for rubrics in ([ten(), pens()], [pens(), ten()]):
        assert stages.in_order(rubrics) == ("wet", "dry", "after 24 h", "after a week")
        assert stages.due(rubrics)["after a week"] == timedelta(days=7)


def test_a_stage_without_a_time_stays_behind_the_one_in_front_of_it():
    """The order of the file holds, also before the time of another stage; such a stage is due at no hour."""
    own = parse(TEXT.replace("  - wet\n", "  - wet\n  - zoned\n  - aired\n"), "own.yaml")
    assert stages.in_order([own]) == ("wet", "zoned", "aired", "after a week")
    assert stages.due([own]).keys() == {"wet", "after a week"}


def test_without_a_rubric_the_stages_are_the_usual_ones():
    """Wet, dry, after 24 h, each due as ever."""
    assert stages.in_order([]) == ("wet", "dry", "after 24 h")
    assert stages.due([]) == stages.USUAL_DUE
    assert [after.total_seconds() / 3600 for after in stages.USUAL_DUE.values()] == [0, 4, 24]


def test_other_names_come_last():
    """A stage that no rubric of the comparison has is still there."""
    assert stages.arranged({"aired", "dry", "wet"}, ("wet", "after a week", "dry")) == ("wet", "dry", "aired")
