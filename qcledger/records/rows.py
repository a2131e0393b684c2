"""The tables of a ledger, a class each."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from types import MappingProxyType
from typing import Annotated, ClassVar

from annotated_types import Ge, Interval, Len

from qcledger.records.fields import (
    Amount,
    Country,
    Currency,
    Digest,
    FormatName,
    Grade,
    Id,
    Money,
    Name,
    Note,
    Record,
    Ref,
    Sentences,
    StageText,
    Texts,
)
from qcledger.vocab import (
    AnswerKind,
    Blinding,
    Censored,
    DecisionKind,
    Occasion,
    PreparationKind,
    Role,
    Sameness,
    Severity,
    Source,
    SpecimenState,
    Why,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Daybook(Record):
    """One tester's own chain of entries on one machine."""

    TABLE: ClassVar[str] = "daybook"
    id: Id
    letters: Annotated[str, Len(1, 4)]
    tester: Name


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone(Record):
    """The time zone a tester lives in, by its IANA name; it holds for what the same daybook writes from here on.

    What a daybook wrote before its first zone is read in that zone, too.
    """

    TABLE: ClassVar[str] = "zone"
    id: Id
    name: Name


@dataclass(frozen=True, slots=True, kw_only=True)
class Import(Record):
    """One bringing in of a sheet or folder: what it was called, the SHA-256 of its bytes, how many rows it had.

    Ids of what it brought in that is a daybook's own are made from its id, so that two sheets numbered from 1 never
    meet.
    """

    TABLE: ClassVar[str] = "import"
    id: Id
    name: Name
    sha256: Digest | None = None
    rows: Annotated[int, Interval(ge=0, le=10**9)] | None = None
    note: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Maker(Record):
    """The name on the label."""

    TABLE: ClassVar[str] = "maker"
    id: Id
    name: Name
    note: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Range(Record):
    """A maker's line, as its students' or its artists'; paints of two ranges are never one."""

    TABLE: ClassVar[str] = "range"
    id: Id
    maker: Annotated[Id, Ref("maker")]
    name: Name
    note: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paint(Record):
    """One named colour of a maker; `price_group` is what the trade calls its series."""

    TABLE: ClassVar[str] = "paint"
    id: Id
    maker: Annotated[Id, Ref("maker")]
    name: Name
    number: Name | None = None
    note: Note = ""
    range: Annotated[Id, Ref("range")] | None = None
    price_group: Name | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Seller(Record):
    """What is known of a seller, by the name that parcels give; `country` is its ISO 3166-1 code."""

    TABLE: ClassVar[str] = "seller"
    id: Id
    name: Name
    country: Country | None = None
    note: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SameAs(Record):
    """A decision about who two makers, ranges, paints or sellers are, or what one is called now.

    With `Sameness.SAME` and `Sameness.DIFFERENT` it is about `subject` and `other`; with `Sameness.CALLED` about
    `subject` and its `name`. One that was `undone` decides nothing any more.
    """

    TABLE: ClassVar[str] = "same_as"
    id: Id
    kind: Sameness
    subject_table: Name
    subject: Id
    other: Id | None = None
    name: Name | None = None
    by: Name
    on: date
    reason: Annotated[str, Len(1, 20_000)]
    undone: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelVersion(Record):
    """What a paint's label declares, as printed, seen from a date.

    `format` is the one it was printed on, None where it holds for each; `source` says where it was read, as on the
    tube, its wrapper or a chart; `facts` are what else a rubric asks a label for, each as ``what: as printed``.
    """

    TABLE: ClassVar[str] = "label_version"
    id: Id
    paint: Annotated[Id, Ref("paint")]
    seen_on: date
    index_names: Texts = ()
    constitution_numbers: Texts = ()
    chemical_names: Texts = ()
    cas_numbers: Texts = ()
    claims: Texts = ()
    warnings: Note = ""
    printed: Note = ""
    format: FormatName | None = None
    source: Name | None = None
    facts: Texts = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot(Record):
    """A maker's batch code within one paint and format."""

    TABLE: ClassVar[str] = "lot"
    id: Id
    paint: Annotated[Id, Ref("paint")]
    format: FormatName
    code: Name
    note: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parcel(Record):
    """One purchase from one seller on one day."""

    TABLE: ClassVar[str] = "parcel"
    id: Id
    bought_on: date
    seller: Name
    currency: Currency
    received_on: date | None = None
    shipping_minor: Money | None = None
    tax_included: bool | None = None
    note: Note = ""
    discount_minor: Money | None = None
    tax_pct: Annotated[float, Interval(ge=0, le=100)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Specimen(Record):
    """One physical pan, tube or stick; `sticker` is the tester's letters and a count, as in ``OV 0147``.

    `pack` names the set it was sold in, whose price was one; `filled` is the date of filling as printed; `advised`
    says that it was bought because this program advised it.
    """

    TABLE: ClassVar[str] = "specimen"
    id: Id
    sticker: Name
    paint: Annotated[Id, Ref("paint")]
    format: FormatName
    parcel: Annotated[Id, Ref("parcel")]
    lot: Annotated[Id, Ref("lot")] | None = None
    label_version: Annotated[Id, Ref("label_version")] | None = None
    source: Source = Source.RETAIL
    why: Why = Why.PLANNED
    state: SpecimenState = SpecimenState.UNOPENED
    opened_on: date | None = None
    nominal_ml: Amount | None = None
    weight_g: Amount | None = None
    price_minor: Money | None = None
    note: Note = ""
    pack: Name | None = None
    filled: Name | None = None
    advised: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Preparation(Record):
    """How a specimen came to the test: fresh, or poured into a pan on a date and dried."""

    TABLE: ClassVar[str] = "preparation"
    id: Id
    specimen: Annotated[Id, Ref("specimen")]
    kind: PreparationKind
    on: date
    note: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RubricText(Record):
    """A rubric as it was when something was graded with it; `id` is the SHA-256 of its text."""

    TABLE: ClassVar[str] = "rubric_text"
    id: Id
    key: Name
    text: Annotated[str, Len(1, 262_144)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison(Record):
    """One published test: the question, the paints, and the rubrics frozen at its start.

    Only trials on `reference_paper` count towards findings; without one, every paper counts.
    """

    TABLE: ClassVar[str] = "comparison"
    id: Id
    title: Name
    question: Note
    started_on: date
    rubrics: Texts = ()
    paints: Texts = ()
    reference_paper: Name | None = None
    conditions: Note = ""
    closed_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Session(Record):
    """A sheet of work within a comparison. Whether it is void is a `Decision`.

    `criteria` are the keys of what is judged, none for everything the comparison's rubrics hold. `seed` and `plan`,
    what the order was asked to do, rebuild the run sheet.
    """

    TABLE: ClassVar[str] = "session"
    id: Id
    code: Name
    comparison: Annotated[Id, Ref("comparison")]
    tester: Name
    blinding: Blinding
    started_at: datetime
    closed_at: datetime | None = None
    note: Note = ""
    criteria: Texts = ()
    seed: Annotated[int, Interval(ge=0, le=10**12)] | None = None
    plan: Note = ""

    @property
    def is_blind(self) -> bool:
        """Whether what its codes stand for is hidden: it is not open, and not closed yet."""
        return self.blinding is not Blinding.OPEN and self.closed_at is None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage(Record):
    """One stage of a session and the conditions it was worked under."""

    TABLE: ClassVar[str] = "stage"
    id: Id
    session: Annotated[Id, Ref("session")]
    name: StageText
    due_at: datetime | None = None
    started_at: datetime | None = None
    ended_at: datetime | None = None
    tester: Name | None = None
    water: Name | None = None
    brush: Name | None = None
    lamp: Name | None = None
    lux: Annotated[float, Ge(0)] | None = None
    temperature_c: Annotated[float, Interval(ge=-40, le=60)] | None = None
    humidity_pct: Annotated[float, Interval(ge=0, le=100)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition(Record):
    """One condition of a stage that a rubric asks for, as ``water: rain water``; who noted it, and when."""

    TABLE: ClassVar[str] = "condition"
    id: Id
    stage: Annotated[Id, Ref("stage")]
    name: Name
    value: Name
    at: datetime
    by: Name


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet(Record):
    """The physical sheet of paper of a session."""

    TABLE: ClassVar[str] = "sheet"
    id: Id
    session: Annotated[Id, Ref("session")]
    number: Annotated[int, Interval(ge=1, le=999)]
    paper: Name
    paper_lot: Name | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRow(Record):
    """One place on a run sheet; `code` stands for the specimen until the session is closed."""

    TABLE: ClassVar[str] = "run_row"
    id: Id
    session: Annotated[Id, Ref("session")]
    sheet: Annotated[Id, Ref("sheet")] | None = None
    position: Annotated[int, Interval(ge=1, le=999)]
    specimen: Annotated[Id, Ref("specimen")]
    preparation: Annotated[Id, Ref("preparation")] | None = None
    code: Annotated[str, Len(1, 8)] | None = None
    role: Role = Role.SPECIMEN


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial(Record):
    """One specimen, or a mix of two, tested once; at unpacking there is no session."""

    TABLE: ClassVar[str] = "trial"
    id: Id
    specimen: Annotated[Id, Ref("specimen")]
    occasion: Occasion
    at: datetime
    mixed_with: Annotated[Id, Ref("specimen")] | None = None
    session: Annotated[Id, Ref("session")] | None = None
    run_row: Annotated[Id, Ref("run_row")] | None = None
    note: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation(Record):
    """One criterion's grade, choice or reading in a trial; one that `supersedes` another says why in `reason`."""

    TABLE: ClassVar[str] = "observation"
    id: Id
    trial: Annotated[Id, Ref("trial")]
    criterion: Name
    rubric: Annotated[Id, Ref("rubric_text")]
    tester: Name
    at: datetime
    grade: Grade | None = None
    choice: Name | None = None
    reading: float | None = None
    censored: Censored = Censored.EXACT
    not_testable: Name | None = None
    severity: Severity | None = None
    stage: StageText | None = None
    note: Note = ""
    supersedes: Annotated[Id, Ref("observation")] | None = None
    reason: Note = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo(Record):
    """A picture filed by the SHA-256 of its bytes, tied to a specimen or an observation."""

    TABLE: ClassVar[str] = "photo"
    id: Id
    sha256: Digest
    kind: Annotated[str, Len(3, 4)]
    width: Annotated[int, Interval(ge=1, le=100_000)]
    height: Annotated[int, Interval(ge=1, le=100_000)]
    taken_at: datetime | None = None
    specimen: Annotated[Id, Ref("specimen")] | None = None
    observation: Annotated[Id, Ref("observation")] | None = None
    file_name: Name | None = None
    caption: Note = ""
    label_version: Annotated[Id, Ref("label_version")] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision(Record):
    """What a tester decided about a row of `subject_table`, and why; `how` says what is to be done in a retest."""

    TABLE: ClassVar[str] = "decision"
    id: Id
    kind: DecisionKind
    subject_table: Name
    subject: Id
    by: Name
    on: date
    reason: Annotated[str, Len(1, 20_000)]
    how: Note = ""


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


TABLES: Mapping[str, type[Record]] = MappingProxyType(
    {
        record.TABLE: record
        for record in (
            Daybook,
            Zone,
            Import,
            Maker,
            Range,
            Paint,
            Seller,
            SameAs,
            LabelVersion,
            Lot,
            Parcel,
            Specimen,
            Preparation,
            RubricText,
            Comparison,
            Session,
            Stage,
            Condition,
            Sheet,
            RunRow,
            Trial,
            Observation,
            Photo,
            Decision,
            ReaderNote,
            Question,
            MakerAnswer,
            Publication,
            Statement,
            Card,
            ExchangeRate,
            Redaction,
        )
    }
)
"""Every table by name, each after the tables it refers to."""

SHARED: frozenset[type[Record]] = frozenset({Maker, Range, Paint, Seller, Lot, RubricText, Comparison})
"""Things that are the same for every tester: what several daybooks say of one unites, and nothing is refused.

Everything else belongs to the daybook that made it.
"""
