"""What is to be judged, in which order, and what stands already: of a run sheet, or of whatever else is graded."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING, ClassVar, Final, NamedTuple, Self

from qcledger.bench.cautions import SheetCautions
from qcledger.bench.result import Pencil, Result, result_of
from qcledger.bench.stages import arranged
from qcledger.records import Observation, Record, RunRow, Session, Specimen, Stage, Trial
from qcledger.vocab import Occasion

if TYPE_CHECKING:
    from qcledger.rubric import Criterion

REGRADED: Final = "regraded at the bench"


class Walk(StrEnum):
    """In which order a sheet is walked."""

    BY_SPECIMEN = "by specimen"
    BY_TEST = "by test"


class SheetSquare(NamedTuple):
    """One square of the sheet: the number of a line, from 0, and a criterion."""

    line: int
    criterion: str


@dataclass(frozen=True, slots=True, kw_only=True)
class UnderTest:
    """A specimen that is looked at, and the id of its trial once something was recorded."""

    specimen: Specimen
    trial: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ToGrade:
    """What is asked of specimens and what stands: a stage of a run sheet, or a piece as it came out of its parcel.

    Parameters
    ----------
    lines
        The specimens in their order.
    criteria, rubrics
        What is judged, in the order of the rubrics, and each criterion's rubric hash.
    seen
        What stands, by place; observations that were superseded are not here.
    stage
        The stage it is judged at; None at unpacking.
    """

    GOES_ON: ClassVar[bool] = True
    """Whether a grade leads to the next place."""
    REGRADED: ClassVar[str] = REGRADED
    """The reason of an observation that replaces one at the same place, when only a key was pressed."""

    lines: tuple[UnderTest, ...]
    criteria: "Mapping[str, Criterion]"
    rubrics: Mapping[str, str]
    seen: Mapping[SheetSquare, Observation]
    stage: str | None

    def label(self, line: int) -> str:
        """Return what stands for a line's specimen."""
        return self.lines[line].specimen.sticker

    def asks(self, place: SheetSquare) -> bool:
        """Say whether a criterion can be judged on the format of a line's specimen."""
        return self.lines[place.line].specimen.format in self.criteria[place.criterion].formats

    def scale(self, place: SheetSquare) -> "Criterion":
        """Return the scale that what stands at a place was graded with."""
        return self.criteria[place.criterion]

    def proposes(self, place: SheetSquare) -> float | None:
        """Return the grade that follows, before anything is measured, from what is known; None where none does."""
        return None

    def result(self, place: SheetSquare) -> Result:
        """Return what stands at a place."""
        return result_of(self.seen.get(place))

    def is_open(self, place: SheetSquare) -> bool:
        """Say whether nothing stands at a place."""
        return self.result(place).is_open

    def trial(self, line: int, pencil: Pencil, new_id: Callable[[], str]) -> Trial:
        """Return the trial of a line, as it begins with its first observation."""
        raise NotImplementedError

    def before(self, place: SheetSquare, pencil: Pencil, new_id: Callable[[], str]) -> tuple[Record, ...]:
        """Return what a first observation at a place stands on, its trial apart, and is to be written with it."""
        return ()

    def with_record(self, record: Record) -> Self:
        """Return this once a record of `before` is on disk."""
        return self

    def without_record(self, record: Record, stood: Self) -> Self:
        """Return this without a record of `before`, as it `stood`."""
        return self

    def with_seen(self, place: SheetSquare, observation: Observation) -> Self:
        """Return this with one more observation, which supersedes what stood there."""
        placed = self.with_trial(place.line, observation.trial)
        return replace(placed, seen={**self.seen, place: observation})

    def without(self, place: SheetSquare) -> Self:
        """Return this with nothing at a place."""
        return replace(self, seen={there: seen for there, seen in self.seen.items() if there != place})

    def with_trial(self, line: int, trial: str | None) -> Self:
        """Return this with the trial of a line, by its id, or with none begun there."""
        lines = list(self.lines)
        lines[line] = replace(lines[line], trial=trial)
        return replace(self, lines=tuple(lines))

    def places_of(self, line: int) -> tuple[SheetSquare, ...]:
        """Return every place of a line."""
        return tuple(place for key in self.criteria if self.asks(place := SheetSquare(line, key)))

    def places(self, walk: Walk) -> tuple[SheetSquare, ...]:
        """Return every place in the order of the walk."""
        if walk is Walk.BY_SPECIMEN:
            squares = (SheetSquare(line, key) for line in range(len(self.lines)) for key in self.criteria)
        else:
            squares = (SheetSquare(line, key) for key in self.criteria for line in range(len(self.lines)))
        return tuple(place for place in squares if self.asks(place))


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine(UnderTest):
    """One line of a run sheet: a specimen in its place."""

    row: RunRow


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSheet(ToGrade):
    """One stage of a session at work.

    Parameters
    ----------
    session, stages, stage
        The session, all its stages in order, and the name of the one at work.
    comparison
        Title of the comparison.
    to_mind
        Whatever anything on the whole sheet calls for, so that blindness holds.
    order
        The names of the stages of its rubrics in their order, and of any other that it has.
    """

    lines: tuple[SheetLine, ...]
    session: Session
    comparison: str
    stages: tuple[Stage, ...]
    stage: str
    to_mind: SheetCautions = field(default_factory=SheetCautions)
    order: tuple[str, ...] = ()

    @property
    def cautions(self) -> tuple[str, ...]:
        """Every caution of the sheet, each once."""
        return self.to_mind.every

    @property
    def is_fresh(self) -> bool:
        """Whether nothing was judged on the sheet yet, at any stage."""
        return not self.seen and all(stage.started_at is None for stage in self.stages)

    @property
    def stage_row(self) -> Stage | None:
        """The record of the stage at work, if one was planned."""
        return next((stage for stage in self.stages if stage.name == self.stage), None)

    @property
    def is_blind(self) -> bool:
        """Whether the specimens' names stay hidden until the session is closed."""
        return self.session.is_blind

    def label(self, line: int) -> str:
        """Return what stands for a line's specimen: its code where it has one, else its sticker."""
        found = self.lines[line]
        return " ".join(found.row.code) if found.row.code and self.is_blind else found.specimen.sticker

    def trial(self, line: int, pencil: Pencil, new_id: Callable[[], str]) -> Trial:
        """Return the trial of a line, as it begins with its first observation."""
        found = self.lines[line]
        return Trial(
            id=found.trial or new_id(),
            specimen=found.specimen.id,
            occasion=Occasion.BENCH,
            at=pencil.at,
            session=self.session.id,
            run_row=found.row.id,
        )

    def before(self, place: SheetSquare, pencil: Pencil, new_id: Callable[[], str]) -> tuple[Record, ...]:
        """Return the stage's record with the time of its first grade; nothing when it has begun already."""
        row = self.stage_row
        if row is None:
            id_ = new_id()
            begun = Stage(
                id=id_, session=self.session.id, name=self.stage, started_at=pencil.at, tester=pencil.tester
            )
            return (begun,)
        if row.started_at is not None:
            return ()
        return (replace(row, started_at=pencil.at, tester=row.tester or pencil.tester),)

    def with_record(self, record: Record) -> Self:
        """Return the sheet once the record of its stage is on disk."""
        return self.with_stage(record) if isinstance(record, Stage) else self

    def without_record(self, record: Record, stood: Self) -> Self:
        """Return the sheet without the record of its stage, as it `stood`."""
        return replace(self, stages=stood.stages) if isinstance(record, Stage) else self

    def with_stage(self, stage: Stage) -> Self:
        """Return the sheet with a stage's record, in place of an older one of that stage."""
        rows = {**{old.name: old for old in self.stages}, stage.name: stage}
        return replace(self, stages=tuple(rows[name] for name in arranged(rows, self.order)))


