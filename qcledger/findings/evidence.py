"""From rows of the ledger to the units that count: one for each specimen and criterion, from its first valid trial.

Hidden repeats and retests measure the tester; they never add specimens. Gifts and older notes are counted apart, and
whatever else was left out is counted with the reason, so that nothing disappears without a trace.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum
from functools import cached_property
from itertools import starmap
from math import isnan
from typing import Any, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from qcledger.findings.columns import Ints, codes, in_order, is_first, places_of
from qcledger.ledger.collector import resting
from qcledger.records import TestedRow, TestedRows
from qcledger.rubric import Criterion
from qcledger.vocab import TAKEN_BACK, Censored, Doubt, Occasion, Role, Source

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
    TAKEN_BACK = "that was taken back"


RULES: tuple[tuple[SetAside, str, object], ...] = (
    (SetAside.MIX, "mixed", True),
    (SetAside.REPEAT, "role", Role.REPEAT),
    (SetAside.VOID, "void", True),
    (SetAside.OTHER_PAPER, "on_reference", False),
    (SetAside.OLDER_NOTES, "occasion", Occasion.OLDER_NOTES),
    (SetAside.GIFT, "source", Source.GIFT),
)
"""What keeps a trial from counting: a field of its rows and its value there; the first that applies is the reason."""

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


class Sitting(NamedTuple):
    """What was graded side by side: a session by its id or, at unpacking, a run of work without a long pause."""

    name: str
    at_bench: bool


def sitting_of(row: TestedRow) -> Sitting:
    """Return the session that a row was graded in or, at unpacking, its sitting."""
    return Sitting(row.session or row.sitting, row.session is not None)


NEAR = timedelta(days=91)
"""What was unpacked no farther apart is compared: parcels rarely hold everybody's paints; pans change by season."""


def side_by_side(units: Iterable[Unit], others: Iterable[Unit]) -> set[Sitting]:
    """Return the sessions of some units that hold others too, and their sittings of unpacking with others near."""
    return near_in_time(*({sitting_of(unit.row): unit.row.day for unit in some} for some in (units, others)))


def near_in_time(found: Mapping[Sitting, date], known: Mapping[Sitting, date]) -> set[Sitting]:
    """Return those of some sittings, each with its day, that are among others, or are of unpacking and near them."""
    days = [day for sitting, day in known.items() if not sitting.at_bench]
    return {
        sitting
        for sitting, day in found.items()
        if sitting in known or (not sitting.at_bench and any(abs(day - other) <= NEAR for other in days))
    }


