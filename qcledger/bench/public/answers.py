"""Makers' answers: which are awaited, what came, and what a form of one says."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Final, TypeVar, cast

from qcledger import figures
from qcledger.bench import typed
from qcledger.bench.public.makers import name_of, own
from qcledger.bench.public.withdrawing import withdrawn
from qcledger.errors import bad
from qcledger.ledger.identity import who_is_who
from qcledger.records import MakerAnswer, Question
from qcledger.settings import Settings
from qcledger.text import clean
from qcledger.vocab import AnswerKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

MOST: Final = 20_000
"""Most characters of an answer."""
MOST_WORDS: Final = 150
"""Most words that a maker may have printed; they are printed uncut."""
_ASKED: Final = 20_000
Said = TypeVar("Said", Question, MakerAnswer)


@dataclass(frozen=True, slots=True)
class Letter:
    """One question to a maker with what came of it.

    Parameters
    ----------
    maker
        What the maker is called now.
    question
        What was asked; None for an answer of before questions had a row of their own.
    answer
        What came, or that nothing did; None while it is awaited.
    """

    maker: str
    question: Question | None
    answer: MakerAnswer | None

    @property
    def id(self) -> str:
        """The id by which it is spoken of: the question's, else the answer's."""
        return self.question.id if self.question else cast(MakerAnswer, self.answer).id

    @property
    def maker_id(self) -> str:
        """The id of the maker's row."""
        return (self.question or cast(MakerAnswer, self.answer)).maker

    @property
    def asked_on(self) -> date:
        """The day it was asked."""
        return (self.question or cast(MakerAnswer, self.answer)).asked_on

    @property
    def answer_by(self) -> date | None:
        """The day it is to be answered by, where one was said."""
        return self.question.answer_by if self.question else None

    @property
    def asked(self) -> str:
        """What was asked, in full."""
        if self.question is None:
            return cast(MakerAnswer, self.answer).asked
        return asked_text(self.question)

    @property
    def awaited(self) -> bool:
        """Whether neither an answer nor its absence is recorded."""
        return self.answer is None or (self.answer.answered_on is None and self.answer.kind is None)


def asked_text(question: Question) -> str:
    """Return a question in full: its note, then its sentences."""
    return "\n".join(part for part in (question.note, *question.sentences) if part)


def letters(ledger: "Ledger", *, mine: bool = True) -> list[Letter]:
    """Return this tester's questions with their answers, or those of every tester, the oldest first.

    What was taken back is left out: a question whose answer was is awaited again.
    """
    known = who_is_who(ledger)
    asked_back, told_back = withdrawn(ledger, Question), withdrawn(ledger, MakerAnswer)
    questions = [one for one in _rows(ledger, Question, mine=mine) if one.id not in asked_back]
    answers = [one for one in _rows(ledger, MakerAnswer, mine=mine) if one.id not in told_back]
    by_question = {one.question: one for one in answers if one.question}
    asked = {one.id for one in questions}
    found = [Letter(name_of(ledger, known, one.maker), one, by_question.get(one.id)) for one in questions]
    found += [Letter(name_of(ledger, known, one.maker), None, one) for one in answers if one.question not in asked]
    return sorted(found, key=lambda one: (one.asked_on, one.id))


def _rows(ledger: "Ledger", kind: type[Said], *, mine: bool) -> list[Said]:
    return cast(list[Said], own(ledger, kind) if mine else ledger.rows(kind))


def letter(ledger: "Ledger", id: str) -> Letter:  # noqa: A002 - the field's own name
    """Return the question, or the answer without one, that has an id; raises BadInput where it is gone."""
    found = next((one for one in letters(ledger) if id in (one.id, one.answer and one.answer.id)), None)
    if found is None:
        raise bad("answer", id, "a question or an answer of yours")
    return found


def days_words(one: Letter, today: date) -> str:
    """Return how long an answer is awaited, and how many days are left or over."""
    age = (today - one.asked_on).days
    ago = {0: "today", 1: "yesterday"}.get(age, f"{age} days ago")
    if one.answer_by is None:
        return f"asked {ago}, no answer yet"
    left = (one.answer_by - today).days
    days = f"{abs(left)} day{'' if abs(left) == 1 else 's'}"
    if not left:
        return f"asked {ago}, answer due today"
    return f"asked {ago}, {days} left for the answer" if left > 0 else f"asked {ago}, answer {days} over"


