"""What is known of each cell (a criterion, a maker, a format) before anything is decided, and all its numbers."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from qcledger.findings.evidence import Aside, CellKey, Evidence, Unit, cell_key
from qcledger.findings.field import Field
from qcledger.findings.finding import Apart, TraitSummary
from qcledger.findings.lots import Lot
from qcledger.findings.trail import grades_of
from qcledger.records import TestedRow
from qcledger.rubric import Criterion
from qcledger.stats.clustered import lot_aware_limits
from qcledger.stats.proportion import Interval, clopper_pearson_limits, wilson_limits
from qcledger.vocab import Format, Severity

LEVEL = 0.95
"""Confidence of every interval shown; a limit on one side only is one-sided at the same level."""

_FORMATS = {format_: place for place, format_ in enumerate(Format)}
_SEVERITIES = {severity: place for place, severity in enumerate(Severity)}


@dataclass
class Cell:
    """One cell: its lots or, for a trait, its units; what could not be tested; what is set apart."""

    key: CellKey
    lots: Sequence[Lot] = ()
    units: list[Unit] = field(default_factory=list)
    missing: list[Unit] = field(default_factory=list)
    aside: list[Aside] = field(default_factory=list)

    @property
    def row(self) -> TestedRow:
        """Any row of the cell: maker and format are the same in each."""
        if self.lots:
            return self.lots[0].row
        return (self.units or self.missing or [left.unit for left in self.aside])[0].row

    @property
    def apart(self) -> tuple[Apart, ...]:
        """What was set apart, counted by reason."""
        number = Counter(left.reason for left in self.aside)
        faulty = Counter(left.reason for left in self.aside if left.unit.faulty)
        return tuple(Apart(reason, number[reason], faulty[reason]) for reason in sorted(number))


@dataclass(frozen=True, slots=True)
class Numbers:
    """Intervals of one cell; see `Finding`. `lots_allow` is the one-sided lot-aware upper limit."""

    wilson: Interval
    lot_aware: Interval
    still_allowed: float
    lots_allow: float


def cells_of(evidence: Evidence, fields: Mapping[str, Field]) -> list[Cell]:
    """Return every cell in which something was tested, missing or set apart, in the order in which it is told.

    That is by severity and title of the criterion, traits last, then by the maker's name and by format.
    """
    cells: dict[CellKey, Cell] = {}

    def cell(key: CellKey) -> Cell:
        if key not in cells:
            cells[key] = Cell(key)
        return cells[key]

    for criterion, everyone in fields.items():
        for (maker, form), lots in everyone.by_cell.items():
            cell(CellKey(criterion, maker, form)).lots = lots
    for unit in evidence.units:
        if unit.faulty is None:
            cell(cell_key(unit.row)).units.append(unit)
    for unit in evidence.missing:
        cell(cell_key(unit.row)).missing.append(unit)
    for left in evidence.aside:
        cell(cell_key(left.unit.row)).aside.append(left)
    places = {key: _place(criterion) for key, criterion in evidence.criteria.items()}
    return sorted(
        cells.values(),
        key=lambda one: (
            places[one.key.criterion],
            one.row.maker_name.casefold(),
            one.key.maker,
            _FORMATS[one.key.format],
        ),
    )


def summary(cell: Cell, criterion: Criterion) -> TraitSummary:
    """Return the summary of a trait's cell; units judged by a rubric that drew a fault line count as well."""
    units = [*cell.units, *(unit for lot in cell.lots for unit in lot.units)]
    return TraitSummary(
        criterion=criterion,
        maker=cell.key.maker,
        maker_name=cell.row.maker_name,
        format=cell.key.format,
        tested=len(units),
        grades=grades_of(unit.grade for unit in units),
        choices=Counter(unit.row.choice for unit in units if unit.row.choice is not None),
        missing=len(cell.missing),
    )


def all_numbers(cells: Sequence[Cell]) -> Iterator[Numbers]:
    """Yield the intervals of every cell, computed for all at once."""
    lots = [lot for cell in cells for lot in cell.lots]
    faulty, tested = [lot.faulty for lot in lots], [lot.tested for lot in lots]
    cell_of = [number for number, cell in enumerate(cells) for _ in cell.lots]
    some = [sum(lot.faulty for lot in cell.lots) for cell in cells]
    total = [sum(lot.tested for lot in cell.lots) for cell in cells]
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


def _place(criterion: Criterion) -> tuple[bool, int, str, str]:
    trait = criterion.fault_line is None
    severity = _SEVERITIES[criterion.severity] if criterion.severity else len(_SEVERITIES)
    return (trait, severity, criterion.title.casefold(), criterion.key)
