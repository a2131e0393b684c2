"""A sheet as its file has it: cells by row and column, with what hands and programs do to them besides writing."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Final

from qcledger.errors import bad

DELIMITERS: Final[Mapping[str, str]] = {"comma": ",", "semicolon": ";", "tab": "\t"}


class Priced(Decimal):
    """A number that its cell shows with a sign of money; `currency` is its code (ISO 4217)."""

    currency: str = ""


Cell = str | Decimal | date
"""A text, or the number or day that a spreadsheet program had already made of it."""

Spot = tuple[int, int]
"""Row and column, from 1."""


@dataclass(frozen=True, slots=True)
class GridLine:
    """One filled row and the line it begins on, from 1.

    Parameters
    ----------
    number
        The line.
    cells
        What stands in it.
    row
        Which row it is where cells of several lines make that another number; 0 where it is the same.
    """

    number: int
    cells: Sequence[Cell]
    row: int = 0


@dataclass(slots=True)
class Grid:
    """One sheet.

    Parameters
    ----------
    name
        The file's name.
    lines
        The rows that are not empty, from the top.
    guesses
        What had to be guessed to read it, a line each.
    sheet
        Which of the file's sheets it is, where there are several.
    fills
        Fill colours: six hexadecimal digits, or ``theme N TINT``.
    comments
        What is pinned to a cell.
    hidden_rows, hidden_columns
        What the file does not show, by number.
    formulas
        Where a program calculated what stands there.
    sheets
        The names of all sheets of the file.
    """

    name: str
    lines: list[GridLine]
    guesses: list[str] = field(default_factory=list)
    sheet: str | None = None
    fills: dict[Spot, str] = field(default_factory=dict)
    comments: dict[Spot, str] = field(default_factory=dict)
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    formulas: set[Spot] = field(default_factory=set)
    sheets: tuple[str, ...] = ()

    def turned(self) -> "Grid":
        """Return the sheet with its columns as rows; the line of a row is then the number of its column."""
        across = max((len(line.cells) for line in self.lines), default=0)
        down = max((line.row or line.number for line in self.lines), default=0)
        by_number = {line.row or line.number: line.cells for line in self.lines}
        rows = ([_cell(by_number.get(row, ()), column) for row in range(1, down + 1)] for column in range(across))
        lines = [GridLine(number, cells) for number, cells in enumerate(rows, 1) if any(cell != "" for cell in cells)]
        return Grid(
            self.name, lines, self.guesses, self.sheet, _across(self.fills), _across(self.comments),
            self.hidden_columns, self.hidden_rows, {(column, row) for row, column in self.formulas}, self.sheets,
        )  # fmt: skip


def blank_grid(name: str, sheets: Sequence[str], wanted: str | None) -> tuple[Grid, str]:
    """Return the sheet of a file that is to be filled, and its name; the first one where none is `wanted`.

    Raises
    ------
    BadInput
        When the file has no such sheet, or none.
    """
    chosen = wanted or next(iter(sheets), "")
    if chosen not in sheets:
        raise bad(name, f"no sheet {chosen}", "a sheet of cells: " + ", ".join(sheets))
    several = len(sheets) > 1
    guesses = [f"{name}: sheet {chosen}, the first of {len(sheets)}"] if several and wanted is None else []
    return Grid(name, [], guesses, chosen if several else None, sheets=tuple(sheets)), chosen


def letters(column: int) -> str:
    """Return what spreadsheet programs call a column, from 1: A, B, ..., AA."""
    name = ""
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name


def _cell(cells: Sequence[Cell], place: int) -> Cell:
    return cells[place] if place < len(cells) else ""


def _across(found: Mapping[Spot, str]) -> dict[Spot, str]:
    return {(column, row): value for (row, column), value in found.items()}
