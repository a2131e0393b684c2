"""Readers of the sheets that share nothing with the making of them."""

import csv
import io
import zipfile
from datetime import datetime
from pathlib import Path
from xml.etree import ElementTree

TEXTS = {
    "01": ("utf-8-sig", ","),
    "02": ("cp1252", ";"),
    "03": ("utf-16", "\t"),
    "11": ("utf-8", ","),
    "12": ("utf-8-sig", ";"),
}
TABLE, OFFICE = (f"{{urn:oasis:names:tc:opendocument:xmlns:{name}:1.0}}" for name in ("table", "office"))
TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}p"


def number_of(letters: str) -> int:
    """Return a column's number, from 1."""
    number = 0
    for one in letters:
        number = number * 26 + ord(one) - 64
    return number


class Seen(dict):
    """Cells of one page by row and column, as the truth writes them, with their fills and comments."""

    def __init__(self):
        super().__init__()
        self.fills, self.comments, self.hidden_rows, self.hidden_columns = {}, {}, set(), set()

    def above(self, row: int, column: int) -> str:
        """Return the nearest cell at or above that says something of its own."""
        while row and self.get((row, column), "") in ("", '"', "id.", "Maker"):
            row -= 1
        return self.get((row, column), "")


def as_written(value) -> str:
    """Return a cell's value as the truth writes it."""
    if value is None:
        return ""
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d}"
    return f"{int(value)}" if isinstance(value, float) and value.is_integer() else f"{value}"


def text_pages(path: Path) -> dict[str, Seen]:
    """Read delimited text; a first line `sep=` is no row."""
    encoding, comma = TEXTS[path.name[:2]]
    text = path.read_bytes().decode(encoding)
    rows = csv.reader(io.StringIO(text.removeprefix("sep=;\r\n"), newline=""), delimiter=comma)
    page = Seen()
    page |= {(row, column): cell for row, cells in enumerate(rows, 1) for column, cell in enumerate(cells, 1) if cell}
    return {"": page}


def xlsx_pages(path: Path) -> dict[str, Seen]:
    """Read a workbook with the results that are stored beside its formulas."""
    from openpyxl import load_workbook

    pages = {}
    for sheet in load_workbook(path, data_only=True):
        page = pages[sheet.title] = Seen()
        for cell in (cell for row in sheet.iter_rows() for cell in row):
            place = cell.row, cell.column
            if cell.value is not None:
                page[place] = as_written(cell.value)
            if cell.fill.fill_type:
                colour = cell.fill.fgColor
                page.fills[place] = (
                    colour.rgb[2:] if colour.type == "rgb" else f"theme {colour.theme} {colour.tint:g}"
                )
            if cell.comment:
                page.comments[place] = cell.comment.text
        page.hidden_rows = {row for row, told in sheet.row_dimensions.items() if told.hidden}
        page.hidden_columns = {number_of(name) for name, told in sheet.column_dimensions.items() if told.hidden}
    return pages


def ods_pages(path: Path) -> dict[str, Seen]:
    """Read an ODS file: its stored values, not what is shown."""
    with zipfile.ZipFile(path) as archive:
        root = ElementTree.fromstring(archive.read("content.xml"))
    pages = {}
    for table in root.iter(f"{TABLE}table"):
        page = pages[table.get(f"{TABLE}name")] = Seen()
        for column, told in enumerate(table.findall(f"{TABLE}table-column"), 1):
            if told.get(f"{TABLE}visibility") == "collapse":
                page.hidden_columns.add(column)
        for row, line in enumerate(table.findall(f"{TABLE}table-row"), 1):
            for column, cell in enumerate(line, 1):
                words = "\n".join("".join(one.itertext()) for one in cell.findall(TEXT))
                value = cell.get(f"{OFFICE}date-value") or cell.get(f"{OFFICE}value") or words
                if value:
                    page[row, column] = value
                note = cell.find(f"{OFFICE}annotation")
                if note is not None:
                    page.comments[row, column] = "".join(note.find(TEXT).itertext())
    return pages


READERS = {".csv": text_pages, ".xlsx": xlsx_pages, ".ods": ods_pages}
