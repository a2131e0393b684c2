"""Taking back what was asked, told or decided: an amendment is written back, what is new is voided by a decision.

Nothing is deleted: the entries stay, the list of what was asked and said shows what was taken back, and nothing else
counts it.
"""

from collections.abc import Collection, Sequence
from datetime import date
from typing import TYPE_CHECKING, Final

from qcledger.bench.public.deciding import read_reason
from qcledger.errors import bad
from qcledger.records import TABLES, Decision, ExchangeRate, MakerAnswer, Question, ReaderNote, Record
from qcledger.vocab import TAKEN_BACK, DecisionKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

CALLED: Final = {
    Question.TABLE: "a question",
    MakerAnswer.TABLE: "an answer",
    ReaderNote.TABLE: "a reader's note",
    ExchangeRate.TABLE: "a rate",
    Decision.TABLE: "a decision",
}
"""What may be taken back, by its table, and what it is called."""
SMALL: Final = (DecisionKind.HOLD_BACK, DecisionKind.PUBLISH, DecisionKind.RETEST, DecisionKind.CORRECT)
"""Decisions that may be taken back so; the others have an opposite of their own."""


def withdrawn(ledger: "Ledger", kind: type[Record]) -> frozenset[str]:
    """Return the ids of the rows of a table that their own tester took back."""
    from qcledger.ledger.queries import void_rows

    with ledger.reading() as connection:
        return void_rows(connection, kind.TABLE)


def why_not(ledger: "Ledger", row: Record) -> str:
    """Return why a row is not taken back; empty where it may be."""
    if row.id in withdrawn(ledger, type(row)):
        return "was taken back already"
    if isinstance(row, Question) and _answers(ledger, row):
        return "was answered since; take back the answer first"
    return ""


def _answers(ledger: "Ledger", question: Question) -> list[MakerAnswer]:
    gone = withdrawn(ledger, MakerAnswer)
    return [one for one in ledger.rows(MakerAnswer, question=question.id) if one.id not in gone]


def undo(ledger: "Ledger", done: Sequence[Record], before: Sequence[Record], said: str) -> str:
    """Take back what was just kept, and say what became of it.

    Parameters
    ----------
    ledger
        Open for writing.
    done
        The rows as they were kept.
    before
        Those of them that stood before, as they did.
    said
        What it was, in words.

    Returns
    -------
    What is to be said: that it was taken back, or why it stays as it is.
    """
    stood = {row.id: row for row in before}
    for row in done:
        if ledger.get(type(row), row.id) != row:
            return f"not taken back, it was changed since: {said}"
        if row.id not in stood and (refused := why_not(ledger, row)):
            return f"not taken back, it {refused}: {said}"
    back = [stood[row.id] if row.id in stood else _void(ledger, row, TAKEN_BACK, ledger.day()) for row in done]
    ledger.append(back, reason=TAKEN_BACK)
    return f"taken back: {said}"


def take_back(
    ledger: "Ledger",
    table: str,
    id: str,  # noqa: A002 - the field's own name
    reason: str,
    on: date,
    kinds: Collection[DecisionKind] = SMALL,
) -> Record:
    """Take back a question, answer, note, rate or decision of some kinds by its id, and return it.

    Raises
    ------
    BadInput
        Where there is none of one's own, it is taken back already or was answered, or no reason is given.
    """
    row = ledger.get(TABLES[table], id) or _answer_to(ledger, table, id)
    if row is None or (isinstance(row, Decision) and row.kind not in kinds):
        raise bad("--undo", id, f"the id of {CALLED[table]}, as the list has it")
    if made_by := ledger.made_by(type(row), row.id):
        raise bad("--undo", f"{CALLED[table]} of {made_by}", "one of your own; who made it alone takes it back")
    if refused := why_not(ledger, row):
        raise bad("--undo", f"{CALLED[table]} that {refused}", f"{CALLED[table]} that stands")
    ledger.append([_void(ledger, row, read_reason(reason, "--reason"), on)])
    return row


def _answer_to(ledger: "Ledger", table: str, question: str) -> MakerAnswer | None:
    """Return the one answer that stands to a question with an id, where an answer is wanted; None without a question.

    Raises
    ------
    BadInput
        When there is no answer to it that stands, or there are several.
    """
    asked = ledger.get(Question, question) if table == MakerAnswer.TABLE else None
    if asked is None:
        return None
    found = _answers(ledger, asked)
    if len(found) != 1:
        told = " or ".join(f"{one.id} ({one.answered_on or one.kind})" for one in found)
        raise bad("--undo", f"a question with {len(found) or 'no'} answers", told or "a question with one answer")
    return found[0]


def _void(ledger: "Ledger", row: Record, reason: str, on: date) -> Decision:
    return Decision(
        id=ledger.new_id(),
        kind=DecisionKind.VOID,
        subject_table=row.TABLE,
        subject=row.id,
        by=ledger.daybook.tester,
        on=on,
        reason=reason,
    )
