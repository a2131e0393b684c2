"""From a pressed key to records that are written together: observation, its trial, and the start of the stage."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

from qcledger.bench.result import Pencil, Result, amend, observe, take_back
from qcledger.bench.runsheet import Place, RunSheet
from qcledger.records import Observation, Record, Stage, Trial
from qcledger.vocab import Occasion

REGRADED: Final = "regraded at the bench"
"""The reason of an observation that replaces one at the same place, when only a key was pressed."""


@dataclass(frozen=True, slots=True)
class Written:
    """What one press of a key writes: the observation at `place`, after what it needs to stand on.

    `stood` is the sheet before it.
    """

    records: tuple[Record, ...]
    place: Place
    observation: Observation
    stood: RunSheet

    def on(self, sheet: RunSheet) -> RunSheet:
        """Return the sheet as it is once this is on disk."""
        for record in self.records:
            sheet = sheet.with_stage(record) if isinstance(record, Stage) else sheet
        return sheet.with_seen(self.place, self.observation)

    def off(self, sheet: RunSheet, before: Observation | None) -> RunSheet:
        """Return the sheet without this, `before` at its place again; what else was done since stays."""
        if sheet.seen.get(self.place) == self.observation:
            sheet = sheet.with_seen(self.place, before) if before is not None else sheet.without(self.place)
        for record in self.records:
            if isinstance(record, Trial):
                sheet = sheet.with_trial(self.place.line, None)
            elif isinstance(record, Stage):
                sheet = replace(sheet, stages=self.stood.stages)
        return sheet


def write(
    sheet: RunSheet,
    place: Place,
    result: Result,
    *,
    pencil: Pencil,
    new_id: Callable[[], str],
    reason: str = REGRADED,
) -> Written:
    """Return what to write for a result at a place; what stands there is superseded, for `reason`.

    Raises
    ------
    BadInput
        When the criterion does not offer this result; nothing is to be written then.
    """
    criterion = sheet.criteria[place.criterion]
    standing = sheet.seen.get(place)
    if standing is not None:
        seen = amend(standing, result, criterion=criterion, reason=reason, pencil=pencil)
        return Written((seen,), place, seen, sheet)
    trial = _trial(sheet, place, pencil, new_id)
    seen = observe(
        result,
        trial=trial.id,
        criterion=criterion,
        rubric=sheet.rubrics[place.criterion],
        stage=sheet.stage,
        pencil=pencil,
    )
    stage = _started(sheet, pencil, new_id)
    first = (trial,) if sheet.lines[place.line].trial is None else ()
    return Written((*((stage,) if stage else ()), *first, seen), place, seen, sheet)


def write_back(sheet: RunSheet, place: Place, before: Observation | None, *, pencil: Pencil) -> Written:
    """Return what to write to take back what stands at a place, restoring what stood `before` it."""
    newest = sheet.seen[place]
    seen = take_back(newest, before, criterion=sheet.criteria[place.criterion], pencil=pencil)
    return Written((seen,), place, seen, sheet)


def _trial(sheet: RunSheet, place: Place, pencil: Pencil, new_id: Callable[[], str]) -> Trial:
    line = sheet.lines[place.line]
    return Trial(
        id=line.trial or new_id(),
        specimen=line.specimen.id,
        occasion=Occasion.BENCH,
        at=pencil.at,
        session=sheet.session.id,
        run_row=line.row.id,
    )


def _started(sheet: RunSheet, pencil: Pencil, new_id: Callable[[], str]) -> Stage | None:
    """Return the stage's record with the time of its first grade; None when it has begun already."""
    row = sheet.stage_row
    if row is None:
        return Stage(
            id=new_id(), session=sheet.session.id, name=sheet.stage, started_at=pencil.at, tester=pencil.tester
        )
    if row.started_at is not None:
        return None
    return replace(row, started_at=pencil.at, tester=row.tester or pencil.tester)
