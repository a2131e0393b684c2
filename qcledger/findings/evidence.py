"""From rows of the ledger to the units that count: one for each specimen and criterion, from its first valid trial.

Hidden repeats and retests measure the tester; they never add specimens. Gifts and older notes are counted apart, and
whatever else was left out is counted with the reason, so that nothing disappears without a trace.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple, TypeAlias

from qcledger.records import TestedRow
from qcledger.rubric import Criterion
from qcledger.vocab import Format, Occasion, Role, Source

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


RULES: tuple[tuple[SetAside, Callable[[TestedRow], bool]], ...] = (
    (SetAside.MIX, lambda row: row.mixed),
    (SetAside.REPEAT, lambda row: row.role is Role.REPEAT),
    (SetAside.VOID, lambda row: row.void),
    (SetAside.OTHER_PAPER, lambda row: not row.on_reference),
    (SetAside.OLDER_NOTES, lambda row: row.occasion is Occasion.OLDER_NOTES),
    (SetAside.GIFT, lambda row: row.source is Source.GIFT),
)
"""What keeps a trial from counting; the first that applies is the reason told."""

COUNTED = (None, SetAside.GIFT, SetAside.OLDER_NOTES)
"""What is counted by specimens, each once; everything else by observations."""


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


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was tested, with every specimen counted once on each criterion.

    Parameters
    ----------
    units
        What counts, in order of trial.
    missing
        What would count but could not be tested, or has no grade; also one for each specimen and criterion.
    aside
        What does not count: each gift and each specimen of older notes once, of the rest every observation.
    criteria
        Each criterion as it stood in the latest rubric it was graded with.
    """

    units: tuple[Unit, ...]
    missing: tuple[Unit, ...]
    aside: tuple[Aside, ...]
    criteria: Mapping[str, Criterion]


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
    trials = {row.trial: row for row in rows}
    in_time = sorted(trials, key=lambda trial: (trials[trial].trial_at, trial))
    place = {trial: number for number, trial in enumerate(in_time)}
    reasons = {trial: _reason(row) for trial, row in trials.items()}
    judge = _Judge(criterion_of)
    firsts: dict[tuple[str, str, SetAside | None], Unit] = {}
    aside: list[Aside] = []
    for row in sorted(rows, key=lambda row: place[row.trial]):
        reason, unit = reasons[row.trial], judge(row)
        key = (row.specimen, row.criterion, reason)
        first = firsts.setdefault(key, unit)
        if first is not unit:
            firsts[key], unit = _earlier(first, unit)
            reason = SetAside.LATER if reason in COUNTED else reason
        if reason is not None:
            aside.append(Aside(reason, unit))
    counted = [unit for (_, _, reason), unit in firsts.items() if reason is None]
    tested = tuple(unit for unit in counted if _has_result(unit))
    missing = tuple(unit for unit in counted if not _has_result(unit))
    return Evidence(tested, missing, tuple(aside), judge.latest)


def cell_key(row: TestedRow) -> CellKey:
    """Return the cell that an observation belongs to."""
    return CellKey(row.criterion, row.maker, row.format)


def _earlier(first: Unit, second: Unit) -> tuple[Unit, Unit]:
    """Return two units in order; within one trial the time of observation decides, then the id."""
    one, other = first.row, second.row
    if one.trial == other.trial and (other.at, other.observation) < (one.at, one.observation):
        return second, first
    return first, second


def _reason(row: TestedRow) -> SetAside | None:
    return next((reason for reason, applies in RULES if applies(row)), None)


def _has_result(unit: Unit) -> bool:
    return unit.grade is not None or unit.row.choice is not None or unit.faulty is not None


class _Judge:
    """Grades rows by the rubric each was graded with, remembering what it has seen."""

    def __init__(self, criterion_of: CriterionOf) -> None:
        self._criterion_of = criterion_of
        self._known: dict[tuple[str, str], Criterion] = {}
        self._judged: dict[tuple[str, str, float | None, bool], tuple[float | None, bool | None]] = {}
        self.latest: dict[str, Criterion] = {}

    def __call__(self, row: TestedRow) -> Unit:
        key = (row.rubric, row.criterion, row.grade, row.not_testable)
        if row.grade is None or key not in self._judged:
            self._judged[key] = self._judge(row)
        return Unit(row, *self._judged[key])

    def _judge(self, row: TestedRow) -> tuple[float | None, bool | None]:
        criterion = self._criterion(row)
        if row.not_testable:
            return None, None
        grade = row.grade
        if grade is None and row.reading is not None:
            grade = criterion.propose(row.reading, row.censored)
        if grade is None or criterion.fault_line is None:
            return grade, None
        return grade, criterion.is_fault(grade)

    def _criterion(self, row: TestedRow) -> Criterion:
        key = (row.rubric, row.criterion)
        if key not in self._known:
            self._known[key] = self._criterion_of(*key)
        self.latest[row.criterion] = self._known[key]
        return self._known[key]
