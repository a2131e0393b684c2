"""Questions to makers: which findings, in which sentences, to be answered by which day."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Final

from qcledger import figures
from qcledger.bench import typed
from qcledger.bench.public.makers import maker_called
from qcledger.errors import bad
from qcledger.records import MakerAnswer, Question, Record
from qcledger.settings import Settings
from qcledger.text import clean, one_line

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

LONGEST: Final = 2000
"""Most characters of one sentence in the record; a longer one is parted where a sentence of it ends."""

CAUTION: Final = (
    "Say what was seen, never a motive or a cause. This is no legal advice: take local advice before you print it; "
    "what may hurt somebody goes to maker, seller and authority first."
)
"""Stands where a question to a maker is written."""


@dataclass(frozen=True, slots=True)
class AskableFinding:
    """A finding that a maker may be asked about.

    Parameters
    ----------
    key
        The finding, as `FindingKey.text`.
    title
        Format and criterion, in words.
    sentence
        What may be printed about it as it stands now.
    """

    key: str
    title: str
    sentence: str


@dataclass(frozen=True, slots=True)
class AskingOffer:
    """A maker, and what it may be asked about."""

    maker: str
    name: str
    findings: tuple[AskableFinding, ...]


def chosen(text: str, where: str, offered: Sequence[AskableFinding]) -> tuple[AskableFinding, ...]:
    """Return the findings that a text picks by their numbers, as in ``1, 3``; all for an empty text or ``all``."""
    if one_line(text).casefold() in ("", "all"):
        return tuple(offered)
    numbers = typed.parts(text)
    found = {one: figures.as_numbered(one, offered) for one in numbers}
    if wrong := [one for one, asked in found.items() if asked is None]:
        raise bad(where, wrong[0], f"all, or numbers from 1 to {len(offered)}, as in 1, 2")
    return tuple(asked for asked in found.values() if asked is not None)


def sentences(asked: Sequence[AskableFinding]) -> tuple[str, ...]:
    """Return the sentences of findings word for word, each in parts that the record holds."""
    return tuple(part for one in asked for part in _parted(one.sentence))


def _parted(text: str) -> list[str]:
    parts = []
    while len(text) > LONGEST:
        end = max(text.rfind(". ", 0, LONGEST) + 1, 0) or LONGEST
        parts.append(text[:end].strip())
        text = text[end:].strip()
    return [*parts, text] if text else parts


def amend_question(
    ledger: "Ledger", values: Mapping[str, str], question: Question, today: date, settings: Settings
) -> Question:
    """Return a kept question with what a form says of it in place; its sentences and findings are as they were sent.

    Parameters
    ----------
    ledger
        Where makers and answers are looked up.
    values
        What was typed: ``maker``, ``asked_on``, ``answer_by``; an empty ``answer_by`` names no day.
    question
        As it stands.
    today, settings
        For the days.

    Raises
    ------
    BadInput
        With each field that cannot be read, for a maker that is not known, for a day after the one an answer came, or
        for another maker where an answer is kept.
    """
    form, order = typed.FormReader(values), settings.dates
    maker = form.must("maker", lambda text, where: maker_called(ledger, text, where), default=None)
    asked_on = form.must("asked_on", lambda text, where: figures.past_day(text, where, today, order), default=today)
    answer_by = form.read("answer_by", lambda text, where: _later(text, where, order, asked_on), default=None)
    form.done()
    assert maker is not None
    same = question.maker in maker.members
    for answer in ledger.rows(MakerAnswer, question=question.id):
        if not same and (answer.answered_on is not None or answer.kind is not None):
            raise bad("maker", values["maker"], "the maker whose answer is kept; amend that first")
        if answer.answered_on is not None and answer.answered_on < asked_on:
            raise bad("asked_on", str(asked_on), f"a day until {answer.answered_on}, when the answer came")
    return replace(question, maker=question.maker if same else maker.id, asked_on=asked_on, answer_by=answer_by)


def amended_rows(ledger: "Ledger", before: Question, after: Question) -> list[Record]:
    """Return a question as amended, with the answers to it, which tell whom and when it was asked as well."""
    own = [one for one in ledger.rows(MakerAnswer, question=before.id) if not ledger.made_by(MakerAnswer, one.id)]
    return [after, *(replace(one, maker=after.maker, asked_on=after.asked_on) for one in own)]


def _later(text: str, where: str, order: str, asked_on: date) -> date:
    found = figures.day(text, where, order)
    if found <= asked_on:
        raise bad(where, text, f"a day after {asked_on}, when it was asked")
    return found


def read_question(
    values: Mapping[str, str],
    offer: AskingOffer,
    today: date,
    settings: Settings,
    *,
    by: str,
    new_id: Callable[[], str],
) -> Question:
    """Return the question that a form says.

    Parameters
    ----------
    values
        What was typed: ``findings``, ``asked_on``, ``answer_by``, ``note``.
    offer
        The maker and what it may be asked about.
    today, settings
        For the days.
    by, new_id
        Who asks, and what makes the id.

    Raises
    ------
    BadInput
        With each field that cannot be read.
    """
    form, order = typed.FormReader(values), settings.dates
    asked = form.must("findings", lambda text, where: chosen(text, where, offer.findings), default=())
    asked_on = form.read("asked_on", lambda text, where: figures.past_day(text, where, today, order), default=today)
    usual = asked_on + timedelta(days=settings.answer_days)
    answer_by = form.read("answer_by", lambda text, where: _later(text, where, order, asked_on), default=usual)
    form.done()
    return Question(
        id=new_id(),
        maker=offer.maker,
        asked_on=asked_on,
        by=by,
        answer_by=answer_by,
        findings=tuple(one.key for one in asked),
        sentences=sentences(asked),
        note=clean(form.text("note")),
    )
