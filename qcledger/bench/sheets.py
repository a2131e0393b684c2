"""Run sheets out of the ledger: which are at work, what stands on one, and how a new one begins."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from itertools import chain
from typing import TYPE_CHECKING

from qcledger.bench import stages
from qcledger.bench.cautions import SheetCautions, of_sheet
from qcledger.bench.known import standing_labels
from qcledger.bench.runsheet import RunSheet, SheetLine, SheetSquare, judged_at, progress
from qcledger.errors import bad
from qcledger.records import Comparison, LabelVersion, Observation, RunRow, Session, Specimen, Stage, Trial
from qcledger.rubric.colour_index import compared_as
from qcledger.settings import shipped
from qcledger.vocab import Occasion

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.rubric import Criterion, Rubric
    from qcledger.rubric.pigments import Pigment, Pigments


@dataclass(frozen=True, slots=True)
class SheetHead:
    """One sheet at work, as a list shows it: what it is, the stage to do, and how far it has come.

    `after` says how long after the sheet's start its stage is due by its rubrics; None where they do not say.
    """

    session: Session
    comparison: str
    stage: str
    done: int
    of: int
    after: timedelta | None = None


def open_sheets(ledger: "Ledger") -> list[SheetHead]:
    """Return the sheets of sessions that are neither closed nor void, the latest first."""
    from qcledger.ledger.queries_sheet import open_sessions

    with ledger.reading() as connection:
        sessions = open_sessions(connection)
    return [_head(_Parts(ledger, session)) for session in sessions]


def _head(parts: "_Parts") -> SheetHead:
    sheet = parts.sheet(None)
    done, of = progress(sheet)
    return SheetHead(sheet.session, sheet.comparison, sheet.stage, done, of, parts.due.get(sheet.stage))


def load(ledger: "Ledger", session_id: str, stage: str | None = None) -> RunSheet:
    """Return a session's run sheet at a stage; without one, at the first stage that is not finished.

    Raises
    ------
    BadInput
        When there is no such session.
    """
    session = ledger.get(Session, session_id)
    if session is None:
        raise bad("session", session_id, "the id of a session in this ledger")
    parts = _Parts(ledger, session)
    return replace(parts.sheet(stage), to_mind=parts.cautions())


def at_every_stage(ledger: "Ledger", session: Session) -> tuple[RunSheet, ...]:
    """Return a session's run sheet at each of its stages, in their order, without its cautions."""
    parts = _Parts(ledger, session)
    return tuple(parts.sheet(name) for name in parts.stage_names)


def is_done(sheet: RunSheet) -> bool:
    """Say whether a sheet's stage was ended, or every place of it has a result."""
    row = sheet.stage_row
    done, of = progress(sheet)
    return (row is not None and row.ended_at is not None) or done == of


def _stage_names(planned: Iterable[Stage], rubrics: "Sequence[Rubric]", order: Sequence[str]) -> Sequence[str]:
    """Return the stages a session has in their order: those planned, or else those its criteria call for."""
    called = {criterion.stage for rubric in rubrics for criterion in rubric.criteria.values() if criterion.stage}
    return stages.arranged({stage.name for stage in planned} or called, order) or order[:1]


def _criteria(rubrics: "Sequence[Rubric]", stage: str, only: Collection[str] = ()) -> "Mapping[str, Criterion]":
    """Return what is judged at a stage, `only` of these keys; of two rubrics with the same key the first counts."""
    found: dict[str, Criterion] = {}
    for rubric in rubrics:
        for key, criterion in rubric.criteria.items():
            if judged_at(criterion, stage) and (not only or key in only):
                found.setdefault(key, criterion)
    return found


