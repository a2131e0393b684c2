"""A place of a run sheet has one trial: a second one is refused with what stands there, unless it was merged."""

from dataclasses import replace

import pytest

from qcledger.errors import BadInput
from qcledger.ledger import Ledger
from qcledger.records import RunRow, Session, Specimen, Trial
from qcledger.vocab import Occasion
from tests.ledger.given import NOON, basics, graded, steady

SECOND = Trial(
    id="second", specimen="specimen", occasion=Occasion.BENCH, at=NOON, session="session", run_row="run_row"
)


@pytest.fixture
def ledger(tmp_path):
    with Ledger.create(tmp_path / "l.sqlite", letters="OV", tester="Oda Vane", sources=steady()) as ledger:
        ledger.append([*basics(), graded("o")])
        yield ledger


def test_a_second_trial_of_one_place_is_refused_with_what_stands_there(ledger):
    """Two terminals grade one place at once: the later one is told the grade of the other, and stores nothing."""
    before = ledger.closing_hashes()
    with pytest.raises(BadInput) as refused:
        ledger.append([SECOND, graded("p", 3.0, trial="second")])
    assert refused.value.line() == (
        "trial of OV 0001 (session 4) run_row: found 'tested at 2026-03-09T12:00Z: evenness 1'; "
        "allowed: one trial at a place; look again, and amend what stands there"
    )
    assert ledger.closing_hashes() == before


def test_two_trials_of_one_place_are_refused_together(ledger):
    """Both new, in one act: the second is refused, and the first is not stored without it."""
    row = RunRow(id="more", session="session", sheet="sheet", position=2, specimen="specimen", code="472")
    first = replace(SECOND, id="first", run_row="more")
    with pytest.raises(BadInput, match="no result"):
        ledger.append([row, first, replace(first, id="again")])
    assert ledger.get(RunRow, "more") is None


def test_the_same_save_again_and_an_amended_trial_are_taken(ledger):
    """A save that was not confirmed is repeated under its ids; a trial that stands may be written again."""
    (trial,) = ledger.rows(Trial)
    assert ledger.append([trial, graded("o")]) == ()
    assert len(ledger.append([replace(trial, note="the lamp was changed")])) == 1


def test_a_trial_moved_to_a_place_that_has_one_is_refused(ledger):
    """One that stood nowhere on a sheet may not come where another stands; the place left by one is free."""
    ledger.append([replace(SECOND, run_row=None)])
    with pytest.raises(BadInput, match="one trial at a place"):
        ledger.append([SECOND])
    (trial,) = ledger.rows(Trial, run_row="run_row")
    ledger.append([replace(trial, run_row=None), SECOND])
    assert [row.id for row in ledger.rows(Trial, run_row="run_row")] == ["second"]


def test_in_a_blind_session_the_refusal_names_no_specimen(ledger):
    """The message may stand beside the code of the place."""
    (session,) = ledger.rows(Session)
    ledger.append([replace(session, closed_at=None)])
    with pytest.raises(BadInput) as refused:
        ledger.append([SECOND])
    assert "OV 0001" not in refused.value.line()


def test_what_was_merged_stays_and_may_be_amended(ledger, tmp_path):
    """Each of two copies graded the place: a merge takes both, and rows that they rest on can be written again."""
    with Ledger.create(
        tmp_path / "m.sqlite", letters="OV", tester="Oda Vane", sources=steady(), daybook="other"
    ) as other:
        rows = [row for row in basics() if row.id != "trial"]
        other.append([*rows, SECOND])
        ledger.adopt(other.entries(), {})
    assert len(ledger.rows(Trial, run_row="run_row")) == 2
    (specimen,) = ledger.rows(Specimen)
    ledger.append([replace(specimen, price_minor=400)])
    (merged,) = ledger.rows(Trial, id="second")
    ledger.append([replace(merged, note="in the other room")])
    assert ledger.verify() == []
