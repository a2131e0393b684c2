"""What becomes of each cell of a spreadsheet: read into a row of the ledger, or left out, and why."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from qcledger.exchange.brought import Brought
from qcledger.exchange.columnmap import FIELDS, ColumnMap
from qcledger.exchange.grid import letters
from qcledger.exchange.rowreader import Filled
from qcledger.exchange.samesheet import trial_name
from qcledger.exchange.sheetrows import SheetRows, observation_name
from qcledger.exchange.table import Place, SheetRow, Spreadsheet
from qcledger.records import Observation, Record, Specimen, Trial
from qcledger.text import one_line

NEW, HERE, LEFT = "new", "here", "left out"
_OF_TEST: Final = frozenset({"tested_on", "test_note", "tester"})


@dataclass(frozen=True, slots=True)
class CellTold:
    """One cell and what became of it.

    Parameters
    ----------
    place
        Sheet (empty where a file has one), row and column, from 1.
    column
        What stands over it; empty outside the table.
    value
        What stands in it.
    what
        The field or criterion it became; empty where it is left out.
    why
        Why it is left out; empty where it is read.
    kind, subject
        The table and the row of the ledger it went to.
    """

    place: Place
    column: str
    value: str
    what: str = ""
    why: str = ""
    kind: type[Record] | None = None
    subject: str = ""

    @property
    def spot(self) -> str:
        """The cell as spreadsheet programs name it: B7."""
        return f"{letters(self.place[2])}{self.place[1]}"


@dataclass(frozen=True, slots=True)
class RowTold:
    """One row: where it begins, what it is about, whether it is new, and its cells."""

    number: int
    about: str
    state: str
    cells: tuple[CellTold, ...]


def account(
    sheet: Spreadsheet, column_map: ColumnMap, filled: Sequence[Filled], rows: SheetRows, brought: Brought
) -> Iterator[RowTold]:
    """Yield what becomes of each row, then of what is no row of the table.

    Parameters
    ----------
    sheet
        The table.
    column_map
        What its columns hold.
    filled
        What its rows say.
    rows
        What they became.
    brought
        Gives the ids.
    """
    for said in filled:
        if said.row is not None:
            became = rows.became.get(said.key)
            specimen = became.specimen if became else ""
            state = NEW if became and became.is_new else HERE
            cells = tuple(_cells(sheet, column_map, said, said.row, specimen, brought))
            yield RowTold(said.row.number, _about(said), state, cells)
    by_row: dict[tuple[str, int], list[CellTold]] = {}
    for left in sheet.left:
        told = CellTold(left.place, "", left.value, why=left.why)
        number = left.place[2] if sheet.turned else left.place[1]
        by_row.setdefault((left.place[0], number), []).append(told)
    for (_, number), cells_left in sorted(by_row.items()):
        yield RowTold(number, "", LEFT, tuple(cells_left))


def _about(said: Filled) -> str:
    parts = (said.fields.get(name) for name in ("maker", "paint", "format", "lot"))
    return one_line(" ".join(str(part) for part in parts if part)) or str(said.fields.get("sticker", ""))


def _cells(
    sheet: Spreadsheet, column_map: ColumnMap, said: Filled, row: SheetRow, specimen: str, brought: Brought
) -> Iterator[CellTold]:
    trial = brought.subject(Trial, trial_name(said))
    for column in dict.fromkeys([*row.cells, *column_map.columns]):
        target = column_map.columns.get(column)
        place, value = sheet.spot(row, column), one_line(str(row.cells.get(column, "")))
        why = said.left.get(column, "") or (_unmapped(column_map, column) if target is None else "")
        if why:
            yield CellTold(place, column, value, why=why)
            continue
        if target is None:
            continue
        for key in target.criteria:
            if key in said.results:
                subject = brought.subject(Observation, observation_name(said, key))
                yield CellTold(place, column, value, key, kind=Observation, subject=subject)
        for field in target.fields if column in row.cells else ():
            of_test = field in _OF_TEST or (
                field == "note" and bool(column_map.layout.piece or column_map.layout.join)
            )
            to_test = of_test and bool(said.results or said.fields.get("test_note"))
            kind = Trial if to_test else FIELDS[field][0]
            yield CellTold(place, column, value, field, kind=kind, subject=trial if to_test else specimen)
    for column, text in row.comments.items():
        is_test = bool(said.results or said.fields.get("test_note"))
        subject, kind = (trial, Trial) if is_test else (specimen, Specimen)
        told: Mapping[str, type[Record]] = {subject: kind}
        yield CellTold(sheet.spot(row, column), column, text, "comment", kind=told[subject], subject=subject)


def _unmapped(column_map: ColumnMap, column: str) -> str:
    layout = column_map.layout
    named = {*layout.piece, *column_map.row_key, *(join.own for join in layout.join)}
    if column in named:
        return ""
    return "the map leaves the column out" if column in column_map.left_out else "the map does not name the column"


def told_lines(told: Sequence[RowTold], records: Sequence[Record]) -> Iterator[str]:
    """Yield what becomes of each row in words: a line for the row, then one for its cells, then what is left out.

    Parameters
    ----------
    told
        What becomes of the rows.
    records
        The new rows of the ledger.
    """
    planned = {(type(record), record.id): record for record in records}
    for row in told:
        yield f"{_where(row)}: {row.state}{', ' * bool(row.about)}{row.about}"
        read = [_became(cell, planned) for cell in row.cells if cell.what]
        if read:
            yield f"  {', '.join(read)}"
        yield from (f"  {cell.spot} {_quoted(cell)} is left out: {cell.why}" for cell in row.cells if cell.why)


def _where(row: RowTold) -> str:
    sheet = next((cell.place[0] for cell in row.cells), "")
    return f"sheet {sheet}, row {row.number}" if sheet else f"row {row.number}"


def _became(cell: CellTold, planned: Mapping[tuple[type[Record], str], Record]) -> str:
    """Say what a cell became, with its grade or reading where that is new."""
    found = planned.get((cell.kind, cell.subject)) if cell.kind is Observation else None
    name = cell.what.replace("_", " ")
    if isinstance(found, Observation):
        parts = [f"{found.reading:g}" if found.reading is not None else "", found.choice or ""]
        parts += [f"grade {found.grade:g}" if found.grade is not None else ""]
        return f"{cell.column} {_quoted(cell)}: {name} {', '.join(filter(None, parts))}"
    return f"{cell.column} {_quoted(cell)}: {name}"


def _quoted(cell: CellTold) -> str:
    return repr(cell.value) if cell.value else "empty"
