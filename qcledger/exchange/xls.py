"""Sheets out of XLS files, the binary kind that came before XLSX."""

import io
from datetime import datetime
from typing import Any, Final

from qcledger.clock import day_told
from qcledger.errors import bad
from qcledger.exchange.grid import Cell, Grid, GridLine, blank_grid
from qcledger.exchange.shownas import number_shown
from qcledger.exchange.xlsxsize import MOST_CELLS
from qcledger.files import in_words

_AS_XLSX: Final = "an XLS file; if a spreadsheet program opens it, save it there as XLSX"
MOST_BYTES: Final = 16_000_000
"""Largest XLS file: its reader holds all sheets in memory, and six bytes may be a cell."""
_SOLID: Final = 1
"""The pattern of a fill of one colour."""


def read(name: str, content: bytes, sheet: str | None) -> Grid:
    """Return one sheet of an XLS file, which has at most 65,536 rows of 256 cells.

    Parameters
    ----------
    name
        The file's name, for messages.
    content
        Its bytes.
    sheet
        The sheet's name; the first one if None.

    Raises
    ------
    BadInput
        When the bytes are no such file or too many, hold more than a spreadsheet needs, or have no such sheet.
    """
    import xlrd

    if len(content) > MOST_BYTES:
        raise bad(name, in_words(len(content)), f"an XLS file of at most {in_words(MOST_BYTES)}; save it as XLSX")

    try:
        book = xlrd.open_workbook(file_contents=content, logfile=io.StringIO(), formatting_info=True)
    except Exception as error:  # whatever a damaged file makes its reader raise
        raise bad(name, "a file that is damaged or locked, or no spreadsheet inside", _AS_XLSX) from error
    grid, wanted = blank_grid(name, book.sheet_names(), sheet)
    page = book.sheet_by_name(wanted)
    if page.nrows * page.ncols > MOST_CELLS:
        raise bad(name, f"{page.nrows} rows of {page.ncols} cells", f"at most {MOST_CELLS} cells")
    try:
        _fill(grid, book, page)
    except Exception as error:  # as above: styles and days are looked up cell by cell
        raise bad(name, "a file that is damaged", _AS_XLSX) from error
    return grid


def _fill(grid: Grid, book: Any, page: Any) -> None:
    """Put a sheet's cells into the grid, with its fills, comments and what is hidden."""
    for number in range(page.nrows):
        row = page.row(number)
        cells = [_cell(book, cell) for cell in row]
        if any(cell != "" for cell in cells):
            grid.lines.append(GridLine(number + 1, cells))
        colours = ((column, _colour(book, cell)) for column, cell in enumerate(row, 1))
        grid.fills |= {(number + 1, column): colour for column, colour in colours if colour}
    grid.comments |= {(row + 1, column + 1): note.text for (row, column), note in page.cell_note_map.items()}
    grid.hidden_rows = {row + 1 for row, told in page.rowinfo_map.items() if told.hidden}
    grid.hidden_columns = {column + 1 for column, told in page.colinfo_map.items() if told.hidden}


def _cell(book: Any, cell: Any) -> Cell:
    """Return a cell's content as other spreadsheets give it."""
    import xlrd

    if cell.ctype == xlrd.XL_CELL_DATE:
        day: datetime = xlrd.xldate_as_datetime(cell.value, book.datemode)
        return day_told(day)
    if cell.ctype == xlrd.XL_CELL_NUMBER:
        return number_shown(cell.value, _format(book, cell))
    if cell.ctype == xlrd.XL_CELL_BOOLEAN:
        return str(bool(cell.value))
    if cell.ctype == xlrd.XL_CELL_ERROR:
        return str(xlrd.error_text_from_code.get(cell.value, "#N/A"))
    return str(cell.value)


def _format(book: Any, cell: Any) -> str:
    return str(book.format_map[book.xf_list[cell.xf_index].format_key].format_str)


def _colour(book: Any, cell: Any) -> str:
    """Return the six digits of a cell's fill colour, or nothing."""
    background = book.xf_list[cell.xf_index].background
    told = book.colour_map.get(background.pattern_colour_index) if background.fill_pattern == _SOLID else None
    return "".join(f"{part:02X}" for part in told) if told else ""
