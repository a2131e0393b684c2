"""The run sheet of a session's stage: what is to be judged, in which order, and what stands already."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from qcledger.bench.result import Result, result_of
from qcledger.bench.stages import arranged
from qcledger.records import Observation, RunRow, Session, Specimen, Stage
from qcledger.vocab import Occasion

if TYPE_CHECKING:
    from qcledger.rubric import Criterion


class Walk(StrEnum):
    """In which order a sheet is walked."""

    BY_SPECIMEN = "by specimen"
    BY_TEST = "by test"


class Place(NamedTuple):
    """One square of the sheet: the number of a line, from 0, and a criterion."""

    line: int
    criterion: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of the sheet: a specimen in its place, and its trial once something was recorded."""

    row: RunRow
    specimen: Specimen
    trial: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSheet:
    """One stage of a session at work.

    Parameters
    ----------
    session, stages, stage
        The session, all its stages in order, and the name of the one at work.
    comparison
        Title of the comparison.
    lines
        The sheet's lines in their order.
    criteria, rubrics
        What is judged at this stage, in the order of the rubrics, and each criterion's rubric hash.
    seen
        What stands, by place; observations that were superseded are not here.
    cautions
        Whatever anything on the whole sheet calls for, so that blindness holds.
    order
        The names of the stages of its rubrics in their order, and of any other that it has.
    """

    session: Session
    comparison: str
    stages: tuple[Stage, ...]
    stage: str
    lines: tuple[Line, ...]
    criteria: "Mapping[str, Criterion]"
    rubrics: Mapping[str, str]
    seen: Mapping[Place, Observation]
    cautions: tuple[str, ...] = ()
    order: tuple[str, ...] = ()

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

    def asks(self, place: Place) -> bool:
        """Say whether a criterion can be judged on the format of a line's specimen."""
        return self.lines[place.line].specimen.format in self.criteria[place.criterion].formats

    def result(self, place: Place) -> Result:
        """Return what stands at a place."""
        return result_of(self.seen.get(place))

    def is_open(self, place: Place) -> bool:
        """Say whether nothing stands at a place."""
        return self.result(place).is_open

    def with_seen(self, place: Place, observation: Observation) -> "RunSheet":
        """Return the sheet with one more observation, which supersedes what stood there."""
        placed = self.with_trial(place.line, observation.trial)
        return replace(placed, seen={**self.seen, place: observation})

    def without(self, place: Place) -> "RunSheet":
        """Return the sheet with nothing at a place."""
        return replace(self, seen={there: seen for there, seen in self.seen.items() if there != place})

    def with_trial(self, line: int, trial: str | None) -> "RunSheet":
        """Return the sheet with the trial of a line, by its id, or with none begun there."""
        lines = list(self.lines)
        lines[line] = replace(lines[line], trial=trial)
        return replace(self, lines=tuple(lines))

    def with_stage(self, stage: Stage) -> "RunSheet":
        """Return the sheet with a stage's record, in place of an older one of that stage."""
        rows = {**{old.name: old for old in self.stages}, stage.name: stage}
        return replace(self, stages=tuple(rows[name] for name in arranged(rows, self.order)))

    def places_of(self, line: int) -> tuple[Place, ...]:
        """Return every place of a line."""
        return tuple(place for key in self.criteria if self.asks(place := Place(line, key)))

    def places(self, walk: Walk) -> tuple[Place, ...]:
        """Return every place in the order of the walk."""
        if walk is Walk.BY_SPECIMEN:
            squares = (Place(line, key) for line in range(len(self.lines)) for key in self.criteria)
        else:
            squares = (Place(line, key) for key in self.criteria for line in range(len(self.lines)))
        return tuple(place for place in squares if self.asks(place))


def _group(place: Place, walk: Walk) -> object:
    return place.line if walk is Walk.BY_SPECIMEN else place.criterion


def first_open(sheet: RunSheet, walk: Walk) -> Place | None:
    """Return the first place where nothing stands, else the first there is; None on an empty sheet."""
    places = sheet.places(walk)
    return next((place for place in places if sheet.is_open(place)), places[0] if places else None)


def step(sheet: RunSheet, walk: Walk, at: Place, by: int) -> Place:
    """Return the place `by` steps away in the walk, or the end it runs into."""
    places = sheet.places(walk)
    return places[min(max(places.index(at) + by, 0), len(places) - 1)]


def follow(sheet: RunSheet, walk: Walk, at: Place) -> Place | None:
    """Return where a grade at `at` leads: the next place of the same specimen, or test; None at its end."""
    places = sheet.places(walk)
    ahead = places[places.index(at) + 1 :]
    return next((place for place in ahead if _group(place, walk) == _group(at, walk)), None)


def next_group(sheet: RunSheet, walk: Walk, at: Place) -> Place | None:
    """Return the first open place of the next specimen, or test, that has one; None when all others are done.

    The walk goes on at the start of the sheet after its end, so that what was left out is found again.
    """
    places = sheet.places(walk)
    here = places.index(at)
    others = [place for place in (*places[here:], *places[:here]) if _group(place, walk) != _group(at, walk)]
    return next((place for place in others if sheet.is_open(place)), None)


def progress(sheet: RunSheet) -> tuple[int, int]:
    """Return how many places have a result, and how many there are."""
    places = sheet.places(Walk.BY_SPECIMEN)
    return sum(not sheet.is_open(place) for place in places), len(places)


def judged_at(criterion: "Criterion", stage: str) -> bool:
    """Say whether a criterion is judged at the bench in this stage."""
    return criterion.seen_at is Occasion.BENCH and criterion.stage in (stage, None)
