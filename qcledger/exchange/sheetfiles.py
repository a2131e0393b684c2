"""Sheets out of the files people keep them in: delimited text, XLSX, ODS and XLS, each as a grid of cells."""

import re
import zipfile
from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from io import BytesIO
from itertools import islice
from pathlib import Path
from typing import Any, Final

from qcledger.clock import day_told
from qcledger.errors import BadInput, at, bad
from qcledger.exchange import ods, xls
from qcledger.exchange.csvfile import MOST_EMPTY, CsvLine, lines, read_bytes
from qcledger.exchange.grid import DELIMITERS, Cell, Grid, GridLine, blank_grid
from qcledger.exchange.layout import Layout
from qcledger.exchange.shownas import number_shown
from qcledger.exchange.textcode import text_of
from qcledger.exchange.xlsxsize import MAX_ROWS, MOST_ACROSS, MOST_CELLS, refuse_oversized

TEXTS: Final = (".csv", ".tsv", ".txt")
KINDS: Final = (*TEXTS, ".xlsx", ".ods", ".xls")
_SEPARATOR: Final = re.compile(r"\ufeff?sep=(.)\r?\n?", re.IGNORECASE)
_DRESSED: Final = re.compile(rb"<mergeCell |hidden=\"(?:1|true)\"|<legacyDrawing ")
"""What a sheet's XML shows of comments and of what is hidden."""


def grid_of(path: Path, layout: Layout) -> Grid:
    """Return the sheet of a file that a layout names, or its first one.

    Raises
    ------
    BadInput
        When the file cannot be read as such, is too large, or has no such sheet.
    """
    kind = path.suffix.lower()
    if kind in TEXTS:
        return _text(path, layout)
    if kind == ".xlsx":
        return _xlsx(path, layout.sheet)
    if kind == ".ods":
        return ods.read(path.name, read_bytes(path), layout.sheet)
    if kind == ".xls":
        return xls.read(path.name, read_bytes(path), layout.sheet)
    raise bad(path.name, f"a file ending in {kind or 'nothing'}", ", ".join(KINDS))


def _text(path: Path, layout: Layout) -> Grid:
    text, encoding = text_of(path, layout.encoding)
    head = list(islice(text, MOST_EMPTY))
    named = _SEPARATOR.fullmatch(head[0]) if head else None
    told = next((name for name, sign in DELIMITERS.items() if named and sign == named[1]), None)
    if named:
        head = head[1:]
    name = layout.delimiter or told or _likely_delimiter(head)
    after = 1 if named else 0
    found = _counted(path.name, lines([*head, *text] if after else _chained(head, text), path.name, DELIMITERS[name]))
    guesses = [] if layout.delimiter else [f"{path.name}: cells are divided by {name}"]
    if layout.encoding is None and encoding != "utf-8":
        guesses.append(f"{path.name}: read as {encoding}")
    return Grid(path.name, [GridLine(line.number, line.cells, line.row) for line in found], guesses)


def _chained(head: Iterable[str], rest: Iterable[str]) -> Iterator[str]:
    yield from head
    yield from rest


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
    """Return the name of the delimiter that stands most often in the first line with any, outside quotes."""
    bare = (Counter(re.sub(r'"[^"]*"', "", line)) for line in text)
    counts = next((found for found in bare if any(found[mark] for mark in DELIMITERS.values())), Counter[str]())
    return max(DELIMITERS, key=lambda name: counts[DELIMITERS[name]])


def _xlsx(path: Path, sheet: str | None) -> Grid:
    import openpyxl

    content = read_bytes(path)
    refuse_oversized(path.name, content)
    try:
        # Twice, because a file holds a formula and, if a spreadsheet program saved it, the formula's value.
        values, formulas = (
            openpyxl.load_workbook(BytesIO(content), read_only=True, data_only=only) for only in (True, False)
        )
        grid = _named_sheet(path.name, sheet, values, formulas)
        if _is_dressed(content):
            whole = openpyxl.load_workbook(BytesIO(content))
            _dress(grid, whole[grid.sheet] if grid.sheet else whole.worksheets[0])
    except BadInput:
        raise
    except Exception as error:  # openpyxl raises whatever its XML and ZIP readers raise, some of it row by row
        raise bad(path.name, "a file that is damaged, or no spreadsheet inside", "an XLSX file") from error
    return grid


def _named_sheet(name: str, sheet: str | None, values: Any, formulas: Any) -> Grid:
    """Return a sheet's cells, under its name where the file has several."""
    grid, wanted = blank_grid(name, [one.title for one in values.worksheets], sheet)
    grid.lines.extend(_xlsx_rows(grid, values[wanted], formulas[wanted]))
    return grid


def _xlsx_rows(grid: Grid, values: Any, formulas: Any) -> Iterator[GridLine]:
    for part in (values, formulas):
        part.reset_dimensions()  # what the file claims of its size may be wrong
    for number, (row, written) in enumerate(zip(values.iter_rows(), formulas.iter_rows(), strict=True), 1):
        if number > MAX_ROWS:
            raise bad(at(grid.name, number), "another row", f"at most {MAX_ROWS} rows")
        unsaved = [source for cell, source in zip(row, written, strict=True) if cell.value is None and source.value]
        if unsaved:
            allowed = "saved values (open and save it in a spreadsheet program)"
            raise bad(at(grid.name, number), f"a formula in {unsaved[0].coordinate} without its value", allowed)
        grid.formulas |= {(number, one.column) for one in written if one.value and one.data_type == "f"}
        cells = [_xlsx_cell(cell) for cell in row]
        if any(cell != "" for cell in cells):
            yield GridLine(number, cells)


def _xlsx_cell(cell: Any) -> Cell:
    """Return a cell's content; a whole number shown with leading zeros is the text that is shown."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, datetime):
        return day_told(value)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return number_shown(value, cell.number_format)
    return value if isinstance(value, date) else str(value)


def _is_dressed(content: bytes) -> bool:
    """Say whether a workbook has fills, comments or hidden rows, which cost more to read than its cells."""
    with zipfile.ZipFile(BytesIO(content)) as archive:
        for part in archive.namelist():
            if "comment" in part:
                return True
            if part.endswith("styles.xml"):
                if len(re.findall(rb"<fill>", archive.read(part))) > 2:  # each file has two that colour nothing
                    return True
            elif part.startswith("xl/worksheets/") and _DRESSED.search(archive.read(part)):
                return True
    return False


def _dress(grid: Grid, sheet: Any) -> None:
    """Add what stands in no cell's text: fills, comments and what is hidden."""
    for cell in (cell for row in sheet.iter_rows() for cell in row):
        spot = (cell.row, cell.column)
        if cell.fill is not None and cell.fill.fill_type == "solid":
            colour = cell.fill.fgColor
            grid.fills[spot] = colour.rgb[-6:] if colour.type == "rgb" else f"theme {colour.theme} {colour.tint:g}"
        if cell.comment is not None:
            grid.comments[spot] = str(cell.comment.text)
    grid.hidden_rows = {row for row, told in sheet.row_dimensions.items() if told.hidden}
    for told in sheet.column_dimensions.values():
        if told.hidden:
            grid.hidden_columns |= set(range(told.min or 1, min(told.max or 1, MOST_ACROSS) + 1))
