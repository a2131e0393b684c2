"""What is done at the bench: rubrics, comparisons, sessions, their sheets, and what was seen, shown and decided."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, ClassVar

from annotated_types import Ge, Interval, Len

from qcledger.records.fields import Digest, Grade, Id, Name, Note, Record, Ref, StageText, Texts
from qcledger.vocab import Blinding, Censored, DecisionKind, Occasion, Role, Severity


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
