"""Everything said outside and decided, and labels put right, as one list: what, when, about whom, in words."""

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Final

from qcledger.bench import naming
from qcledger.bench.labelled import put_right
from qcledger.bench.mending import differ_text
from qcledger.bench.public.answers import Letter, letters
from qcledger.bench.public.makers import name_of
from qcledger.bench.public.rates import rate_words
from qcledger.bench.public.withdrawing import withdrawn
from qcledger.ledger.identity import who_is_who
from qcledger.records import (
    TABLES,
    Decision,
    ExchangeRate,
    LabelVersion,
    MakerAnswer,
    Paint,
    Question,
    ReaderNote,
    RubricText,
    Session,
    Specimen,
)
from qcledger.records.finding_key import FindingKey
from qcledger.text import one_line
from qcledger.vocab import TAKEN_BACK, AnswerKind, DecisionKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

WORDS: Final[Mapping[DecisionKind, str]] = {
    DecisionKind.HOLD_BACK: "kept private",
    DecisionKind.PUBLISH: "no longer kept private",
    DecisionKind.RETEST: "to be tested again",
    DecisionKind.CORRECT: "corrected",
}
"""What the small decisions are called."""


@dataclass(frozen=True, slots=True)
class ListedLine:
    """One line of the list.

    Parameters
    ----------
    table, id
        The row.
    on
        Its day.
    kind
        What it is, in a word or two.
    about
        Whom or what it is about.
    words
        What it says, on one line.
    whose
        The other tester it is of; empty for one's own.
    back
        Whether it was taken back: it stands in the list alone.
    """

    table: str
    id: str
    on: date
    kind: str
    about: str
    words: str
    whose: str = ""
    back: bool = False

    def line(self) -> str:
        """Return it as one line of plain text."""
        whose = f" (of {self.whose})" if self.whose else ""
        return f"{self.on}  {self.kind}: {self.about}{whose}; {self.words}"


def listed(ledger: "Ledger", tables: Collection[str] = (), kinds: Collection[DecisionKind] = ()) -> list[ListedLine]:
    """Return the list, the newest first.

    Parameters
    ----------
    ledger
        An open one.
    tables
        Only of these tables; none for all.
    kinds
        Of decisions only these; none for all small ones.
    """
    found = [
        replace(one, back=True, words=f"{TAKEN_BACK}; {one.words}") if one.id in gone else one
        for table, read in _READ.items()
        if not tables or table in tables
        for gone in (withdrawn(ledger, TABLES[table]),)
        for one in read(ledger)
        if not kinds or one.kind in {WORDS[kind] for kind in kinds}
    ]
    return sorted(found, key=lambda one: (one.on, one.id), reverse=True)


def title_of(ledger: "Ledger", decision: Decision) -> str:
    """Return what a decision is about, in words."""
    known = who_is_who(ledger)
    key = FindingKey.decided(decision.subject_table, decision.subject)
    if key is not None:
        return f"{name_of(ledger, known, key.maker)}, {key.format}, {criterion_title(ledger, key.criterion)}"
    if decision.subject_table in (Question.TABLE, MakerAnswer.TABLE):
        asked = ledger.get(Question, decision.subject)
        row = asked or ledger.get(MakerAnswer, decision.subject)
        return f"{decision.subject_table.replace('_', ' ')} of {name_of(ledger, known, row.maker)}" if row else ""
    specimen = ledger.get(Specimen, decision.subject) if decision.subject_table == Specimen.TABLE else None
    session = ledger.get(Session, decision.subject) if decision.subject_table == Session.TABLE else None
    if specimen is not None:
        return specimen.sticker
    if session is not None:
        return f"session {session.code}"
    if decision.subject_table in ("maker", "paint", "range"):
        own = _own_name(ledger, decision)
        return f"{decision.subject_table} {known.name(decision.subject_table, decision.subject, own)}"
    return decision.subject_table


def _own_name(ledger: "Ledger", decision: Decision) -> str:
    return str(getattr(ledger.get(TABLES[decision.subject_table], decision.subject), "name", decision.subject_table))


def criterion_title(ledger: "Ledger", key: str) -> str:
    """Return the title of a criterion by its key, as the newest rubric that has it calls it."""
    for kept in reversed(ledger.rows(RubricText)):
        if (found := ledger.rubric(kept.id).criteria.get(key)) is not None:
            return found.title
    return key


