"""What was asked, told or decided is taken back: it counts nowhere, stands in the list, and no entry is lost."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from qcledger.bench import due, retests
from qcledger.bench.due import LooseEndKind
from qcledger.bench.public import answers, deciding, withdrawing
from qcledger.bench.public.listed import listed
from qcledger.errors import BadInput
from qcledger.ledger import Ledger
from qcledger.records import Decision, ExchangeRate, MakerAnswer, Question, ReaderNote, Specimen
from qcledger.records.finding_key import FindingKey
from qcledger.vocab import AnswerKind, DecisionKind
from tests.small import START

DAY = date(2026, 3, 9)
KEY = FindingKey("evenness", "mk", "half pan")
QUESTION = Question(id="q", maker="mk", asked_on=DAY, by="OV", findings=(KEY.text,), sentences=("3 of 3.",))
ANSWER = MakerAnswer(
    id="an", maker="mk", asked_on=DAY, asked="?", question="q", answered_on=DAY, answer="Yes.", kind=AnswerKind.AGREES
)
NOTE = ReaderNote(id="rn", maker="mk", told_on=DAY, fault="evenness")
RATE = ExchangeRate(id="xr", on=DAY, base="EUR", quote="GBP", rate=Decimal("0.850"), source="bank")
RETEST = Decision(
    id="rt", kind=DecisionKind.RETEST, subject_table=Specimen.TABLE, subject="sp00", by="OV", on=DAY, reason="damp"
)
PRIVATE = replace(RETEST, id="pr", kind=DecisionKind.HOLD_BACK, subject_table=KEY.subject_table, subject="mk")


@pytest.fixture
def ledger(small):
    with small.open(write=True) as found:
        yield found


def back(ledger, row):
    """Keep one row, take it back, and return what was said."""
    ledger.append([row])
    said = withdrawing.undo(ledger, [ledger.get(type(row), row.id)], [], "it")
    assert ledger.verify() == []
    return said


def lines(ledger):
    return {one.id: one for one in listed(ledger)}


@pytest.mark.parametrize("row", [QUESTION, NOTE, RATE, RETEST, PRIVATE], ids=lambda row: row.id)
def test_what_is_new_is_taken_back_once(ledger, row):
    """The row and its entry stay, the list says that it was taken back; twice is told."""
    assert back(ledger, row) == "taken back: it"
    assert ledger.get(type(row), row.id) is not None
    line = lines(ledger)[row.id]
    assert (line.back, line.words.startswith("taken back; ")) == (True, True)
    assert "was taken back already" in withdrawing.undo(ledger, [row], [], "it")
    before = ledger.closing_hashes()
    ledger.rebuild()
    assert (ledger.closing_hashes(), lines(ledger)[row.id]) == (before, line)


def test_what_was_taken_back_is_due_nowhere(ledger):
    """No answer is awaited, nothing is to be tested again, the finding is private no more."""
    for row in (QUESTION, RETEST, PRIVATE):
        back(ledger, row)
    assert answers.letters(ledger) == []
    assert retests.open_retests(ledger) == []
    assert deciding.kept_private(deciding.decided(ledger), KEY) is None
    assert not {LooseEndKind.ANSWER, LooseEndKind.RETEST} & {one.kind for one in due.due(ledger, START)}
    again = deciding.privacy(ledger, KEY, "after all", undo=False, on=DAY, new_id=ledger.new_id)
    ledger.append([again])
    assert deciding.kept_private(deciding.decided(ledger), KEY) == again


def test_what_undid_a_decision_is_taken_back_and_the_decision_stands_again(ledger):
    """Kept private, no longer, that taken back: it is kept private."""
    ledger.append([PRIVATE])
    undone = deciding.privacy(ledger, KEY, "it is back", undo=True, on=DAY, new_id=ledger.new_id)
    assert back(ledger, undone) == "taken back: it"
    assert deciding.kept_private(deciding.decided(ledger), KEY) == PRIVATE


def test_a_question_is_awaited_again_once_its_answer_is_taken_back(ledger):
    """A question with an answer is not taken back; a new answer is a new row."""
    ledger.append([QUESTION, ANSWER])
    assert "was answered since" in withdrawing.undo(ledger, [QUESTION], [], "it")
    assert withdrawing.undo(ledger, [ANSWER], [], "it") == "taken back: it"
    (letter,) = answers.letters(ledger)
    assert (letter.id, letter.awaited) == ("q", True)
    assert "awaited" in lines(ledger)["q"].words
    ledger.append([replace(ANSWER, id="an2")])
    (letter,) = answers.letters(ledger)
    assert letter.answer.id == "an2"


def test_an_amendment_is_written_back(ledger):
    """What stood before stands again, and the row counts; what was changed since stays as it is."""
    ledger.append([RATE])
    before = ledger.get(ExchangeRate, "xr")
    newer = replace(before, source="another bank")
    ledger.append([newer], reason="a slip")
    ledger.append([replace(newer, source="a third")], reason="again")
    assert "it was changed since" in withdrawing.undo(ledger, [newer], [before], "it")
    ledger.append([newer])
    assert withdrawing.undo(ledger, [newer], [before], "it") == "taken back: it"
    assert ledger.get(ExchangeRate, "xr") == before
    assert withdrawing.withdrawn(ledger, ExchangeRate) == frozenset()


def test_by_its_id_with_a_reason_and_only_ones_own(ledger):
    """An id of nothing, of another kind, no reason: each is refused in one line and nothing is stored."""
    ledger.append([NOTE, RETEST])
    wrong = [
        (ReaderNote.TABLE, "none", "x", withdrawing.SMALL),
        (ReaderNote.TABLE, "rn", " ", withdrawing.SMALL),
        (Decision.TABLE, "rt", "x", [DecisionKind.CORRECT]),
    ]
    for table, id_, reason, kinds in wrong:
        with pytest.raises(BadInput):
            withdrawing.take_back(ledger, table, id_, reason, DAY, kinds)
    assert not any(one.back for one in listed(ledger))
    assert withdrawing.take_back(ledger, Decision.TABLE, "rt", "not needed", DAY, [DecisionKind.RETEST]).id == "rt"
    with pytest.raises(BadInput):
        withdrawing.take_back(ledger, Decision.TABLE, "rt", "again", DAY)


def test_another_tester_takes_nothing_of_mine_back(ledger, tmp_path):
    """A merged daybook that voids my note and my decision changes nothing here."""
    ledger.append([NOTE, RETEST])
    with Ledger.create(tmp_path / "guest.sqlite", letters="TL", tester="TL", zone="Etc/UTC") as guest:
        guest.adopt(ledger.entries(), {})
        for row in (NOTE, RETEST):
            void = replace(RETEST, id=f"v{row.id}", kind=DecisionKind.VOID, subject_table=row.TABLE, subject=row.id)
            guest.append([void])
        with pytest.raises(BadInput):
            withdrawing.take_back(guest, ReaderNote.TABLE, "rn", "x", DAY)
        ledger.adopt(guest.entries(guest.daybook.id), {})
    assert not any(one.back for one in listed(ledger))
    assert [one.id for one in retests.open_retests(ledger)] == ["rt"]


def test_it_goes_with_the_ledger(ledger, small, tmp_path):
    """A copy made of the entries says the same, whatever the order in which tables are read."""
    for row in (NOTE, RATE, RETEST):
        back(ledger, row)
    with Ledger.create(tmp_path / "copy.sqlite", letters="TL", tester="TL", zone="Etc/UTC") as copy:
        copy.adopt(ledger.entries(), {})
        assert {one.id for one in listed(copy) if one.back} == {"rn", "xr", "rt"}
        assert copy.verify() == []
