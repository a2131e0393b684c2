"""Sheets of an OpenDocument file (ISO/IEC 26300), read from its ``content.xml`` by the standard library.

What reads such files otherwise keeps values alone; comments, hidden columns and signs of money are wanted, too.
"""

import re
import zipfile
from collections.abc import Iterator
from datetime import date
from decimal import Decimal, InvalidOperation
from io import BytesIO
from typing import Final
from xml.etree.ElementTree import Element, ParseError, fromstring

from qcledger.errors import BadInput, Problem, bad
from qcledger.exchange.grid import Cell, Grid, GridLine, Priced, blank_grid
from qcledger.exchange.xlsxsize import MAX_ROWS, MOST_ACROSS, MOST_CELLS, refuse_oversized

_NAMES: Final = "urn:oasis:names:tc:opendocument:xmlns:{}:1.0"
_TABLE, _OFFICE, _TEXT = (f"{{{_NAMES.format(name)}}}" for name in ("table", "office", "text"))
_FIRST: Final = re.compile(r"(?<!\d)0?1(?!\d)")
_HIDDEN: Final = frozenset({"collapse", "filter"})


def read(name: str, content: bytes, sheet: str | None) -> Grid:
    """Return one sheet of an ODS file.

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
        When the bytes are no such file, hold more than a spreadsheet needs, or have no such sheet.
    """
    tables = _tables(name, content)
    names = [table.get(f"{_TABLE}name", "") for table in tables]
    grid, wanted = blank_grid(name, names, sheet)
    _fill(grid, tables[names.index(wanted)])
    return grid


def _tables(name: str, content: bytes) -> list[Element]:
    try:
        refuse_oversized(name, content)
        with zipfile.ZipFile(BytesIO(content)) as archive:
            root = fromstring(archive.read("content.xml"))  # noqa: S314  # document types are refused above
    except (KeyError, ParseError) as error:
        raise bad(name, "a file that is damaged, or no spreadsheet inside", "an ODS file") from error
    except BadInput as error:
        raise BadInput(_of_ods(problem) for problem in error.problems) from None
    return list(root.iter(f"{_TABLE}table"))


def _of_ods(problem: Problem) -> Problem:
    return Problem(problem.where, problem.found.replace("XLSX", "ODS"), problem.allowed.replace("XLSX", "ODS"))


def _fill(grid: Grid, table: Element) -> None:
    grid.hidden_columns = set(_hidden_columns(table))
    number = counted = 0
    for row in table.iter(f"{_TABLE}table-row"):
        times = int(row.get(f"{_TABLE}number-rows-repeated", "1"))
        cells = _cells(grid, row, number + 1)
        counted += len(cells) * (times if cells else 0)
        if (cells and number + times > MAX_ROWS) or counted > MOST_CELLS:
            raise bad(grid.name, "more rows", f"at most {MAX_ROWS} rows and {MOST_CELLS} cells")
        if any(cell != "" for cell in cells):
            grid.lines.extend(GridLine(number + again + 1, cells) for again in range(times))
        if row.get(f"{_TABLE}visibility") in _HIDDEN and cells:
            grid.hidden_rows |= set(range(number + 1, number + times + 1))
        number += times


def _hidden_columns(table: Element) -> Iterator[int]:
    column = 0
    for told in table.iter(f"{_TABLE}table-column"):
        times = int(told.get(f"{_TABLE}number-columns-repeated", "1"))
        if told.get(f"{_TABLE}visibility") in _HIDDEN:
            yield from range(column + 1, min(column + times, MOST_ACROSS) + 1)
        column += times


def _cells(grid: Grid, row: Element, number: int) -> list[Cell]:
    cells: list[Cell] = []
    for cell in row:
        if cell.tag not in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
            continue
        value = _value(cell)
        spot = (number, len(cells) + 1)
        note = cell.find(f"{_OFFICE}annotation")
        if note is not None:
            grid.comments[spot] = "\n".join("".join(one.itertext()) for one in note.findall(f"{_TEXT}p"))
        if cell.get(f"{_TABLE}formula"):
            grid.formulas.add(spot)
        times = int(cell.get(f"{_TABLE}number-columns-repeated", "1"))
        cells += [value] * min(times, MOST_ACROSS if value != "" else MOST_ACROSS - len(cells))
        if len(cells) > MOST_ACROSS:
            raise bad(f"{grid.name} line {number}", "a longer row", f"at most {MOST_ACROSS} cells in a row")
    while cells and cells[-1] == "":
        cells.pop()
    return cells


def _value(cell: Element) -> Cell:
    """Return a cell's stored value; a day that shows only month and year is the text that is shown."""
    shown = "\n".join("".join(one.itertext()) for one in cell.findall(f"{_TEXT}p"))
    kind = cell.get(f"{_OFFICE}value-type")
    if kind == "date":
        day = date.fromisoformat(cell.get(f"{_OFFICE}date-value", "")[:10])
        return shown if shown and day.day == 1 and not _FIRST.search(shown) else day
    if kind in ("float", "currency", "percentage"):
        return _number(cell, shown)
    return shown


def _number(cell: Element, shown: str) -> Cell:
    try:
        number = Decimal(cell.get(f"{_OFFICE}value", ""))
    except InvalidOperation:
        return shown
    code = cell.get(f"{_OFFICE}currency")
    if not code:
        return number
    money = Priced(number)
    money.currency = code
    return money