def read_answer(
    values: Mapping[str, str], one: Letter, today: date, settings: Settings, new_id: Callable[[], str]
) -> MakerAnswer:
    """Return the answer that a form says, in place of the one there may be.

    Parameters
    ----------
    values
        What was typed: ``received``, ``kind``, ``lot``, ``changed_on``, ``answer`` (for print, uncut), ``private``.
    one
        What it answers.
    today, settings
        For the days.
    new_id
        Makes the id of a new answer.

    Raises
    ------
    BadInput
        With each field that cannot be read, or that the kind needs.
    """
    form, order = typed.FormReader(values), settings.dates

    def received(text: str, where: str) -> date:
        found = figures.past_day(text, where, today, order)
        if found < one.asked_on:
            raise bad(where, text, f"a day from {one.asked_on} on, when it was asked")
        return found

    kind = form.must("kind", lambda text, where: typed.word(text, where, AnswerKind), default=None)
    silent = kind is AnswerKind.NONE
    answered_on = None if silent else form.must("received", received, default=None)
    lot = form.read("lot", typed.name, default=None)
    changed_on = form.read("changed_on", lambda text, where: figures.day(text, where, order), default=None)
    words = {
        "answer": form.read("answer", _for_print, default=""),
        "private": form.read("private", _words, default=""),
    }
    form.must("kind", lambda _, where: _fits(kind, where, words, lot, changed_on), default=None)
    form.done()
    if silent:
        _is_over(one, today)
    row = one.answer or MakerAnswer(
        id=new_id(),
        maker=one.maker_id,
        asked_on=one.asked_on,
        asked=one.asked[:_ASKED],
        question=one.question.id if one.question else None,
    )
    return replace(
        row,
        answered_on=answered_on,
        kind=kind,
        lot=lot,
        changed_on=changed_on,
        answer=words["answer"],
        private=words["private"],
    )


def _words(text: str, where: str) -> str:
    if len(found := clean(text)) > MOST:
        raise bad(where, f"{len(found)} characters", f"at most {MOST}")
    return found


def _for_print(text: str, where: str) -> str:
    found = _words(text, where)
    if (count := len(found.split())) > MOST_WORDS:
        allowed = f"at most {MOST_WORDS} words for print, uncut; ask the maker for fewer, keep the whole as private"
        raise bad(where, f"{count} words", allowed)
    return found


def _fits(
    kind: AnswerKind | None, where: str, words: Mapping[str, str], lot: str | None, changed_on: date | None
) -> None:
    """Refuse a kind that the other fields do not bear out."""
    if kind is AnswerKind.NONE and (any(words.values()) or lot or changed_on):
        raise bad(where, kind, "another kind, because something is typed below; no answer has no words")
    if kind is AnswerKind.WITHDRAWN and lot is None:
        raise bad("lot", "", "the lot that the maker withdrew")
    if kind is AnswerKind.CHANGED and lot is None and changed_on is None:
        raise bad("changed_on", "", "the day, or the lot, from which something was changed")
    if kind in (AnswerKind.AGREES, AnswerKind.DISPUTES, AnswerKind.OTHER) and not any(words.values()):
        raise bad("answer", "", "what the maker wrote, uncut; what is private below it")


def _is_over(one: Letter, today: date) -> None:
    if one.answer_by is None or today <= one.answer_by:
        by = f"that is {one.answer_by}" if one.answer_by else "none was named"
        raise bad("kind", AnswerKind.NONE, f"that only once the day to answer by has passed; {by}")


def silence(one: Letter, today: date, new_id: Callable[[], str]) -> MakerAnswer:
    """Return that a maker did not answer by its day; raises BadInput while that has not passed."""
    if not one.awaited:
        raise bad("answer", "one that is recorded", "a question that is still awaited")
    return read_answer({"kind": AnswerKind.NONE}, one, today, Settings(), new_id)