class CellKey(NamedTuple):
    """What a finding is about: a criterion's key, a maker's id, a format."""

    criterion: str
    maker: str
    format: str


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
    specimen, trial, criterion
        For each of `rows` the number of its specimen, of its trial and of its criterion, in no order.
    missing
        What would count but could not be tested, or has no grade; also one for each specimen and criterion.
    aside
        What does not count: each gift and each specimen of older notes once, of the rest every observation.
    criteria
        Each criterion as it stood in the latest rubric it was graded with.
    labels
        What was graded of labels, by criteria that state what a label says: quoted, and never counted as a sample.
    """

    rows: TestedRows
    grades: NDArray[np.float64]
    faulty: NDArray[np.int8]
    specimen: Ints
    trial: Ints
    criterion: Ints
    missing: tuple[Unit, ...]
    aside: tuple[Aside, ...]
    criteria: Mapping[str, Criterion]
    labels: "Evidence | None" = None

    def unit(self, place: int) -> Unit:
        """Return one of `rows` with its grade."""
        return Unit(self.rows[place], *_result(self.grades.item(place), self.faulty.item(place)))

    def of_trial(self, *facts: str) -> tuple[Ints, list[tuple[Any, ...]]]:
        """Return facts that all rows of a trial share: for each of `rows` their number, and what the numbers mean."""
        return self._shared(self.trial, facts)

    def of_specimen(self, *facts: str) -> tuple[Ints, list[tuple[Any, ...]]]:
        """Return facts that all rows of a specimen share: for each of `rows` their number, and what they mean."""
        return self._shared(self.specimen, facts)

    def _shared(self, by: Ints, facts: Sequence[str]) -> tuple[Ints, list[tuple[Any, ...]]]:
        first, of_row = in_order(by)
        number, names = codes(self.rows.some(first.tolist()).together(*facts))
        return number[of_row], names

    @cached_property
    def sitting(self) -> tuple[Ints, list[Sitting]]:
        """For each of `rows` the number of its sitting, and the sitting that each number stands for."""
        number, names = self.of_trial("session", "sitting")
        return number, [Sitting(session or sitting, session is not None) for session, sitting in names]

    @cached_property
    def day_of(self) -> dict[Sitting, date]:
        """The first day of each session and sitting of unpacking."""
        number, names = self.sitting
        first, _ = in_order(number)
        return {names[number[place]]: self.rows[place].day for place in first.tolist()}

    @cached_property
    def judged(self) -> dict[str, Ints]:
        """Where faults were judged on each criterion, by its key, in order of trial."""
        judged = np.flatnonzero(self.faulty >= 0)
        number = self.criterion[judged]
        places = (judged[some] for some in places_of(number, number.max(initial=-1) + 1) if len(some))
        return {self.rows[some[0]].criterion: some for some in places}

    def again(self, criterion: str, specimen: str) -> tuple[Aside, ...]:
        """Return the further grades of a specimen that was judged, hidden repeats and retests, in order of time."""
        return self._again.get((criterion, specimen), ())

    @cached_property
    def faulty_again(self) -> Mapping[CellKey, Sequence[Unit]]:
        """For each cell, of each specimen that a further look showed faulty, the first such look."""
        found: dict[CellKey, list[Unit]] = defaultdict(list)
        for looks in self._again.values():
            if bad := next((one.unit for one in looks if one.unit.faulty), None):
                found[cell_key(bad.row)].append(bad)
        return dict(found)

    @cached_property
    def _again(self) -> dict[tuple[str, str], tuple[Aside, ...]]:
        found: dict[tuple[str, str], list[Aside]] = {}
        for one in self.aside:
            if (
                one.reason in (SetAside.REPEAT, SetAside.LATER)
                and one.unit.faulty is not None
                and _is_valid(one.unit.row)
            ):
                found.setdefault((one.unit.row.criterion, one.unit.row.specimen), []).append(one)
        in_time = (sorted(some, key=lambda one: one.unit.row.trial_at) for some in found.values())
        return dict(zip(found, map(tuple, in_time), strict=True))

    @cached_property
    def units(self) -> tuple[Unit, ...]:
        """Everything that counts."""
        return tuple(map(self.unit, range(len(self.rows))))


@resting()
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
    the most frequent of several trials favours whoever is retested. What was taken back says nothing, not even that
    there was a trial: the first that still stands decides.
    """
    rows = TestedRows.of(rows)
    graded_with = set(rows.together("rubric", "criterion"))
    facts = {key for rubric, key in graded_with if criterion_of(rubric, key).label_fact is not None}
    if not facts:
        return _gathered(rows, criterion_of)
    labels = _gathered(rows.where(facts.__contains__, "criterion"), criterion_of)
    rest = rows.where(lambda key: key not in facts, "criterion")
    return replace(_gathered(rest, criterion_of), labels=labels)


def _gathered(rows: TestedRows, criterion_of: CriterionOf) -> Evidence:
    doubted = rows.where(_no_result, "doubt", "why_not")
    if doubted:
        rows = rows.where(lambda *facts: not _no_result(*facts), "doubt", "why_not")
    time, lane, specimen = _trials(rows)
    criterion, keys = codes(rows.column("criterion"))
    graded = _Graded.of(rows, criterion, time, criterion_of)
    order = _in_turn(rows, time * len(keys) + criterion)
    first = is_first(((specimen * len(keys) + criterion) * len(_LANES) + lane)[order])
    counts = first & (lane[order] == 0)
    places = order[counts]
    kept, missing = places[graded.has_result[places]], places[~graded.has_result[places]]
    aside = (
        Aside(_told_as(lane[place], leads), Unit(rows[place], *graded.result(place)))
        for place, leads in zip(order[~counts].tolist(), first[~counts].tolist(), strict=True)
    )
    return Evidence(
        rows=rows.some(kept.tolist()),
        grades=graded.grades[kept],
        faulty=graded.faulty[kept],
        specimen=specimen[kept],
        trial=time[kept],
        criterion=criterion[kept],
        missing=tuple(Unit(rows[place], None, None) for place in missing.tolist()),
        aside=(*aside, *map(_doubted, doubted)),
        criteria={row.criterion: criterion_of(row.rubric, row.criterion) for row in doubted} | graded.latest,
    )


def _is_valid(row: TestedRow) -> bool:
    """Say whether a further trial would count if it were the first."""
    return not row.void and row.on_reference and row.occasion is not Occasion.OLDER_NOTES


def cell_key(row: TestedRow) -> CellKey:
    """Return the cell that an observation belongs to."""
    return CellKey(row.criterion, row.maker, row.format)


