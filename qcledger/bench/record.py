"""From a pressed key to records that are written together: an observation, after what it stands on."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

from qcledger.bench.result import Pencil, Result, amend, observe, take_back
from qcledger.bench.runsheet import SheetSquare, ToGrade
from qcledger.records import Observation, Record, Trial

S = TypeVar("S", bound=ToGrade)


@dataclass(frozen=True, slots=True)
class WrittenGrade(Generic[S]):
    """What one press of a key writes: the observation at `place`, after what it needs to stand on.

    `stood` is the sheet before it.
    """

    records: tuple[Record, ...]
    place: SheetSquare
    observation: Observation
    stood: S

    def on(self, sheet: S) -> S:
        """Return the sheet as it is once this is on disk."""
        for record in self.records:
            sheet = sheet.with_record(record)
        return sheet.with_seen(self.place, self.observation)

    def off(self, sheet: S, before: Observation | None) -> S:
        """Return the sheet without this, `before` at its place again; what else was done since stays."""
        if sheet.seen.get(self.place) == self.observation:
            sheet = sheet.with_seen(self.place, before) if before is not None else sheet.without(self.place)
        for record in self.records:
            if isinstance(record, Trial):
                sheet = sheet.with_trial(self.place.line, None)
            else:
                sheet = sheet.without_record(record, self.stood)
        return sheet


def write(
    sheet: S, place: SheetSquare, result: Result, *, pencil: Pencil, new_id: Callable[[], str], reason: str = ""
) -> WrittenGrade[S]:
    """Return what to write for a result at a place; what stands there is superseded, for `reason` or the sheet's.

    Raises
    ------
    BadInput
        When the criterion does not offer this result; nothing is to be written then.
    """
    standing = sheet.seen.get(place)
    if standing is not None:
        why = reason or sheet.REGRADED
        seen = amend(standing, result, criterion=sheet.scale(place), reason=why, pencil=pencil)
        return WrittenGrade((seen,), place, seen, sheet)
    trial = sheet.trial(place.line, pencil, new_id)
    seen = observe(
        result,
        trial=trial.id,
        criterion=sheet.criteria[place.criterion],
        rubric=sheet.rubrics[place.criterion],
        stage=sheet.stage,
        pencil=pencil,
    )
    first = (trial,) if sheet.lines[place.line].trial is None else ()
    return WrittenGrade((*sheet.before(place, pencil, new_id), *first, seen), place, seen, sheet)


def write_back(sheet: S, place: SheetSquare, before: Observation | None, *, pencil: Pencil) -> WrittenGrade[S]:
    """Return what to write to take back what stands at a place, restoring what stood `before` it."""
    seen = take_back(sheet.seen[place], before, criterion=sheet.scale(place), pencil=pencil)
    return WrittenGrade((seen,), place, seen, sheet)
