"""What was seen, as it becomes an observation; and the taking back of it, which is an amendment too."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Final

from qcledger.errors import bad
from qcledger.records import Observation
from qcledger.vocab import TAKEN_BACK, Censored

if TYPE_CHECKING:
    from qcledger.rubric import Criterion

NO_REASON: Final = "no reason noted"
"""Why something could not be tested, when only the key was pressed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What was seen of one criterion: a grade, a choice, a reading, or that it could not be tested."""

    grade: float | None = None
    choice: str | None = None
    reading: float | None = None
    censored: Censored = Censored.EXACT
    not_testable: str | None = None
    note: str = ""

    @property
    def is_open(self) -> bool:
        """Whether nothing stands, either because nothing was recorded or because it was taken back."""
        nothing = self.grade is None and self.choice is None and self.reading is None and self.not_testable is None
        return nothing or self.not_testable == TAKEN_BACK

    def check(self, criterion: "Criterion", where: str = "") -> None:
        """Refuse what the criterion does not offer, with one line that says `where` and what it does offer."""
        criterion.check(self.grade, self.choice, self.reading, self.censored, self.not_testable, where)


def result_of(seen: Observation | None) -> Result:
    """Return what an observation says; an open result for None."""
    if seen is None:
        return Result()
    return Result(
        grade=seen.grade,
        choice=seen.choice,
        reading=seen.reading,
        censored=seen.censored,
        not_testable=seen.not_testable,
        note=seen.note,
    )


def half_step(result: Result, criterion: "Criterion") -> Result:
    """Return the result half a grade worse, or a whole one better again when it was half already.

    Raises
    ------
    BadInput
        When there is no grade, or the criterion offers no half steps.
    """
    if result.grade is None:
        raise bad(criterion.title, "+ without a grade", "a digit first, then +")
    grade = result.grade + 0.5 if result.grade == int(result.grade) else result.grade - 0.5
    if grade not in criterion.grades:
        offered = "half steps up to " + f"{criterion.grades[-1]:g}" if criterion.half_steps else "whole grades only"
        raise bad(criterion.title, f"grade {grade:g}", offered)
    return replace(result, grade=grade)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pencil:
    """Who writes, when, and under which id: everything about an observation but what was seen."""

    id: str
    tester: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Hand:
    """Who writes, when, and what makes ids."""

    tester: str
    now: Callable[[], datetime]
    new_id: Callable[[], str]

    def pencil(self) -> Pencil:
        """Return what an observation is written with."""
        return Pencil(id=self.new_id(), tester=self.tester, at=self.now())


def observe(
    result: Result, *, trial: str, criterion: "Criterion", rubric: str, stage: str | None, pencil: Pencil
) -> Observation:
    """Return a first observation of a criterion in a trial.

    Raises
    ------
    BadInput
        When the criterion does not offer this result.
    """
    result.check(criterion)
    return Observation(
        id=pencil.id,
        trial=trial,
        criterion=criterion.key,
        rubric=rubric,
        tester=pencil.tester,
        at=pencil.at,
        grade=result.grade,
        choice=result.choice,
        reading=result.reading,
        censored=result.censored,
        not_testable=result.not_testable,
        stage=stage,
        note=result.note,
    )


def amend(older: Observation, result: Result, *, criterion: "Criterion", reason: str, pencil: Pencil) -> Observation:
    """Return the observation that supersedes `older`; trial, criterion, rubric and stage stay.

    Raises
    ------
    BadInput
        When the criterion does not offer this result, or no reason is given.
    """
    if not reason:
        raise bad("reason", "", "why the older observation is superseded")
    fresh = observe(
        result, trial=older.trial, criterion=criterion, rubric=older.rubric, stage=older.stage, pencil=pencil
    )
    return replace(fresh, severity=older.severity, supersedes=older.id, reason=reason)


def take_back(
    newest: Observation, before: Observation | None, *, criterion: "Criterion", pencil: Pencil
) -> Observation:
    """Return the amendment that restores what stood before `newest`: an older result, or that nothing stands."""
    restored = Result(not_testable=TAKEN_BACK) if before is None else result_of(before)
    return amend(newest, restored, criterion=criterion, reason=TAKEN_BACK, pencil=pencil)
