"""Putting right what was recorded: what stands, whose it is, and what supersedes it."""

from dataclasses import replace

import pytest

from qcledger.bench import amending
from qcledger.bench.found import find
from qcledger.bench.result import Hand, Pencil, Result
from qcledger.errors import BadInput
from qcledger.exchange import merge_folder, to_folder
from qcledger.ledger import Ledger
from qcledger.records import Observation, Session, Trial
from qcledger.report.amended import HIDDEN, cell_of, why_none
from qcledger.screens.actions import BECAUSE
from qcledger.vocab import TAKEN_BACK, Censored, Occasion
from tests.small import START, graded, small_ledger, ten


@pytest.fixture
def small(home, tmp_path):
    return graded(small_ledger(tmp_path))


def pencil(ledger):
    return Pencil(id=ledger.new_id(), tester="OV", at=START.replace(day=20))


def edge(ledger, sticker="OV 0002"):
    return amending.load(ledger, find(ledger, sticker, "edge"))


def test_a_grade_of_a_closed_session_is_amended(small):
    """Trial, criterion, rubric and stage stay; what stood before is superseded, with the reason."""
    with small.open(write=True) as ledger:
        session = ledger.get(Session, "se")
        ledger.append([replace(session, closed_at=START.replace(day=12))])
        found = edge(ledger)
        result = amending.graded(found.result, found.criterion, 1)
        made = amending.write(ledger, found.observation, result, reason="misread the scale", pencil=pencil(ledger))
        now = edge(ledger)
    assert (now.observation, now.newer) == (made, False)
    assert (made.grade, made.reason, made.supersedes) == (1.0, "misread the scale", found.observation.id)
    assert (made.trial, made.rubric, made.stage) == tuple(
        getattr(found.observation, name) for name in ("trial", "rubric", "stage")
    )


def test_amending_an_older_one_amends_what_stands(small):
    """The first grade of a place leads to the last, and it is known that another one was asked for."""
    with small.open() as ledger:
        first = min(ledger.rows(Observation, criterion="edge", grade=3.0), key=lambda seen: seen.at)
        found = amending.load(ledger, first.id)
    assert (found.newer, found.observation.grade) == (True, 4.0)


def test_the_same_save_again_adds_nothing(small):
    """A save that was not confirmed may be given again; one that comes too late is refused."""
    with small.open(write=True) as ledger:
        found, hand = edge(ledger), pencil(ledger)
        result = amending.graded(found.result, found.criterion, 1)
        first = amending.write(ledger, found.observation, result, reason="misread", pencil=hand)
        assert amending.write(ledger, found.observation, result, reason="misread", pencil=hand) == first
        with pytest.raises(BadInput, match="amended meanwhile"):
            amending.write(ledger, found.observation, result, reason="misread", pencil=pencil(ledger))
        with pytest.raises(BadInput, match="what stands already"):
            amending.write(ledger, first, result, reason="misread", pencil=pencil(ledger))


def test_another_testers_observation_is_refused_by_name(small, tmp_path):
    """One line says whose it is, and only its tester amends it."""
    with small.open() as ledger:
        to_folder(ledger, tmp_path / "folder")
    with Ledger.create(tmp_path / "guest.sqlite", letters="TL", tester="Tilo") as guest:
        merge_folder(guest, tmp_path / "folder")
        found = edge(guest)
        with pytest.raises(BadInput, match=r"an observation of OV.*only its tester amends it") as refused:
            found.check_own()
    assert len(refused.value.line().splitlines()) == 1


def test_what_should_not_be_there_is_taken_back_and_stands_again(small):
    """The amendment says why; taking it back restores grade and note, and then the one before it in turn."""
    with small.open(write=True) as ledger:
        found = edge(ledger)
        gone = amending.write(
            ledger, found.observation, amending.nothing(), reason="wrong place", pencil=pencil(ledger)
        )
        assert gone.not_testable == TAKEN_BACK
        hand = Hand("OV", lambda: START.replace(day=21), ledger.new_id)
        back = amending.write_back(ledger, gone.id, found.observation, hand, lambda row: row)
        assert back.grade == found.observation.grade
        assert amending.write_back(ledger, gone.id, found.observation, hand, lambda row: row) is None


