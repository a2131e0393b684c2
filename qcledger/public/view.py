"""The public view: which field is public at which standing, and everything that a face may show; frozen and plain.

Whatever is not a field here cannot come into a page, a file or a letter. A finding that is open and one that is still
to be confirmed look the same, and so do one that is open for want of specimens and one in which a fault was seen: it
was looked at, and no judgement is published. A count would tell them apart, for with enough specimens and no fault it
would read none found.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import date
from enum import StrEnum
from typing import Any, Final

from qcledger.vocab import Extent

FORM: Final = 2
"""Raised when a name of the view changes or goes; new names may come without it."""
NOT_BLIND: Final = "not blind"
IN_HAND: Final = "under codes, but with the piece or its name in view"
UNPACKED: Final = "at unpacking, with the maker's name in view"
IN_VIEW: Final = (IN_HAND, NOT_BLIND, UNPACKED)
"""Ways of judging in which the tester saw whose paint it was."""
OF_CODE: Final = (Extent.LOT, Extent.PARCEL, Extent.SPECIMEN)
"""Extents that a buyer tells by the batch code, or by where and when it was bought."""


class PublicStanding(StrEnum):
    """How firmly something is said in public; what is still to be confirmed is *open* here."""

    NONE_FOUND = "none found"
    OPEN = "open"
    SETTLED = "settled"


_ALWAYS: Final = frozenset(PublicStanding)
_NEVER_OPEN: Final = _ALWAYS - {PublicStanding.OPEN}
_SETTLED: Final = frozenset({PublicStanding.SETTLED})

FIELDS: Final[Mapping[str, frozenset[PublicStanding]]] = {
    "maker": _ALWAYS, "criterion": _ALWAYS, "criterion_title": _ALWAYS, "format": _ALWAYS, "standing": _ALWAYS,
    "tested": _NEVER_OPEN, "lots": _NEVER_OPEN, "without_code": _NEVER_OPEN, "paints": _NEVER_OPEN,
    "sellers": _NEVER_OPEN, "bought_first": _NEVER_OPEN, "bought_last": _NEVER_OPEN, "tested_first": _NEVER_OPEN,
    "tested_last": _NEVER_OPEN, "blinding": _NEVER_OPEN,
    "faulty": _NEVER_OPEN, "sentence": frozenset({PublicStanding.NONE_FOUND}),
    "still_allowed": frozenset({PublicStanding.NONE_FOUND}), "drawn": frozenset({PublicStanding.NONE_FOUND}),
    "statements": _SETTLED,
    "gifts": _NEVER_OPEN, "older_notes": _NEVER_OPEN, "reader_notes": _NEVER_OPEN,
}  # fmt: skip
"""The field of a cell, and at which standings it is public; whatever is not named here never is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicCell:
    """What may be said of one maker's format on one criterion; made by `public_cell` alone.

    Parameters
    ----------
    maker, criterion, criterion_title, format
        Whom and what it is about; `criterion` is the rubric's key.
    standing
        How firmly.
    tested, lots, without_code, paints, sellers
        Specimens, lots, parcels without a batch code, named colours and sellers behind it, 0 or more; None where
        that is not public.
    bought_first, bought_last, tested_first, tested_last
        First and last days.
    blinding
        How sessions were blinded, in words.
    faulty
        Specimens at or past the fault line; None where that is not public.
    sentence, still_allowed
        Of none found: what is said, and the highest share still allowed (0 to 1, one-sided 95 %).
    drawn
        Of none found: its specimens in their lots.
    statements
        Ids of the statements that speak of it.
    gifts, older_notes, reader_notes
        How many there were that are counted apart; None where that is not public.
    """

    maker: str
    criterion: str
    criterion_title: str
    format: str
    standing: PublicStanding
    tested: int | None = None
    lots: int | None = None
    without_code: int | None = None
    paints: int | None = None
    sellers: int | None = None
    bought_first: date | None = None
    bought_last: date | None = None
    tested_first: date | None = None
    tested_last: date | None = None
    blinding: tuple[str, ...] = ()
    faulty: int | None = None
    sentence: str = ""
    still_allowed: float | None = None
    drawn: tuple["DrawnLot", ...] = ()
    statements: tuple[str, ...] = ()
    gifts: int | None = None
    older_notes: int | None = None
    reader_notes: int | None = None


def public_cell(standing: PublicStanding, **known: Any) -> PublicCell:
    """Return a cell that holds of what is known only what is public at its standing."""
    return PublicCell(
        standing=standing, **{name: value for name, value in known.items() if standing in FIELDS.get(name, ())}
    )


@dataclass(frozen=True, slots=True)
class GradeSeen:
    """How many specimens had a grade, 0 none to 5 worst, and the words of the scale that fix it."""

    grade: float
    words: str
    count: int