def answer_words(one: MakerAnswer) -> str:
    """Return what an answer comes to: its kind, lot and day of a change, then its words for print."""
    lot = f" (lot {one.lot})" if one.lot else ""
    since = f" {one.changed_on}" if one.changed_on else ""
    kind = f"{one.kind or ''}{since}{lot}".strip()
    said = f'"{one_line(one.answer)}"' if one.answer else ""
    return ": ".join(part for part in (kind, said) if part) or "nothing for print"


def _questions(ledger: "Ledger") -> Iterator[ListedLine]:
    known = who_is_who(ledger)
    stands = {one.question.id: one for one in letters(ledger, mine=False) if one.question is not None}
    for row in ledger.rows(Question):
        asked, maker = len(row.findings), name_of(ledger, known, row.maker)
        until = f", answer by {row.answer_by}" if row.answer_by else ""
        state = f"; {_state(stands[row.id])}" if row.id in stands else ""
        words = f"{asked} finding{'' if asked == 1 else 's'}{until}{state}"
        whose = ledger.made_by(Question, row.id)
        yield ListedLine(Question.TABLE, row.id, row.asked_on, "asked", maker, words, whose)


def _state(one: Letter) -> str:
    if one.awaited or one.answer is None:
        return "awaited"
    return "no answer" if one.answer.kind is AnswerKind.NONE else f"answered {one.answer.answered_on}"


def _answers(ledger: "Ledger") -> Iterator[ListedLine]:
    known = who_is_who(ledger)
    for row in ledger.rows(MakerAnswer):
        awaited, maker = Letter("", None, row).awaited, name_of(ledger, known, row.maker)
        kind = "awaited" if awaited else "no answer" if row.kind is AnswerKind.NONE else "answer"
        words = one_line(row.asked) if awaited else answer_words(row)
        whose = ledger.made_by(MakerAnswer, row.id)
        yield ListedLine(MakerAnswer.TABLE, row.id, row.answered_on or row.asked_on, kind, maker, words, whose)


def _notes(ledger: "Ledger") -> Iterator[ListedLine]:
    known = who_is_who(ledger)
    for one in ledger.rows(ReaderNote):
        about = ", ".join(filter(None, (name_of(ledger, known, one.maker), one.format)))
        told = (criterion_title(ledger, one.fault), one.lot_code and f"lot {one.lot_code}", one_line(one.note))
        words = "; ".join(filter(None, told))
        whose = ledger.made_by(ReaderNote, one.id)
        yield ListedLine(ReaderNote.TABLE, one.id, one.told_on, "reader's note", about, words, whose)


def _rates(ledger: "Ledger") -> Iterator[ListedLine]:
    for one in ledger.rows(ExchangeRate):
        whose = ledger.made_by(ExchangeRate, one.id)
        yield ListedLine(
            ExchangeRate.TABLE, one.id, one.on, "rate", f"{one.base}/{one.quote}", rate_words(one), whose
        )


def _labels(ledger: "Ledger") -> Iterator[ListedLine]:
    known = who_is_who(ledger)
    for one in put_right(ledger):
        told = "; ".join(map(differ_text, one.change.differ))
        words = f"{told}; because: {one_line(one.change.reason) or 'no reason was given'}; {one.change.by}"
        whose = ledger.made_by(LabelVersion, one.label.id)
        title = naming.title(known, naming.find(known, Paint.TABLE, one.label.paint, "paint").one)
        yield ListedLine(LabelVersion.TABLE, one.label.id, one.change.day, "label", title, words, whose)


def _decisions(ledger: "Ledger") -> Iterator[ListedLine]:
    for one in ledger.rows(Decision):
        if one.kind in WORDS:
            how = f"; {one_line(one.how)}" if one.how else ""
            whose = ledger.made_by(Decision, one.id)
            words = f"{one_line(one.reason)}{how}"
            yield ListedLine(Decision.TABLE, one.id, one.on, WORDS[one.kind], title_of(ledger, one), words, whose)


_READ: Final[Mapping[str, Callable[["Ledger"], Iterator[ListedLine]]]] = {
    Question.TABLE: _questions,
    MakerAnswer.TABLE: _answers,
    ReaderNote.TABLE: _notes,
    ExchangeRate.TABLE: _rates,
    Decision.TABLE: _decisions,
    LabelVersion.TABLE: _labels,
}