def test_readings_choices_and_half_steps(small):
    """A reading brings the grade it proposes; a digit keeps reading and note; a choice goes by its number."""
    criteria = ten().criteria
    stood = Result(grade=2.0, reading=15.0, note="slow")
    turns = criteria["turns"]
    assert amending.read(stood, turns, 60.0, Censored.ABOVE) == Result(
        grade=5.0, reading=60.0, censored=Censored.ABOVE, note="slow"
    )
    assert amending.graded(stood, turns, 3) == replace(stood, grade=3.0)
    choice = next(one for one in criteria.values() if one.choices)
    assert amending.graded(Result(), choice, 1).choice == next(iter(choice.choices))
    with pytest.raises(BadInput, match="1 to"):
        amending.graded(Result(), choice, 9)
    with pytest.raises(BadInput):
        amending.graded(stood, turns, 9)
    assert amending.untestable(stood, "used up") == Result(not_testable="used up", note="slow")
    for words in ("", " ", TAKEN_BACK):
        with pytest.raises(BadInput, match="why it could not be tested"):
            amending.untestable(stood, words)


def test_the_counts_of_the_cell_before_and_after(small):
    """Faulty of tested specimens of maker, format and criterion; after the save they are as it was said before."""
    with small.open(write=True) as ledger:
        found = edge(ledger)
        cell, result = cell_of(ledger, found), amending.graded(found.result, found.criterion, 1)
        assert cell.preview(result) == "Trellmere, half pan, edge: 3 of 3 before, 2 of 3 after"
        away = amending.nothing()
        assert cell.preview(away) == "Trellmere, half pan, edge: 3 of 3 before, 2 of 2 after"
        amending.write(ledger, found.observation, result, reason="misread", pencil=pencil(ledger))
        after = cell_of(ledger, edge(ledger))
    assert after.as_it_stands() == "Trellmere, half pan, edge: 2 of 3 as it stands"


def test_a_blind_one_goes_by_its_code_and_counts_nowhere(home, tmp_path):
    """A sticker finds nothing of a blind sheet, its code does; no cell is named, for it would tell the maker."""
    small = graded(small_ledger(tmp_path, blind=True))
    with small.open() as ledger:
        with pytest.raises(BadInput):
            find(ledger, "OV 0002", "edge")
        with pytest.raises(BadInput, match="no sticker tells it"):
            find(ledger, "OV 0002", "edge", "S04")
        found = amending.load(ledger, find(ledger, "472", "edge", "S04"))
        assert (found.name, found.line.maker, found.line.paint) == ("472", "", "")
        assert cell_of(ledger, found) is None
    assert why_none(found) == HIDDEN


def test_several_that_fit_are_asked_back(small):
    """Tested twice on one criterion, one line tells each with its session or occasion, day and result."""
    with small.open(write=True) as ledger:
        first = edge(ledger).observation
        trial = Trial(id="again", specimen="sp01", occasion=Occasion.BENCH, at=START.replace(day=15))
        second = Observation(
            id="second", trial="again", criterion="edge", rubric=first.rubric, tester="OV", at=trial.at, grade=1.0
        )
        ledger.append([trial, second])
        with pytest.raises(BadInput, match=r"2 observations fit.*edge 3 \(S04, 2026-03-10, OV\)") as asked:
            find(ledger, "OV 0002", "edge")
        assert len(asked.value.line().splitlines()) == 1
        assert find(ledger, "OV 0002", "Edge", day="2026-03-15") == "second"
        assert find(ledger, "ov 2", "edge", "S04") == first.id
        with pytest.raises(BadInput, match="2026-03-10, 2026-03-15"):
            find(ledger, "OV 0002", "edge", day="2026-01-01")


def test_each_reason_has_its_key():
    """The keys that pages bind are those of the table."""
    assert tuple(amending.REASONS) == tuple(BECAUSE)
