"""What becomes of each cell of a spreadsheet: read into a row of the ledger, or left out, and why."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from qcledger.errors import NOTHING, Problem, at
from qcledger.exchange.brought import Brought
from qcledger.exchange.columnmap import FIELDS, ColumnMap
from qcledger.exchange.draft import Draft, RefusedRow
from qcledger.exchange.grid import letters
from qcledger.exchange.rowreader import Filled
from qcledger.exchange.samesheet import trial_name
from qcledger.exchange.sheetrows import SheetRows, observation_name
from qcledger.exchange.table import Place, SheetRow, Spreadsheet
from qcledger.records import Observation, Record, Specimen, Trial
from qcledger.text import one_line

NEW, HERE, CHANGED, REFUSED, LEFT = "new", "already here", "changed", "refused", "left out"
"""What a row may become, in the words that tell it."""
STATES: Final = (NEW, HERE, CHANGED, REFUSED, LEFT)
IN_WORDS: Final = "kept in words"
"""What becomes of words in a column of results that are none."""
_OF_TEST: Final = frozenset({"tested_on", "test_note", "tester"})
_ABOUT: Final = ("maker", "paint", "format", "lot", "sticker")
"""Fields that say what a row is about."""


@dataclass(frozen=True, slots=True)
class CellTold:
    """One cell and what became of it.

    Parameters
    ----------
    place
        Sheet (empty where a file has one), row and column, from 1; column 0 is the row as a whole.
    column
        What stands over it; empty outside the table.
    value
        What stands in it.
    what
        What it became, in words: a field, or a criterion with its grade; empty where it is left out.
    why
        Why it is left out or refused; empty where it is read.
    kind, subject
        The table and the row of the ledger it went to.
    is_refused
        Whether its row is refused because of it.
    """

    place: Place
    column: str
    value: str
    what: str = ""
    why: str = ""
    kind: type[Record] | None = None
    subject: str = ""
    is_refused: bool = False

    @property
    def spot(self) -> str:
        """The cell as spreadsheet programs name it: B7; the row where there is no one cell."""
        return f"{letters(self.place[2])}{self.place[1]}" if self.place[2] else f"row {self.place[1]}"

    @property
    def quoted(self) -> str:
        """What stands in it, told apart from words around it."""
        return repr(self.value) if self.value else "empty"

    @property
    def outcome(self) -> str:
        """What becomes of it, in words."""
        if self.why:
            return f"is {REFUSED if self.is_refused else LEFT}: {self.why}"
        return self.what


@dataclass(frozen=True, slots=True)
class RowTold:
    """One row: where it begins, what it is about, one of `STATES`, and its cells."""

    number: int
    about: str
    state: str
    cells: tuple[CellTold, ...]

    @property
    def sheet(self) -> str:
        """The sheet it stands in, where the file has several."""
        return next((cell.place[0] for cell in self.cells), "")

    @property
    def where(self) -> str:
        """The row, and its sheet where the file has several."""
        return f"sheet {self.sheet}, row {self.number}" if self.sheet else f"row {self.number}"

    def spot(self, cell: CellTold) -> str:
        """Return where a cell of it stands: B7, with the sheet's name where that is another one."""
        return cell.spot if cell.place[0] == self.sheet else f"{cell.place[0]} {cell.spot}"

    @property
    def line(self) -> str:
        """Where it is, what becomes of it and what it is about."""
        return f"{self.where}: {self.state}{', ' * bool(self.about)}{self.about}"

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why cells of it are left out or refused, a text each."""
        return tuple(f"{self.spot(cell)} {cell.quoted} {cell.outcome}" for cell in self.cells if cell.why)

    @property
    def refusals(self) -> tuple[str, ...]:
        """Why the row is refused, a text for each cell."""
        return tuple(f"{self.spot(cell)} {cell.quoted} {cell.outcome}" for cell in self.cells if cell.is_refused)

    @property
    def leaves_out(self) -> bool:
        """Whether something that stands in it is left out."""
        return any(cell.why and cell.value and not cell.is_refused for cell in self.cells)

    @property
    def read(self) -> str:
        """What was read from it."""
        return ", ".join(f"{cell.column} {cell.quoted}: {cell.what}" for cell in self.cells if cell.what)


class Account:
    """What becomes of the rows of a sheet, once each was planned or refused.

    Parameters
    ----------
    sheet
        The table.
    column_map
        What its columns hold.
    rows
        What the rows became.
    brought
        Gives the ids.
    draft
        What is planned, and what is refused.
    """

    def __init__(
        self, sheet: Spreadsheet, column_map: ColumnMap, rows: SheetRows, brought: Brought, draft: Draft
    ) -> None:
        self._sheet = sheet
        self._map = column_map
        self._rows = rows
        self._brought = brought
        self._draft = draft

    def told(self, filled: Sequence[Filled]) -> Iterator[RowTold]:
        """Yield what becomes of each row, of which `filled` says what could be read; then of what is no row."""
        read = {id(said.row): said for said in filled}
        for row in self._sheet.rows:
            said = read.get(id(row))
            refused, problems = self._refusal(row, said)
            if refused is not None:
                state = CHANGED if refused.is_changed else REFUSED
                about = _about(said.fields if said else _as_written(row, self._map))
                yield RowTold(self._number(row), about, state, tuple(self._refused(row, problems)))
            elif said is not None:
                became = self._rows.became[said.key]
                cells = tuple(self._cells(said, row, became.specimen))
                yield RowTold(self._number(row), _about(said.fields), NEW if became.is_new else HERE, cells)
        yield from self._no_rows()

    def _number(self, row: SheetRow) -> int:
        """Return which row of the file it is; of a table that is turned, which column."""
        return row.number if self._sheet.turned else self._sheet.row_of.get(row.number, row.number)

    def _refusal(self, row: SheetRow, said: Filled | None) -> tuple[RefusedRow | None, Sequence[Problem]]:
        """Return why a row is refused; of several rows made of one line, those that the reasons are about."""
        refused = self._draft.refused.get(at(self._sheet.place, row.number))
        if refused is None:
            return None, ()
        names = set(self._sheet.header) - set(row.cells)
        own = [one for one in refused.problems if self._column(row, one) not in names]
        is_planned = said is not None and said.key in self._rows.became
        return (None, ()) if is_planned and not own else (refused, own or refused.problems)

    def _column(self, row: SheetRow, problem: Problem) -> str:
        """Return the column that a problem names, or nothing where it is about the row."""
        before = f"{at(self._sheet.place, row.number)}, "
        return problem.where.removeprefix(before) if problem.where.startswith(before) else ""

    def _refused(self, row: SheetRow, problems: Sequence[Problem]) -> Iterator[CellTold]:
        """Yield the cells of a refused row: those that are the reason, and what the others would be."""
        by_column = {self._column(row, problem): problem for problem in problems}
        for column in dict.fromkeys([*row.cells, *by_column]):
            place = self._sheet.spot(row, column)
            value, problem = one_line(str(row.cells.get(column, ""))), by_column.get(column)
            target = self._map.columns.get(column)
            if problem is not None:
                yield CellTold(place, column, value, why=_reason(problem, value), is_refused=True)
            elif target is None:
                yield CellTold(place, column, value, why=_unmapped(self._map, column))
            else:
                what = ", ".join(name.replace("_", " ") for name in (*target.fields, *target.criteria))
                yield CellTold(place, column, value, what)

    def _no_rows(self) -> Iterator[RowTold]:
        by_row: dict[tuple[str, int], list[CellTold]] = {}
        for left in self._sheet.left:
            told = CellTold(left.place, "", left.value, why=left.why)
            number = left.place[2] if self._sheet.turned else left.place[1]
            by_row.setdefault((left.place[0], number), []).append(told)
        for (_, number), cells_left in sorted(by_row.items()):
            yield RowTold(number, "", LEFT, tuple(cells_left))

    def _cells(self, said: Filled, row: SheetRow, specimen: str) -> Iterator[CellTold]:
        layout, trial = self._map.layout, self._brought.subject(Trial, trial_name(said))
        is_test = bool(said.results or said.fields.get("test_note"))
        of_test = _OF_TEST | ({"note"} if layout.piece or layout.join else set())
        for column in dict.fromkeys([*row.cells, *self._map.columns]):
            target = self._map.columns.get(column)
            place, value = self._sheet.spot(row, column), one_line(str(row.cells.get(column, "")))
            why = said.left.get(column, "") or (_unmapped(self._map, column) if target is None else "")
            if why:
                yield CellTold(place, column, value, why=why)
                continue
            if target is None:
                continue
            for key in target.criteria:
                if key in said.results:
                    subject = self._brought.subject(Observation, observation_name(said, key))
                    what = self._result(key, subject)
                    yield CellTold(place, column, value, what, kind=Observation, subject=subject)
            if column in said.others:
                subject, kind = (trial, Trial) if is_test else (specimen, Specimen)
                yield CellTold(place, column, value, IN_WORDS, kind=kind, subject=subject)
            for field in target.fields if column in row.cells else ():
                to_test = is_test and field in of_test
                table = Trial if to_test else FIELDS[field][0]
                what = field.replace("_", " ")
                yield CellTold(place, column, value, what, kind=table, subject=trial if to_test else specimen)
        for column, text in row.comments.items():
            subject, kind = (trial, Trial) if is_test else (specimen, Specimen)
            place = self._sheet.spot(row, column)
            yield CellTold(place, column, text, "comment", kind=kind, subject=subject)

    def _result(self, key: str, subject: str) -> str:
        """Return a criterion with what was found: a reading, a choice, a grade."""
        found, name = self._draft.get(Observation, subject), key.replace("_", " ")
        if found is None:
            return name
        parts = [f"{found.reading:g}" if found.reading is not None else "", found.choice or ""]
        parts += [f"grade {found.grade:g}" if found.grade is not None else ""]
        return f"{name} {', '.join(filter(None, parts))}"


def _about(fields: Mapping[str, object]) -> str:
    sticker = str(fields.get("sticker", ""))
    return one_line(" ".join(str(fields[name]) for name in _ABOUT[:-1] if fields.get(name))) or sticker


def _as_written(row: SheetRow, column_map: ColumnMap) -> dict[str, object]:
    """Return what a row that could not be read is about, as its cells are written."""
    written: dict[str, object] = dict(row.fixed)
    for column, target in column_map.columns.items():
        if column in row.cells and target.fields and target.fields[0] in _ABOUT:
            written[target.fields[0]] = row.cells[column]
    return written


def _reason(problem: Problem, value: str) -> str:
    """Return a refusal without what is told beside it: where it stands, and its value."""
    is_whole = problem.found in (f"'{value[:60]}'", NOTHING)
    return f"allowed: {problem.allowed}" if is_whole else f"found {problem.found}; allowed: {problem.allowed}"


def _unmapped(column_map: ColumnMap, column: str) -> str:
    layout = column_map.layout
    named = {*layout.piece, *column_map.row_key, *(join.own for join in layout.join)}
    if column in named:
        return ""
    return "the map leaves the column out" if column in column_map.left_out else "the map does not name the column"


def told_lines(told: Sequence[RowTold]) -> Iterator[str]:
    """Yield what becomes of each row in words: a line for the row, then one for its cells, then what is not read."""
    for row in told:
        yield row.line
        if row.read:
            yield f"  {row.read}"
        yield from (f"  {reason}" for reason in row.reasons)