class _Parts:
    """The rows of one session, looked up once for all of its stages."""

    def __init__(self, ledger: "Ledger", session: Session) -> None:
        from qcledger.ledger.queries_sheet import standing

        self._ledger = ledger
        self._session = session
        self._comparison = ledger.get(Comparison, session.comparison)
        self._rubrics = [ledger.rubric(kept) for kept in (self._comparison.rubrics if self._comparison else ())]
        rows = stages.by_name(ledger, session)
        order = stages.in_order(self._rubrics)
        self._order = stages.arranged({*rows, *order}, order)
        self._stages = [rows[name] for name in stages.arranged(rows, order)]
        self.due = stages.due(self._rubrics)
        self._lines = tuple(self._read_lines())
        with ledger.reading() as connection:
            self._standing: list[Observation] = standing(connection, session.id)

    def _read_lines(self) -> Iterable[SheetLine]:
        trials = {trial.run_row: trial.id for trial in self._ledger.rows(Trial, session=self._session.id)}
        rows = self._ledger.rows(RunRow, session=self._session.id)
        for row in sorted(rows, key=lambda row: (row.position, row.id)):
            if (specimen := self._ledger.get(Specimen, row.specimen)) is not None:
                yield SheetLine(row=row, specimen=specimen, trial=trials.get(row.id))

    @property
    def stage_names(self) -> Sequence[str]:
        """The stages of the session in their order."""
        return _stage_names(self._stages, self._rubrics, self._order)

    def sheet(self, stage: str | None) -> RunSheet:
        """Return the sheet at a stage, or at the first that is not finished, without its cautions."""
        names = [stage] if stage is not None else self.stage_names
        sheets = [self._at(name) for name in names]
        return next((sheet for sheet in sheets if not is_done(sheet)), sheets[-1])

    def _at(self, stage: str) -> RunSheet:
        found = _criteria(self._rubrics, stage, self._session.criteria)
        hidden = self._session.is_blind
        criteria = {key: one for key, one in found.items() if not (hidden and one.names_in_view)}
        return RunSheet(
            session=self._session,
            comparison=self._comparison.title if self._comparison else "",
            stages=tuple(self._stages),
            stage=stage,
            lines=self._lines,
            criteria=criteria,
            rubrics={key: rubric.hash for rubric in reversed(self._rubrics) for key in rubric.criteria},
            seen=self._seen(criteria),
            order=self._order,
        )

    def _seen(self, criteria: "Mapping[str, Criterion]") -> dict[SheetSquare, Observation]:
        number = {line.trial: n for n, line in enumerate(self._lines) if line.trial}
        return {
            SheetSquare(number[seen.trial], seen.criterion): seen
            for seen in self._standing
            if seen.trial in number and seen.criterion in criteria
        }

    def cautions(self) -> SheetCautions:
        """Return what the whole sheet calls for, whatever the stage; what only unpacking asks for is not of it."""
        from qcledger.rubric import pigments

        reference = pigments.load(shipped("rubrics") / "pigments.yaml")
        asked = {
            rubric.hash: [one for one in rubric.criteria.values() if self._asks(one)] for rubric in self._rubrics
        }
        rubrics = [rubric for rubric in self._rubrics if asked[rubric.hash]]
        return of_sheet(self._pigments(reference), chain(*asked.values()), rubrics, reference)

    def _asks(self, criterion: "Criterion") -> bool:
        """Say whether a criterion is judged on this sheet, at one stage or another."""
        only, hidden = self._session.criteria, self._session.is_blind
        wanted = not only or criterion.key in only
        return wanted and criterion.seen_at is Occasion.BENCH and not (hidden and criterion.names_in_view)

    def _pigments(self, reference: "Pigments") -> "Iterable[Pigment]":
        """Yield the reference's pigments that the labels on the sheet declare."""
        paints = {line.specimen.paint for line in self._lines}
        every = (label for paint in paints for label in self._ledger.rows(LabelVersion, paint=paint))
        labels = standing_labels(self._ledger, every)
        for name in {name for label in labels for name in compared_as(label.index_names)}:
            if (pigment := reference.find(name)) is not None:
                yield pigment
