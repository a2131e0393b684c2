"""Somebody else's spreadsheet, CSV or XLSX, as named columns of cells that keep what the file says of them."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO
from itertools import islice
from pathlib import Path
from typing import Any

from qcledger.clock import day_told
from qcledger.errors import BadInput, Problem, at, bad
from qcledger.exchange.csvfile import MOST_EMPTY, CsvLine, lines, read_bytes, read_lines
from qcledger.exchange.steering import Steering
from qcledger.exchange.xlsxsize import MAX_ROWS, MOST_ACROSS, MOST_CELLS, refuse_oversized
from qcledger.text import clean, one_line

Cell = str | Decimal | date
"""A text, or the number or day that a spreadsheet program had already made of it."""

DELIMITERS: Mapping[str, str] = {"comma": ",", "semicolon": ";", "tab": "\t"}

MAX_COLUMNS = 500
LONGEST_NAME = 200
"""Most characters of a column's name."""

_WHOLE_UP_TO = 10**15
_PADDED = re.compile(r"0+")


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row: the line it begins on and its filled cells by column."""

    number: int
    cells: Mapping[str, Cell]


@dataclass(frozen=True, slots=True)
class Spreadsheet:
    """A table with a header.

    Parameters
    ----------
    name
        The file's name.
    header
        The columns' names, each once.
    rows
        The rows that are not empty.
    guesses
        What had to be guessed to read it, a line each.
    sheet
        Which of the file's sheets it is, where there are several.
    """

    name: str
    header: tuple[str, ...]
    rows: tuple[SheetRow, ...]
    guesses: tuple[str, ...]
    sheet: str | None = None

    @property
    def place(self) -> str:
        """The file, and the sheet of it where there are several, for messages."""
        return _place(self.name, self.sheet)


def _place(name: str, sheet: str | None) -> str:
    return f"{name}, sheet {sheet}" if sheet else name


def read(
    path: Path, *, delimiter: str | None = None, sheet: str | None = None, header_line: int | None = None
) -> Spreadsheet:
    """Return the spreadsheet in a CSV or XLSX file.

    Parameters
    ----------
    path
        A file whose name ends in ``.csv``, ``.tsv``, ``.txt`` or ``.xlsx``.
    delimiter
        A key of `DELIMITERS`; guessed from the header if None. Only for CSV.
    sheet
        The sheet's name; the first one if None. Only for XLSX.
    header_line
        The line of the header, from 1; the first line that is not empty if None.

    Raises
    ------
    BadInput
        When the file cannot be read as such, or its columns cannot be told apart.
    """
    kind, one_of_several = path.suffix.lower(), None
    if kind in (".csv", ".tsv", ".txt"):
        found, guesses = _csv_lines(path, delimiter)
    elif kind == ".xlsx":
        found, guesses, one_of_several = _xlsx_lines(path, sheet)
    else:
        raise bad(path.name, f"a file ending in {kind or 'nothing'}", ".csv, .tsv, .txt, .xlsx")
    place = _place(path.name, one_of_several)
    return replace(_table(place, found, guesses, header_line), name=path.name, sheet=one_of_several)


@dataclass(frozen=True, slots=True)
class _Line:
    number: int
    cells: Sequence[Cell]


def _csv_lines(path: Path, delimiter: str | None) -> tuple[list[_Line], list[str]]:
    name = delimiter or _likely_delimiter(read_lines(path))
    found = _counted(path.name, lines(read_lines(path), path.name, DELIMITERS[name]))
    guesses = [] if delimiter else [f"{path.name}: cells are divided by {name}"]
    return [_Line(line.number, line.cells) for line in found], guesses


def _counted(name: str, found: Iterable[CsvLine]) -> Iterator[CsvLine]:
    """Yield rows; refuse more of them, or more cells, than a spreadsheet may hold."""
    cells = 0
    for rows, line in enumerate(found, 1):
        cells += len(line.cells)
        if rows > MAX_ROWS:
            raise bad(at(name, line.number), "another row", f"at most {MAX_ROWS} rows")
        if len(line.cells) > MOST_ACROSS:
            raise bad(at(name, line.number), f"{len(line.cells)} cells", f"at most {MOST_ACROSS}")
        if cells > MOST_CELLS:
            raise bad(at(name, line.number), "another cell", f"at most {MOST_CELLS} cells")
        yield line


def _likely_delimiter(text: Iterable[str]) -> str:
    """Return the name of the delimiter that stands most often in the first filled line, outside quotes."""
    first = next((line for line in islice(text, MOST_EMPTY) if line.strip()), "")
    counts = Counter(re.sub(r'"[^"]*"', "", first))
    return max(DELIMITERS, key=lambda name: counts[DELIMITERS[name]])


def _xlsx_lines(path: Path, sheet: str | None) -> tuple[list[_Line], list[str], str | None]:
    import openpyxl

    content = read_bytes(path)
    refuse_oversized(path.name, content)
    try:
        # Twice, because a file holds a formula and, if a spreadsheet program saved it, the formula's value.
        values, formulas = (
            openpyxl.load_workbook(BytesIO(content), read_only=True, data_only=only) for only in (True, False)
        )
        return _sheet_lines(path.name, sheet, values, formulas)
    except BadInput:
        raise
    except Exception as error:  # openpyxl raises whatever its XML and ZIP readers raise, some of it row by row
        raise bad(path.name, "a file that is damaged, or no spreadsheet inside", "an XLSX file") from error


def _sheet_lines(
    name: str, sheet: str | None, values: Any, formulas: Any
) -> tuple[list[_Line], list[str], str | None]:
    """Return a sheet's lines, what was guessed, and the sheet's name where the file has several."""
    names = [one.title for one in values.worksheets]
    wanted = sheet or next(iter(names), "")
    if wanted not in names:
        raise bad(name, f"no sheet {wanted}", "a sheet of cells: " + ", ".join(names))
    found = list(_xlsx_rows(name, values[wanted], formulas[wanted]))
    several = len(names) > 1
    guesses = [f"{name}: sheet {wanted}, the first of {len(names)}"] if several and sheet is None else []
    return found, guesses, wanted if several else None


def _xlsx_rows(name: str, values: Any, formulas: Any) -> Iterator[_Line]:
    for part in (values, formulas):
        part.reset_dimensions()  # what the file claims of its size may be wrong
    for number, (row, written) in enumerate(zip(values.iter_rows(), formulas.iter_rows(), strict=True), 1):
        if number > MAX_ROWS:
            raise bad(at(name, number), "another row", f"at most {MAX_ROWS} rows")
        unsaved = [source for cell, source in zip(row, written, strict=True) if cell.value is None and source.value]
        if unsaved:
            allowed = "saved values (open and save it in a spreadsheet program)"
            raise bad(at(name, number), f"a formula in {unsaved[0].coordinate} without its value", allowed)
        cells = [_xlsx_cell(cell) for cell in row]
        if any(cell != "" for cell in cells):
            yield _Line(number, cells)


def _xlsx_cell(cell: Any) -> Cell:
    """Return a cell's content; a whole number shown with leading zeros is the text that is shown."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, datetime):
        return day_told(value)
    if isinstance(value, int | float) and not isinstance(value, bool):
        if isinstance(value, int) and _PADDED.fullmatch(cell.number_format):
            return str(value).zfill(len(cell.number_format))
        return _plain(Decimal(repr(value)))
    return value if isinstance(value, date) else str(value)


