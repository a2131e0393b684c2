"""From rows of the ledger to the units that count: one for each specimen and criterion, from its first valid trial.

Hidden repeats and retests measure the tester; they never add specimens. Gifts and older notes are counted apart, and
whatever else was left out is counted with the reason, so that nothing disappears without a trace.
"""

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from math import isnan
from typing import NamedTuple, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

from qcledger.records import TestedRow
from qcledger.rubric import Criterion
from qcledger.vocab import Doubt, Format, Occasion, Role, Source, Why

K = TypeVar("K", bound=Hashable)

CriterionOf: TypeAlias = Callable[[str, str], Criterion]
"""Returns the criterion with a key in the rubric with a hash."""


class SetAside(StrEnum):
    """Why an observation does not count towards a finding; gifts and older notes are counted beside it."""

    MIX = "in a mix of two"
    REPEAT = "as a hidden repeat"
    VOID = "in a void session"
    OTHER_PAPER = "on other paper"
    OLDER_NOTES = "in older notes"
    GIFT = "as a gift"
    LATER = "in a later trial"
    IMPOSSIBLE = "that cannot have been so"
    SECOND = "beside another result of the same trial"


RULES: tuple[tuple[SetAside, Callable[[TestedRow], bool]], ...] = (
    (SetAside.MIX, lambda row: row.mixed),
    (SetAside.REPEAT, lambda row: row.role is Role.REPEAT),
    (SetAside.VOID, lambda row: row.void),
    (SetAside.OTHER_PAPER, lambda row: not row.on_reference),
    (SetAside.OLDER_NOTES, lambda row: row.occasion is Occasion.OLDER_NOTES),
    (SetAside.GIFT, lambda row: row.source is Source.GIFT),
)
"""What keeps a trial from counting; the first that applies is the reason told."""

_LANES: tuple[SetAside | None, ...] = (None, *SetAside)
"""Where a trial may go, by number: 0 counts. A specimen has a first trial in each lane."""

_BY_SPECIMEN = tuple(_LANES.index(lane) for lane in (None, SetAside.GIFT, SetAside.OLDER_NOTES))
"""Lanes that are counted by specimens, each once; the others are by observations."""


class Unit(NamedTuple):
    """One specimen on one criterion.

    Parameters
    ----------
    row
        The observation that counts.
    grade
        Its fault grade, as given or as its reading fixes it; None if it has none.
    faulty
        Whether the grade is at or past the fault line of the rubric it was graded with; None for a trait and where
        it could not be tested.
    """

    row: TestedRow
    grade: float | None
    faulty: bool | None


class CellKey(NamedTuple):
    """What a finding is about: a criterion's key, a maker's id, a format."""

    criterion: str
    maker: str
    format: Format


class Aside(NamedTuple):
    """An observation that does not count, and why."""

    reason: SetAside
    unit: Unit


@dataclass(frozen=True, eq=False)
class Evidence:
    """What was tested, with every specimen counted once on each criterion.

    Parameters
    ----------
    rows
        The observations that count, in order of trial.
    grades, faulty
        For each of `rows` its fault grade (NaN without one), and 1 for faulty, 0 for not, -1 for not judged.
    missing
        What would count but could not be tested, or has no grade; also one for each specimen and criterion.
    aside
        What does not count: each gift and each specimen of older notes once, of the rest every observation.
    criteria
        Each criterion as it stood in the latest rubric it was graded with.
    """

    rows: tuple[TestedRow, ...]
    grades: NDArray[np.float64]
    faulty: NDArray[np.int8]
    missing: tuple[Unit, ...]
    aside: tuple[Aside, ...]
    criteria: Mapping[str, Criterion]

    def unit(self, place: int) -> Unit:
        """Return one of `rows` with its grade."""
        grades, faulty = self._columns
        return Unit(self.rows[place], *_result(grades[place], faulty[place]))

    @cached_property
    def _columns(self) -> tuple[list[float], list[int]]:
        return self.grades.tolist(), self.faulty.tolist()

    @cached_property
    def planned(self) -> NDArray[np.bool_]:
        """For each of `rows` whether its specimen was bought as planned, not to confirm or because of a note."""
        return np.fromiter((row.why is Why.PLANNED for row in self.rows), np.bool_, len(self.rows))

    @cached_property
    def units(self) -> tuple[Unit, ...]:
        """Everything that counts."""
        return tuple(map(self.unit, range(len(self.rows))))


def gather(rows: Iterable[TestedRow], criterion_of: CriterionOf) -> Evidence:
    """Return the evidence in `rows`, which may come in any order.

    Parameters
    ----------
    rows
        Current observations, as `Ledger.tested_rows` returns them.
    criterion_of
        Looks up a criterion by its rubric's hash and its own key.

    Notes
    -----
    A specimen's first valid trial on a criterion decides, also where it says "not testable": choosing the best or
    the most frequent of several trials favours whoever is retested.
    """
    rows = tuple(rows)
    doubted = tuple(row for row in rows if row.doubt is not None)
    if doubted:
        rows = tuple(row for row in rows if row.doubt is None)
    time, lane = _trials(rows)
    graded = _Graded.of(rows, time, criterion_of)
    order, first = _in_turn(rows, lane, time)
    counts = first & (lane[order] == 0)
    places = order[counts]
    places = places[np.argsort(time[places], kind="stable")]
    kept, missing = places[graded.has_result[places]], places[~graded.has_result[places]]
    aside = (
        Aside(_told_as(lane[place], leads), Unit(rows[place], *graded.result(place)))
        for place, leads in zip(order[~counts].tolist(), first[~counts].tolist(), strict=True)
    )
    return Evidence(
        rows=tuple(map(rows.__getitem__, kept.tolist())),
        grades=graded.grades[kept],
        faulty=graded.faulty[kept],
        missing=tuple(Unit(rows[place], None, None) for place in missing.tolist()),
        aside=(*aside, *map(_doubted, doubted)),
        criteria={row.criterion: criterion_of(row.rubric, row.criterion) for row in doubted} | graded.latest,
    )