@dataclass(frozen=True, slots=True)
class DrawnLot:
    """The specimens of one lot, to be drawn: how many there are, and how many of them faulty.

    `name` is empty where no maker is blamed; `meant` says that the statement is about this lot. `photos` are those of
    its faulty specimens, one each, by the SHA-256 of reduced copies; there may be fewer than faulty ones.
    """

    name: str
    format: str
    tested: int
    faulty: int
    meant: bool = True
    photos: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PublicPhoto:
    """A reduced copy of a photo: the SHA-256 of its bytes, its caption and its pixels."""

    sha256: str
    caption: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class PublicAsking:
    """That a maker was asked, and what it said for print, uncut; `line` tells days and kind in words.

    `awaited` says that neither an answer nor its absence is recorded yet, `answer_by` by which day one was asked for.
    `changed_on` and `changed_lot` say from where on the maker says that it changed something.
    """

    maker: str
    asked_on: date
    line: str
    answer: str = ""
    awaited: bool = False
    answer_by: date | None = None
    changed_on: date | None = None
    changed_lot: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicStatement:
    """One settled thing.

    Parameters
    ----------
    id
        Its anchor on the page.
    extent
        How far it reaches.
    maker
        Whom it is about; None where it is common to makers, and none is blamed.
    criterion, criterion_title, subject
        What was judged, and what it reaches, in words.
    sentence, further
        What is said, word for word: one statement, and the lines that are folded beneath it.
    tested, faulty, low, high
        Specimens of what it is about, and the share of faulty ones that lots allow, 0 to 1, 95 %; None of a single
        lot, parcel or specimen, of which the sentence says what is left open.
    lots
        How many with a batch code.
    fault_words
        The words of the scale from which on it is a fault.
    grades
        What was seen, from the scale's words.
    drawn
        Its specimens in their lots.
    held_up
        What leaving out one thing at a time did to it; empty where nothing can be left out.
    judged
        How it was judged: under which codes, or with the maker's name in view.
    asked
        What the maker was asked and answered about it.
    changed
        Where the maker says that it changed something: what was counted before and from then on, a line each.
    photos
        Reduced copies of photos of the fault.
    gifts, older_notes, reader_notes
        Counted apart, never among `tested`.
    """

    id: str
    extent: Extent
    maker: str | None
    criterion: str
    criterion_title: str
    subject: str
    sentence: str
    tested: int
    faulty: int
    low: float | None
    high: float | None
    lots: int
    further: tuple[str, ...] = ()
    fault_words: str = ""
    grades: tuple[GradeSeen, ...] = ()
    drawn: tuple[DrawnLot, ...] = ()
    held_up: str = ""
    judged: tuple[str, ...] = ()
    asked: tuple[PublicAsking, ...] = ()
    changed: tuple[str, ...] = ()
    photos: tuple[PublicPhoto, ...] = ()
    gifts: int = 0
    older_notes: int = 0
    reader_notes: int = 0

    @property
    def is_common(self) -> bool:
        """Whether it is common to makers."""
        return self.maker is None

    @property
    def is_of_code(self) -> bool:
        """Whether a buyer tells by the batch code, or the parcel, whether it concerns his piece."""
        return self.extent in OF_CODE


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicLabel:
    """What one label says, word for word, beside our reference; a fact with a date, no rate.

    `printed` are the label's own words, `reference` what our reference says and where that was read.
    """

    id: str
    maker: str
    paint: str
    format: str
    seen_on: date
    printed: tuple[str, ...]
    reference: tuple[str, ...]
    asked: tuple[PublicAsking, ...] = ()
    photos: tuple[PublicPhoto, ...] = ()


@dataclass(frozen=True, slots=True)
class LotStatement:
    """What a statement counts in one lot; without numbers where it is common to makers."""

    statement: str
    title: str
    tested: int | None
    faulty: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicLot:
    """One lot that was tested, or one colour of a parcel without a batch code: where a buyer finds his own piece.

    `none_found` are titles of criteria on which none was found in the maker's format; `open` says that on others no
    judgement is published of that format, whether or not this lot was looked at for them.
    """

    id: str
    maker: str
    paint: str
    format: str
    code: str
    tested: int
    bought_first: date
    bought_last: date
    statements: tuple[LotStatement, ...] = ()
    none_found: tuple[str, ...] = ()
    open: bool = False


@dataclass(frozen=True, slots=True)
class PublicCard:
    """A supporter's card of swatches: its number, ids of the lots on it, and of how many swatches nothing is told."""

    code: str
    lots: tuple[str, ...]
    waiting: int = 0


