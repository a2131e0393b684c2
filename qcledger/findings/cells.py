"""What is known of each cell (a criterion, a maker, a format) before anything is decided, and all its numbers."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import starmap
from typing import NamedTuple

import numpy as np

from qcledger.findings.columns import Ints
from qcledger.findings.evidence import Aside, CellKey, Evidence, Unit, cell_key
from qcledger.findings.field import CriterionField
from qcledger.findings.finding import Apart, TraitSummary
from qcledger.findings.lots import TestedLot
from qcledger.findings.trail import grades_of
from qcledger.records import TestedRow
from qcledger.rubric import Criterion
from qcledger.stats.clustered import lot_aware_limits
from qcledger.stats.proportion import Interval, clopper_pearson_limits, wilson_limits
from qcledger.vocab import Format, Severity

LEVEL = 0.95
"""Confidence of every interval shown; a limit on one side only is one-sided at the same level."""

_FORMATS: dict[str, int] = {format_: place for place, format_ in enumerate(Format)}
_SEVERITIES = {severity: place for place, severity in enumerate(Severity)}


@dataclass
class Cell:
    """One cell: any row of it; for a trait, where its units stand; what could not be tested; what is set apart."""

    key: CellKey
    row: TestedRow
    places: list[int] = field(default_factory=list)
    missing: list[Unit] = field(default_factory=list)
    aside: list[Aside] = field(default_factory=list)

    @property
    def apart(self) -> tuple[Apart, ...]:
        """What was set apart, counted by reason."""
        if not self.aside:
            return ()
        number = Counter(left.reason for left in self.aside)
        faulty = Counter(left.reason for left in self.aside if left.unit.faulty)
        return tuple(Apart(reason, number[reason], faulty[reason]) for reason in sorted(number))


class Numbers(NamedTuple):
    """Intervals of one cell; see `Finding`. `lots_allow` is the one-sided lot-aware upper limit."""

    wilson: Interval
    lot_aware: Interval
    still_allowed: float
    lots_allow: float


def cells_of(evidence: Evidence, fields: Mapping[str, CriterionField]) -> list[Cell]:
    """Return every cell in which something was tested, missing or set apart, in the order in which it is told.

    That is by severity and title of the criterion, traits last, then by the maker's name and by format.
    """
    cells: dict[CellKey, Cell] = {}

    def cell(row: TestedRow) -> Cell:
        key = cell_key(row)
        if key not in cells:
            cells[key] = Cell(key, row)
        return cells[key]

    for criterion, everyone in fields.items():
        for number in np.flatnonzero(everyone.cells.tested).tolist():
            row = everyone.shelf.rows[everyone.shelf.cell.lots[number][0]]
            key = CellKey(criterion, row.maker, row.format)
            cells[key] = Cell(key, row)
    not_judged = np.flatnonzero(evidence.faulty < 0).tolist()
    facts = evidence.rows.some(not_judged).together(*CellKey._fields)
    for place, key in zip(not_judged, starmap(CellKey, facts), strict=True):
        (cells.get(key) or cell(evidence.rows[place])).places.append(place)
    for unit in evidence.missing:
        cell(unit.row).missing.append(unit)
    for left in evidence.aside:
        cell(left.unit.row).aside.append(left)
    places = {key: _place(criterion) for key, criterion in evidence.criteria.items()}
    return sorted(
        cells.values(),
        key=lambda one: (
            places[one.key.criterion],
            one.row.maker_name.casefold(),
            one.key.maker,
            _FORMATS.get(one.key.format, len(_FORMATS)),
            one.key.format,
        ),
    )


def summary(cell: Cell, evidence: Evidence, criterion: Criterion, lots: Sequence[TestedLot]) -> TraitSummary:
    """Return the summary of a trait's cell; `lots`, judged by a rubric that drew a fault line, count as well."""
    units = [unit for lot in lots for unit in lot.units]
    grades = evidence.grades[cell.places]
    choices = [*evidence.rows.some(cell.places).column("choice"), *(unit.row.choice for unit in units)]
    return TraitSummary(
        criterion=criterion,
        maker=cell.key.maker,
        maker_name=cell.row.maker_name,
        format=cell.key.format,
        tested=len(choices),
        grades=grades_of((*grades[~np.isnan(grades)].tolist(), *(unit.grade for unit in units))),
        choices=Counter(choice for choice in choices if choice is not None),
        missing=len(cell.missing),
    )


def all_numbers(cells: Sequence[Cell], fields: Mapping[str, CriterionField]) -> Iterator[Numbers]:
    """Yield the intervals of every cell, computed for all at once."""
    faulty, tested, cell_of = _lot_columns(cells, fields)
    some, total = (np.bincount(cell_of, values, len(cells)) for values in (faulty, tested))
    one_sided = 2 * LEVEL - 1
    columns = (
        *wilson_limits(some, total, LEVEL),
        *lot_aware_limits(faulty, tested, cell_of, len(cells), LEVEL),
        clopper_pearson_limits(some, total, one_sided)[1],
        lot_aware_limits(faulty, tested, cell_of, len(cells), one_sided)[1],
    )
    for low, high, lot_low, lot_high, allowed, lots_allow in zip(*(c.tolist() for c in columns), strict=True):
        wilson = Interval(low, high, LEVEL, "Wilson")
        yield Numbers(wilson, Interval(lot_low, lot_high, LEVEL, "lot-aware (Korn-Graubard)"), allowed, lots_allow)


def _lot_columns(cells: Sequence[Cell], fields: Mapping[str, CriterionField]) -> tuple[Ints, Ints, Ints]:
    """Return faulty and tested specimens of every lot of every cell, and the number of its cell."""
    place = {cell.key: number for number, cell in enumerate(cells)}
    none = np.zeros(0, np.intp)
    faulty, tested, cell_of = [none], [none], [none]
    for criterion, everyone in fields.items():
        names = everyone.shelf.cell.names
        number = np.array([place.get(CellKey(criterion, *name), -1) for name in names], np.intp)
        of_lot = number[everyone.shelf.cell.of_lot]
        seen = (everyone.tested > 0) & (of_lot >= 0)
        faulty.append(everyone.faulty[seen])
        tested.append(everyone.tested[seen])
        cell_of.append(of_lot[seen])
    return np.concatenate(faulty), np.concatenate(tested), np.concatenate(cell_of)


def _place(criterion: Criterion) -> tuple[bool, int, str, str]:
    trait = criterion.fault_line is None
    severity = _SEVERITIES[criterion.severity] if criterion.severity else len(_SEVERITIES)
    return (trait, severity, criterion.title.casefold(), criterion.key)