def cell_key(row: TestedRow) -> CellKey:
    """Return the cell that an observation belongs to."""
    return CellKey(row.criterion, row.maker, row.format)


def codes(values: Iterable[K], number: int) -> tuple[NDArray[np.intp], list[K]]:
    """Return `number` values as numbers from 0 in order of appearance, and what each number stands for."""
    known: dict[K, int] = {}
    return np.fromiter((known.setdefault(value, len(known)) for value in values), np.intp, number), list(known)


def _trials(rows: Sequence[TestedRow]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return for each row the place of its trial in time, and the trial's lane."""
    trials = {row.trial: row for row in rows}
    in_time = sorted(trials, key=lambda trial: (trials[trial].trial_at, trial))
    place = {trial: number for number, trial in enumerate(in_time)}
    time = np.fromiter((place[row.trial] for row in rows), np.intp, len(rows))
    lanes = np.fromiter((_lane(trials[trial]) for trial in in_time), np.intp, len(in_time))
    return time, lanes[time] if len(rows) else time


def _lane(row: TestedRow) -> int:
    return next((_LANES.index(reason) for reason, applies in RULES if applies(row)), 0)


def _doubted(row: TestedRow) -> Aside:
    """Set a result aside that the ledger doubts; it is not judged either."""
    reason = SetAside.SECOND if row.doubt is Doubt.SECOND else SetAside.IMPOSSIBLE
    return Aside(reason, Unit(row, row.grade, None))


def _told_as(lane: int, leads: bool) -> SetAside:
    """Return the reason that an observation set aside is told with."""
    reason = _LANES[lane]
    return SetAside.LATER if reason is None or (lane in _BY_SPECIMEN and not leads) else reason


def _in_turn(
    rows: Sequence[TestedRow], lane: NDArray[np.intp], time: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Return the order by specimen, criterion and lane and then by time, and where in it something new begins."""
    specimen, _ = codes((row.specimen for row in rows), len(rows))
    criterion, criteria = codes((row.criterion for row in rows), len(rows))
    what = (specimen * len(criteria) + criterion) * len(_LANES) + lane
    order = np.lexsort((time, what))
    if (np.diff(what[order]) == 0)[np.diff(time[order]) == 0].any():
        # Twice in one trial: the time of observation decides, and the id where even that is the same.
        by_id = sorted(range(len(rows)), key=lambda place: (rows[place].at, rows[place].observation))
        within = np.empty(len(rows), np.intp)
        within[by_id] = np.arange(len(rows))
        order = np.lexsort((within, time, what))
    return order, np.diff(what[order], prepend=-1) != 0


_STEPS = 12
"""Numbers for the half steps from 0 to 5, and one for no grade."""


@dataclass(frozen=True)
class _Graded:
    """Grade and verdict of each row, by the rubric it was graded with."""

    grades: NDArray[np.float64]
    faulty: NDArray[np.int8]
    has_result: NDArray[np.bool_]
    latest: dict[str, Criterion]

    def result(self, place: int) -> tuple[float | None, bool | None]:
        return _result(float(self.grades[place]), int(self.faulty[place]))

    @classmethod
    def of(cls, rows: Sequence[TestedRow], time: NDArray[np.intp], criterion_of: CriterionOf) -> "_Graded":
        scale, scales = codes(((row.rubric, row.criterion) for row in rows), len(rows))
        criteria = [criterion_of(*known) for known in scales]
        grades = np.fromiter((np.nan if row.grade is None else row.grade for row in rows), np.float64, len(rows))
        for place in np.flatnonzero(np.isnan(grades)).tolist():
            grades[place] = _proposed(rows[place], criteria[scale[place]])
        step = np.where(np.isnan(grades), _STEPS - 1, np.nan_to_num(grades) * 2).astype(np.intp)
        kinds, which = np.unique(scale * _STEPS + step, return_inverse=True)
        verdicts = [_verdict(criteria[kind // _STEPS], kind % _STEPS) for kind in kinds.tolist()]
        chosen = np.fromiter((row.choice is not None for row in rows), np.bool_, len(rows))
        last = np.zeros(len(scales), np.intp)
        np.maximum.at(last, scale, time)
        latest = {criteria[one].key: criteria[one] for one in np.argsort(last, kind="stable").tolist()}
        return cls(grades, np.array(verdicts, np.int8)[which], ~np.isnan(grades) | chosen, latest)


def _proposed(row: TestedRow, criterion: Criterion) -> float:
    """Return the grade that a bare reading fixes, NaN where it leaves more than one open or there is none."""
    if row.not_testable or row.reading is None:
        return np.nan
    grade = criterion.propose(row.reading, row.censored)
    return np.nan if grade is None else grade


def _verdict(criterion: Criterion, step: int) -> int:
    if step == _STEPS - 1 or criterion.fault_line is None:
        return -1
    return int(criterion.is_fault(step / 2))


def _result(grade: float, faulty: int) -> tuple[float | None, bool | None]:
    return None if isnan(grade) else grade, None if faulty < 0 else faulty == 1
