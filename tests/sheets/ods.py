"""Writes pages as ODS, with notes, merged and hidden cells, and what is shown apart from what is stored."""

import io
from datetime import date

from odf.dc import Creator, Date
from odf.office import Annotation
from odf.opendocument import OpenDocumentSpreadsheet
from odf.style import Style, TableCellProperties
from odf.table import CoveredTableCell, Table, TableCell, TableColumn, TableRow
from odf.text import P

from tests.sheets.book import Cell, Page, written

MONEY = {"£": "GBP", "€": "EUR"}


def packed(pages: list[Page]) -> bytes:
    """Return the file's bytes."""
    document = OpenDocumentSpreadsheet()
    fills: dict[str, Style] = {}
    for page in pages:
        table = Table(name=page.name)
        for column in range(1, len(page.rows[0]) + 1):
            table.addElement(TableColumn(visibility="collapse" if column in page.hidden_columns else "visible"))
        for row in range(1, len(page.rows) + 1):
            table.addElement(_row(document, fills, page, row))
        rest = TableRow(numberrowsrepeated=1048576 - len(page.rows))  # as office programs end a sheet
        rest.addElement(TableCell(numbercolumnsrepeated=len(page.rows[0])))
        table.addElement(rest)
        document.spreadsheet.addElement(table)
    raw = io.BytesIO()
    document.write(raw)
    return raw.getvalue()


def _row(document, fills: dict[str, Style], page: Page, row: int) -> TableRow:
    line = TableRow(visibility="collapse" if row in page.hidden_rows else "visible")
    spans = {(top, left): (down, across) for top, left, down, across in page.merged}
    covered = {
        (top + y, left + x) for top, left, down, across in page.merged for y in range(down) for x in range(across)
    } - set(spans)
    for column in range(1, len(page.rows[0]) + 1):
        if (row, column) in covered:
            line.addElement(CoveredTableCell())
            continue
        one = page.cells.get((row, column), Cell())
        told = _typed(one)
        if (row, column) in spans:
            told["numberrowsspanned"], told["numbercolumnsspanned"] = spans[row, column]
        if one.fill:
            told["stylename"] = _fill(document, fills, one.fill)
        cell = TableCell(**told)
        if one.comment:
            note = Annotation()
            note.addElement(Creator(text="OV"))
            note.addElement(Date(text="2025-11-03T09:00:00"))
            note.addElement(P(text=one.comment))
            cell.addElement(note)
        if one.value is not None:
            cell.addElement(P(text=one.shown or written(one.value)))
        line.addElement(cell)
    return line


def _typed(one: Cell) -> dict[str, object]:
    told: dict[str, object] = {}
    if isinstance(one.value, date):
        told = {"valuetype": "date", "datevalue": one.value.isoformat()}
    elif isinstance(one.value, int | float):
        told = {"valuetype": "float", "value": written(one.value)}
        if one.shown[:1] in MONEY:
            told |= {"valuetype": "currency", "currency": MONEY[one.shown[0]]}
    elif one.value is not None:
        told = {"valuetype": "string"}
    if one.formula:
        told["formula"] = f"of:={one.formula}"
    return told


def _fill(document, fills: dict[str, Style], colour: str) -> Style:
    if colour not in fills:
        style = Style(name=f"fill{colour}", family="table-cell")
        style.addElement(TableCellProperties(backgroundcolor=f"#{colour.lower()}"))
        document.automaticstyles.addElement(style)
        fills[colour] = style
    return fills[colour]