def _plain(number: Decimal) -> Decimal:
    """Return a number without the decimals that only its binary form has: 3.0 is 3."""
    whole = abs(number) < _WHOLE_UP_TO and number == number.to_integral_value()
    return number.quantize(Decimal(1)) if whole else number


def _table(name: str, found: Sequence[_Line], guesses: Sequence[str], header_line: int | None) -> Spreadsheet:
    """Split lines into a header and rows of cells by column."""
    below = [line for line in found if header_line is None or line.number >= header_line]
    if not below or (header_line is not None and below[0].number != header_line):
        raise bad(at(name, header_line or 1), "", "a header that names the columns")
    header = [one_line(str(cell)) for cell in below[0].cells]
    problems = list(_header_problems(at(name, below[0].number), header))
    rows, left_out = [], Steering()
    for line in below:
        for cell in line.cells:
            if isinstance(cell, str):
                left_out.note(cell, at(name, line.number))
    for line in below[1:]:
        cells = [clean(cell) if isinstance(cell, str) else cell for cell in line.cells]
        over = [*header, *[""] * len(cells)]
        filled = [(title, cell) for title, cell in zip(over, cells, strict=False) if cell != ""]
        bare = next((cell for title, cell in filled if not title), None)
        if bare is not None:
            problems.append(Problem(at(name, line.number), f"'{bare}' under no header", "a header over each column"))
        rows.append(SheetRow(line.number, dict(filled)))
    if problems:
        raise BadInput(problems)
    said = (*guesses, *left_out.lines())
    return Spreadsheet(name, tuple(n for n in header if n), tuple(row for row in rows if row.cells), said)


def _header_problems(where: str, header: Sequence[str]) -> Iterator[Problem]:
    named = [name for name in header if name]
    if len(named) > MAX_COLUMNS:
        yield Problem(where, f"{len(named)} columns", f"at most {MAX_COLUMNS}")
    for name in named:
        if len(name) > LONGEST_NAME:
            yield Problem(where, f"a header of {len(name)} characters", f"at most {LONGEST_NAME}")
    for name, times in Counter(named).items():
        if times > 1:
            yield Problem(where, f"{times} columns named '{name}'", "each name once")
