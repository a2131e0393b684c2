"""What taking an import back, or anything else that changes rows, does to cells: their counts before and after."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from qcledger.bench.imported import Going, Returning
from qcledger.bench.result import Result
from qcledger.findings.evidence import CellKey, SetAside, Unit, cell_key, gather
from qcledger.records import TestedRow
from qcledger.report.amended import Counted, scales_of, with_result
from qcledger.rubric import Criterion

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

_Place = tuple[CellKey, bool]
"""A cell, and whether it is that of the older notes beside it."""


@dataclass(frozen=True, slots=True)
class CountChange:
    """A cell whose count changes.

    Parameters
    ----------
    cell
        Maker, format and criterion in words.
    is_older
        Whether these are its older notes, which are counted beside it.
    before, after
        Its faulty of its tested specimens, in words.
    """

    cell: str
    is_older: bool
    before: str
    after: str

    def line(self) -> str:
        """Return the change on one line: ``Maker, half pan, rewetting: 4 of 11 before, 3 of 11 after``."""
        older = " (older notes)" if self.is_older else ""
        return f"{self.cell}{older}: {self.before} before, {self.after} after"


def cells(ledger: "Ledger", weighed: Going | Returning) -> list[CountChange]:
    """Return each cell whose count changes, in the order of their names; older notes beside a cell by themselves.

    What was tested in a session that is still blind is left out: its counts would tell whose specimen a code stands
    for.
    """
    sessions = {row.id for row in weighed.sessions}
    rows = ledger.tested_rows()
    instead = weighed.instead
    keys = {cell_key(row) for row in rows if row.observation in instead or row.session in sessions}
    before = [row for row in rows if cell_key(row) in keys]
    after = [_after(row, instead, sessions, void=isinstance(weighed, Going)) for row in before]
    return between(ledger, before, after)


def between(ledger: "Ledger", before: Sequence[TestedRow], after: Sequence[TestedRow]) -> list[CountChange]:
    """Return each cell whose count is another with some rows as they are `after`, in the order of their names."""
    scales = scales_of(ledger, before)
    then, now = _counts(before, scales), _counts(after, scales)
    names = {cell_key(row): _name(row, scales[row.rubric, row.criterion]) for row in (*before, *after)}
    nothing = Counted(0, 0, 0)
    changed = [place for place in then | now if then.get(place, nothing) != now.get(place, nothing)]
    found = (
        CountChange(
            names[key],
            is_older,
            _words(then.get((key, is_older), nothing)),
            _words(now.get((key, is_older), nothing)),
        )
        for key, is_older in changed
    )
    return sorted(found, key=lambda one: (one.cell, one.is_older))


def _after(
    row: TestedRow, instead: Mapping[str, Result], sessions: Collection[str | None], *, void: bool
) -> TestedRow:
    changed = with_result(row, instead[row.observation]) if row.observation in instead else row
    return replace(changed, void=void) if row.session in sessions else changed


def _counts(rows: Iterable[TestedRow], scales: Mapping[tuple[str, str], Criterion]) -> dict[_Place, Counted]:
    evidence = gather(rows, lambda rubric, key: scales[rubric, key])
    units: dict[_Place, list[Unit]] = defaultdict(list)
    for unit in (*evidence.units, *(evidence.labels.units if evidence.labels else ())):
        units[cell_key(unit.row), False].append(unit)
    for one in evidence.aside:
        if one.reason is SetAside.OLDER_NOTES and not one.unit.row.not_testable:
            units[cell_key(one.unit.row), True].append(one.unit)
    return {place: _counted(some) for place, some in units.items()}


def _counted(units: Collection[Unit]) -> Counted:
    judged = [unit.faulty for unit in units if unit.faulty is not None]
    return Counted(sum(judged), len(judged), len(units))


def _words(counted: Counted) -> str:
    return counted.words() if counted.seen else "none"


def _name(row: TestedRow, criterion: Criterion) -> str:
    return f"{row.maker_name}, {row.format}, {criterion.title[:1].lower()}{criterion.title[1:]}"
