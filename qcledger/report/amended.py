"""What an amendment does to a cell: its faulty and tested specimens before and after, as findings count them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from qcledger.bench.amending import Amendable
from qcledger.bench.result import Result
from qcledger.bench.scales import renewed
from qcledger.findings.evidence import cell_key, gather
from qcledger.findings.words import how_many
from qcledger.records import TestedRow
from qcledger.report.criteria import criteria_of
from qcledger.rubric import Criterion

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

HIDDEN = "its cell is not shown while the sheet is blind"
"""Said in place of counts: they would tell whose specimen a code stands for."""
ELSEWHERE = "it counts in no cell"
"""Said of an observation that findings set aside, as one of a void session or on other paper."""


@dataclass(frozen=True, slots=True)
class Counted:
    """A cell's faulty and tested specimens, and the specimens among them that a fault line does not judge.

    Parameters
    ----------
    faulty, tested
        Specimens that are faulty, and all whose grade was held against a fault line.
    seen
        Specimens with any result: for a trait this is all there is to count.
    """

    faulty: int
    tested: int
    seen: int

    def words(self) -> str:
        """Return the count: ``4 of 11``; of a trait ``11 specimens``."""
        return f"{self.faulty} of {self.tested}" if self.tested else how_many(self.seen, "specimen")


@dataclass(frozen=True, slots=True)
class RecountedCell:
    """Every observation of the cell that one belongs to, for counting it with another result in its place.

    Parameters
    ----------
    name
        Maker, format and criterion in words.
    observation
        The id of the one that is amended.
    rows
        What was tested there.
    scales
        Each criterion by rubric and key.
    """

    name: str
    observation: str
    rows: tuple[TestedRow, ...]
    scales: "dict[tuple[str, str], Criterion]"

    def counted(self, instead: Result | None = None) -> Counted:
        """Return the counts as they are, or with another result in place of the observation's."""
        rows = self.rows if instead is None else tuple(self._with(row, instead) for row in self.rows)
        return _counted(rows, self.scales)

    def as_it_stands(self) -> str:
        """Return the counts in a line: ``Maker, half pan, rewetting: 4 of 11 as it stands``."""
        return f"{self.name}: {self.counted().words()} as it stands"

    def told(self, before: Counted, now: Counted) -> str:
        """Return both counts in a line: ``Maker, half pan, rewetting: 4 of 11 before, 3 of 11 after``."""
        if before == now:
            return f"{self.name}: {before.words()} before and after"
        return f"{self.name}: {before.words()} before, {now.words()} after"

    def preview(self, instead: Result) -> str:
        """Return what the counts are, and what they would be with another result."""
        return self.told(self.counted(), self.counted(instead))

    def _with(self, row: TestedRow, instead: Result) -> TestedRow:
        return with_result(row, instead) if row.observation == self.observation else row


def with_result(row: TestedRow, instead: Result) -> TestedRow:
    """Return a row as it would be with another result in place of its own."""
    return replace(
        row,
        grade=instead.grade,
        choice=instead.choice,
        reading=instead.reading,
        censored=instead.censored,
        not_testable=instead.not_testable is not None,
        why_not=instead.not_testable,
    )


def cell_of(ledger: "Ledger", found: Amendable) -> RecountedCell | None:
    """Return the cell of what may be amended; None while its session is blind, and where findings hold none."""
    if found.line.blind:
        return None
    key = found.observation.criterion
    rows = ledger.tested_rows(criterion=renewed(ledger).get(key, key))
    mine = next((row for row in rows if row.observation == found.observation.id), None)
    if mine is None:
        return None
    of_cell = tuple(row for row in rows if cell_key(row) == cell_key(mine))
    name = f"{mine.maker_name}, {mine.format}, {found.criterion.title[:1].lower()}{found.criterion.title[1:]}"
    return RecountedCell(name, found.observation.id, of_cell, scales_of(ledger, of_cell))


def why_none(found: Amendable) -> str:
    """Return why there is no cell to be counted."""
    return HIDDEN if found.line.blind else ELSEWHERE


def scales_of(ledger: "Ledger", rows: Iterable[TestedRow]) -> "dict[tuple[str, str], Criterion]":
    """Return the criterion of each of these rows, by rubric and key."""
    criterion_of = criteria_of(ledger)
    return {(row.rubric, row.criterion): criterion_of(row.rubric, row.criterion) for row in rows}


def _counted(rows: Sequence[TestedRow], scales: "dict[tuple[str, str], Criterion]") -> Counted:
    gathered = gather(rows, lambda rubric, key: scales[rubric, key])
    evidence = gathered.labels or gathered  # a cell is of one criterion: grades of a label, or of pieces
    judged = evidence.faulty[evidence.faulty >= 0]
    return Counted(int(judged.sum()), len(judged), len(evidence.rows))