def _trials(rows: TestedRows) -> tuple[Ints, Ints, Ints]:
    """Return for each row the place of its trial in time, the trial's lane, and the number of its specimen."""
    trial, names = codes(rows.column("trial"))
    one_of = rows.some(np.flatnonzero(is_first(trial)).tolist())
    when = list(zip(one_of.column("trial_at"), names, strict=True))
    place = np.empty(len(when), np.intp)
    place[sorted(range(len(when)), key=when.__getitem__)] = np.arange(len(when))
    kind, kinds = codes(one_of.together(*(field for _, field, _ in RULES)))
    lane = np.array(list(map(_lane, kinds)), np.intp)[kind]
    specimen, _ = codes(one_of.column("specimen"))
    return place[trial], lane[trial], specimen[trial]


def _lane(facts: Sequence[object]) -> int:
    """Return the lane of a trial from its facts, one for each of `RULES`."""
    return next((_LANES.index(reason) for (reason, _, out), fact in zip(RULES, facts, strict=True) if fact == out), 0)


def _no_result(doubt: Doubt | None, why_not: str | None) -> bool:
    """Say of a row's doubt, and of why it could not be tested, whether it is no result that could decide."""
    return doubt is not None or why_not == TAKEN_BACK


def _doubted(row: TestedRow) -> Aside:
    """Set aside what the ledger doubts or was taken back; it is not judged either."""
    if row.doubt is None:
        return Aside(SetAside.TAKEN_BACK, Unit(row, None, None))
    reason = SetAside.SECOND if row.doubt is Doubt.SECOND else SetAside.IMPOSSIBLE
    return Aside(reason, Unit(row, row.grade, None))


def _told_as(lane: int, leads: bool) -> SetAside:
    """Return the reason that an observation set aside is told with."""
    reason = _LANES[lane]
    return SetAside.LATER if reason is None or (lane in _BY_SPECIMEN and not leads) else reason


def _in_turn(rows: TestedRows, what: Ints) -> Ints:
    """Return the order of time; `what` tells trial and criterion apart and rises with the trial."""
    order = np.argsort(what, kind="stable")
    if (np.diff(what[order]) == 0).any():
        # Twice in one trial: the time of observation decides, and the id where even that is the same.
        by_id = sorted(range(len(rows)), key=list(rows.together("at", "observation")).__getitem__)
        order = np.array(by_id, np.intp)[np.argsort(what[by_id], kind="stable")]
    return order


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
        return _result(self.grades.item(place), self.faulty.item(place))

    @classmethod
    def of(cls, rows: TestedRows, criterion: Ints, time: Ints, criterion_of: CriterionOf) -> "_Graded":
        rubric, _ = codes(rows.column("rubric"))
        which = rubric * (criterion.max(initial=0) + 1) + criterion
        one_of, scale = in_order(which)
        criteria = list(starmap(criterion_of, rows.some(one_of.tolist()).together("rubric", "criterion")))
        grades = np.array(rows.column("grade"), np.float64)
        bare = np.flatnonzero(np.isnan(grades))
        read = rows.some(bare.tolist()).together("not_testable", "reading", "censored")
        grades[bare] = [
            _proposed(criteria[which], *facts) for which, facts in zip(scale[bare].tolist(), read, strict=True)
        ]
        step = np.where(np.isnan(grades), _STEPS - 1, np.nan_to_num(grades) * 2).astype(np.intp)
        kind = scale * _STEPS + step
        verdicts = np.full(len(criteria) * _STEPS, -1, np.int8)
        for one in np.flatnonzero(np.bincount(kind)).tolist():
            verdicts[one] = _verdict(criteria[one // _STEPS], one % _STEPS)
        has_result = ~np.isnan(grades)
        bare = np.flatnonzero(~has_result)
        has_result[bare] = [choice is not None for choice in rows.some(bare.tolist()).column("choice")]
        last = np.zeros(len(criteria), np.intp)
        np.maximum.at(last, scale, time)
        latest = {criteria[one].key: criteria[one] for one in np.lexsort((which[one_of], last)).tolist()}
        return cls(grades, verdicts[kind], has_result, latest)


def _proposed(criterion: Criterion, not_testable: bool, reading: float | None, censored: Censored) -> float:
    """Return the grade that a bare reading fixes, NaN where it leaves more than one open or there is none."""
    if not_testable or reading is None:
        return np.nan
    grade = criterion.propose(reading, censored)
    return np.nan if grade is None else grade


def _verdict(criterion: Criterion, step: int) -> int:
    if step == _STEPS - 1 or criterion.fault_line is None:
        return -1
    return int(criterion.is_fault(step / 2))


def _result(grade: float, faulty: int) -> tuple[float | None, bool | None]:
    return None if isnan(grade) else grade, None if faulty < 0 else faulty == 1
