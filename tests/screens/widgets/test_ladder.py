"""The ladder of anchors."""

from qcledger.screens.widgets.ladder import Ladder

RUNGS = {0: "5 turns or fewer", 1: "6 to 10", 3: "21 to 35"}


def test_a_chosen_grade_is_pointed_at():
    """The grade that stands has a mark that needs no colour."""
    assert Ladder(RUNGS, chosen=3).lines()[2] == (">", "3", "21 to 35")


def test_a_half_step_stands_between_its_neighbours():
    """A half grade gets a line of its own, in its place."""
    lines = Ladder(RUNGS, chosen=0.5).lines()
    assert lines[1] == (">", "0.5", "between 0 and 1")
    assert [digit for _, digit, _ in lines] == ["0", "0.5", "1", "3"]


def test_a_proposal_looks_unlike_a_grade():
    """What a reading proposes has another mark than what stands."""
    lines = Ladder(RUNGS, chosen=1, proposed=3).lines()
    assert [mark for mark, _, _ in lines] == [" ", ">", "~"]