def _group(place: SheetSquare, walk: Walk) -> object:
    return place.line if walk is Walk.BY_SPECIMEN else place.criterion


def first_open(sheet: ToGrade, walk: Walk) -> SheetSquare | None:
    """Return the first place where nothing stands, else the first there is; None on an empty sheet."""
    places = sheet.places(walk)
    return next((place for place in places if sheet.is_open(place)), places[0] if places else None)


def step(sheet: ToGrade, walk: Walk, at: SheetSquare, by: int) -> SheetSquare:
    """Return the place `by` steps away in the walk, or the end it runs into."""
    places = sheet.places(walk)
    return places[min(max(places.index(at) + by, 0), len(places) - 1)]


def follow(sheet: ToGrade, walk: Walk, at: SheetSquare) -> SheetSquare | None:
    """Return where a grade at `at` leads: the next place of the same specimen, or test; None at its end."""
    places = sheet.places(walk)
    ahead = places[places.index(at) + 1 :]
    return next((place for place in ahead if _group(place, walk) == _group(at, walk)), None)


def next_group(sheet: ToGrade, walk: Walk, at: SheetSquare) -> SheetSquare | None:
    """Return the first open place of the next specimen, or test, that has one; None when all others are done.

    The walk goes on at the start of the sheet after its end, so that what was left out is found again.
    """
    places = sheet.places(walk)
    here = places.index(at)
    others = [place for place in (*places[here:], *places[:here]) if _group(place, walk) != _group(at, walk)]
    return next((place for place in others if sheet.is_open(place)), None)


def left_open(sheet: ToGrade, walk: Walk, at: SheetSquare) -> tuple[SheetSquare, ...]:
    """Return the open places of the specimen, or test, at `at`, in the order of the walk."""
    group = _group(at, walk)
    return tuple(place for place in sheet.places(walk) if _group(place, walk) == group and sheet.is_open(place))


def progress(sheet: ToGrade) -> tuple[int, int]:
    """Return how many places have a result, and how many there are."""
    places = sheet.places(Walk.BY_SPECIMEN)
    return sum(not sheet.is_open(place) for place in places), len(places)


def judged_at(criterion: "Criterion", stage: str) -> bool:
    """Say whether a criterion is judged at the bench in this stage."""
    return criterion.seen_at is Occasion.BENCH and criterion.stage in (stage, None)
