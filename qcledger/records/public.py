"""What is said in public and of the record itself: notes, questions and answers, publications, cards, redactions."""

from dataclasses import dataclass
from datetime import date
from typing import Annotated, ClassVar

from annotated_types import Interval, Len

from qcledger.records.fields import (
    Amount,
    Currency,
    Digest,
    FormatName,
    Id,
    Name,
    Note,
    Record,
    Ref,
    Sentences,
    Texts,
)
from qcledger.vocab import AnswerKind


@dataclass(frozen=True, slots=True, kw_only=True)
class ReaderNote(Record):
    """What a reader says about a paint the tester has not seen; no names or addresses."""

    TABLE: ClassVar[str] = "reader_note"
    id: Id
    maker: Annotated[Id, Ref("maker")]
    told_on: date
    fault: Name
    paint: Annotated[Id, Ref("paint")] | None = None
    format: FormatName | None = None
    lot_code: Name | None = None
    seller: Name | None = None
    note: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question(Record):
    """What a maker was asked: which findings, by key, in which sentences; an answer is awaited by a day."""

    TABLE: ClassVar[str] = "question"
    id: Id
    maker: Annotated[Id, Ref("maker")]
    asked_on: date
    by: Name
    answer_by: date | None = None
    findings: Texts = ()
    sentences: Sentences = ()
    note: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MakerAnswer(Record):
    """What a maker was asked and answered.

    `answer` is what may be printed, uncut; `private` stays with the tester. `lot` and `changed_on` say from where on
    the maker changed something. `answered_on` is the day the answer was received.
    """

    TABLE: ClassVar[str] = "maker_answer"
    id: Id
    maker: Annotated[Id, Ref("maker")]
    asked_on: date
    asked: Note
    answered_on: date | None = None
    answer: Note = ""
    question: Annotated[Id, Ref("question")] | None = None
    kind: AnswerKind | None = None
    private: Note = ""
    lot: Name | None = None
    changed_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Publication(Record):
    """An edition that went public: its number, day and place, what it disclosed, and the closing hashes it covers."""

    TABLE: ClassVar[str] = "publication"
    id: Id
    number: Annotated[int, Interval(ge=1, le=9999)]
    title: Name
    on: date
    by: Name
    address: Name | None = None
    disclosed: Note = ""
    reason: Note = ""
    closing: Texts = ()
    sha256: Digest | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement(Record):
    """One thing an edition said: about which finding, how firmly, in which words; `change` since the one before."""

    TABLE: ClassVar[str] = "statement"
    id: Id
    publication: Annotated[Id, Ref("publication")]
    finding: Name
    standing: Name
    extent: Name
    sentence: Note
    maker: Annotated[Id, Ref("maker")] | None = None
    change: Name | None = None
    reason: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Card(Record):
    """A supporter's card of swatches: a number, no name, and the specimens it holds, in their places' order."""

    TABLE: ClassVar[str] = "card"
    id: Id
    code: Name
    planned_on: date
    made_on: date | None = None
    specimens: Texts = ()
    note: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExchangeRate(Record):
    """One unit of `base` bought `rate` units of `quote` on a day, by a named source."""

    TABLE: ClassVar[str] = "exchange_rate"
    id: Id
    on: date
    base: Currency
    quote: Currency
    rate: Amount
    source: Name


@dataclass(frozen=True, slots=True, kw_only=True)
class Redaction(Record):
    """The body of an entry, or a photo's bytes, taken out for a reason; the chain still verifies."""

    TABLE: ClassVar[str] = "redaction"
    id: Id
    reason: Annotated[str, Len(1, 20_000)]
    entry: Digest | None = None
    photo: Digest | None = None