@dataclass(frozen=True, slots=True)
class PriceSpan:
    """What one maker's specimens of one size cost in shops: lowest and highest price, and of how many.

    `low` and `high` are in the currency, ``..._minor`` in its coins, of which `minor_digits` stand behind the decimal
    mark; `per_ml` are for a nominal ml, None without one. `tax` says whether prices hold tax, `sold` whether they are
    shares of sets.
    """

    format: str
    nominal: str
    currency: str
    low: float
    high: float
    count: int
    tax: str
    sold: str
    minor_digits: int
    low_minor: int
    high_minor: int
    low_per_ml_minor: int | None = None
    high_per_ml_minor: int | None = None


@dataclass(frozen=True, slots=True)
class PublicMaker:
    """One maker: how many of its specimens were looked at, in which formats, what they cost, and what it answered."""

    id: str
    name: str
    tested: int
    formats: tuple[str, ...]
    prices: tuple[PriceSpan, ...] = ()
    asked: tuple[PublicAsking, ...] = ()


@dataclass(frozen=True, slots=True)
class WayOfTesting:
    """One way in which things were judged: on how many sheets (0 at unpacking), under which codes, and what.

    `criteria` are titles A to Z.
    """

    how: str
    sheets: int
    criteria: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PublicMethods:
    """What was done: sheets of work, who graded, what was left out, and how well grades repeat.

    `ways` are the ways in which things were judged, `limits` what was not tested and cannot be said, in the tester's
    words.
    """

    sessions: tuple[str, ...]
    tested_first: date | None
    tested_last: date | None
    ways: tuple[WayOfTesting, ...]
    testers: int
    void: tuple[str, ...]
    in_question: tuple[str, ...]
    repeats: str
    rubrics: tuple[str, ...]
    paper: str
    limits: str = ""


@dataclass(frozen=True, slots=True)
class Spent:
    """What was paid for specimens in one currency, discounts taken off, postage left out."""

    currency: str
    amount: float


@dataclass(frozen=True, slots=True)
class PublicMoney:
    """Where specimens came from: bought in shops, gifts that are counted apart, and what was paid."""

    bought: int
    gifts: int
    sellers: int
    bought_first: date | None
    bought_last: date | None
    spent: tuple[Spent, ...]
    disclosed: str = ""


@dataclass(frozen=True, slots=True)
class PublicChange:
    """What changed since the edition before: what it is about, how, when, what was said then, and why.

    `whose` is the id of the maker that it is about; empty where it is about none alone.
    """

    about: str
    how: str
    on: date
    before: str = ""
    reason: str = ""
    whose: str = ""


@dataclass(frozen=True, slots=True)
class Edition:
    """Which edition it is; number 0 is a draft, which is never recorded.

    `reasons` say why it is published although something is missing, `missing` what that was, a line each.
    """

    number: int
    on: date
    by: str
    address: str = ""
    reasons: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()

    @property
    def is_draft(self) -> bool:
        """Whether it is a draft."""
        return self.number == 0

    @property
    def words(self) -> str:
        """Return what it is called."""
        return "Draft" if self.is_draft else f"Edition {self.number}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PublicView:
    """Everything that may be said in public, as it stands; makers, colours and criteria stand A to Z."""

    title: str
    question: str
    edition: Edition
    methods: PublicMethods
    money: PublicMoney
    makers: tuple[PublicMaker, ...]
    statements: tuple[PublicStatement, ...]
    labels: tuple[PublicLabel, ...]
    cells: tuple[PublicCell, ...]
    lots: tuple[PublicLot, ...]
    closing: tuple[tuple[str, int, str], ...]
    changes: tuple[PublicChange, ...] = ()
    cards: tuple[PublicCard, ...] = ()
    form: int = field(default=FORM)

    @property
    def photos(self) -> tuple[PublicPhoto, ...]:
        """Return every photo in the order of the page; one may stand in several places."""
        said = [photo for one in self.statements for photo in one.photos]
        return (*said, *(photo for one in self.labels for photo in one.photos))

    @property
    def of_codes(self) -> tuple[PublicStatement, ...]:
        """Return what is settled about a lot, a parcel or a single specimen."""
        return tuple(one for one in self.statements if one.is_of_code and not one.is_common)

    @property
    def of_makers(self) -> tuple[PublicStatement, ...]:
        """Return what is settled about a maker, one of its formats or one of its colours."""
        return tuple(one for one in self.statements if not one.is_of_code and not one.is_common)

    @property
    def common(self) -> tuple[PublicStatement, ...]:
        """Return what is common to makers."""
        return tuple(one for one in self.statements if one.is_common)

    def standing(self, standing: PublicStanding) -> tuple[PublicCell, ...]:
        """Return the cells of one standing."""
        return tuple(one for one in self.cells if one.standing is standing)


def plain(value: Any) -> Any:
    """Return a part of the view as JSON holds it: names to values, lists, days as text."""
    if isinstance(value, StrEnum):
        return str(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return [plain(one) for one in value]
    if hasattr(value, "__dataclass_fields__"):
        return {one.name: plain(getattr(value, one.name)) for one in fields(value)}
    return value
