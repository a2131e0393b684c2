"""A spreadsheet and its truth, kept together while they are made, and written as text, XLSX or ODS."""

import csv
import io
import re
import zipfile
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

FOLDER = Path(__file__).parent
COLUMNS = (
    "sheet", "row", "column", "kind", "maker", "paint", "format", "size", "lot", "piece", "looked_at", "value",
    "means", "scale", "worse", "date", "tester", "price", "currency", "photo", "left_out",
)  # fmt: skip
STAMP = (2025, 11, 3, 9, 0, 0)


def letter(column: int) -> str:
    """Return what a spreadsheet calls its `column`, counted from 1."""
    name = ""
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name


def written(value) -> str:
    """Return a cell's value as the truth writes it: text as it stands, numbers at their shortest, days as ISO."""
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return value.isoformat() if isinstance(value, date) else str(value)


@dataclass
class Cell:
    """One cell: its value, and what else a hand can do to it."""

    value: object = None
    shown: str = ""  # number format (XLSX) or the text on screen (ODS)
    fill: str = ""  # RRGGBB, or "theme 0 -0.25"
    comment: str = ""
    formula: str = ""
    bold: bool = False


@dataclass(frozen=True)
class Piece:
    """What a row or a column of the sheet is about."""

    maker: str = ""
    paint: str = ""
    format: str = ""
    size: str = ""
    lot: str = ""
    piece: str = ""
    bought: str = ""
    price: str = ""
    currency: str = ""
    tester: str = ""
    tested: str = ""


NOTHING = Piece()


@dataclass
class Page:
    """One sheet of a book, by rows and columns from 1."""

    book: "Book"
    name: str
    cells: dict[tuple[int, int], Cell] = field(default_factory=dict)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    hidden_columns: set[int] = field(default_factory=set)
    hidden_rows: set[int] = field(default_factory=set)
    widths: dict[int, float] = field(default_factory=dict)
    freeze: str = ""

    def put(self, row: int, column: int, value=None, **told) -> None:
        """Write a cell."""
        self.cells[row, column] = Cell(value, **told)

    def head(self, row: int, *names: str) -> None:
        """Write a row of headings from the first column on."""
        for column, name in enumerate(names, 1):
            if name:
                self.put(row, column, name, bold=True)

    def span(self, row: int, column: int, rows: int, columns: int) -> None:
        """Merge cells."""
        self.merged.append((row, column, rows, columns))

    def say(self, row: int, column: int, kind: str, piece: Piece = NOTHING, **told: str) -> None:
        """Write what a person reads out of a cell."""
        cell = self.cells.get((row, column), Cell())
        line = dict.fromkeys(COLUMNS, "")
        line |= {name: getattr(piece, name) for name in ("maker", "paint", "format", "size", "lot", "piece")}
        line |= {"sheet": self.name, "row": str(row), "column": letter(column), "kind": kind}
        line["value"] = f"[fill {cell.fill}]" if cell.fill and cell.value is None else written(cell.value)
        if kind in ("piece", "price"):
            line |= {"date": piece.bought, "price": piece.price, "currency": piece.currency}
        elif kind in ("result", "note"):
            line |= {"date": piece.tested, "tester": piece.tester}
        self.book.truth.append(line | told)

    def leave(self, row: int, column: int, why: str, piece: Piece = NOTHING, **told: str) -> None:
        """Say why a cell is no fact."""
        self.say(row, column, "left out", piece, left_out=why, **told)

    def leave_row(self, row: int, why: str, piece: Piece = NOTHING) -> None:
        """Say why no cell of a row is a fact."""
        for _, column in sorted(place for place in self.cells if place[0] == row):
            self.leave(row, column, why, piece)

    @property
    def rows(self) -> list[list[object]]:
        """The values, row by row."""
        down, across = (max(place[axis] for place in self.cells) for axis in (0, 1))
        return [
            [self.cells.get((row, column), Cell()).value for column in range(1, across + 1)]
            for row in range(1, down + 1)
        ]


@dataclass
class Book:
    """A spreadsheet of several pages, who keeps it, and its truth."""

    name: str
    about: str
    pages: list[Page] = field(default_factory=list)
    truth: list[dict[str, str]] = field(default_factory=list)

    def page(self, name: str = "") -> Page:
        """Add a page."""
        self.pages.append(Page(self, name))
        return self.pages[-1]

    def write_truth(self) -> None:
        """Write the truth and the keeper's words beside the sheet."""
        stem = self.name.rpartition(".")[0]
        with (FOLDER / f"{stem}.truth.csv").open("w", encoding="utf-8", newline="") as file:
            lines = csv.DictWriter(file, COLUMNS, lineterminator="\n")
            lines.writeheader()
            lines.writerows(self.truth)
        (FOLDER / f"{stem}.md").write_text(self.about.strip() + "\n", encoding="utf-8")

    def write_text(self, encoding: str, comma: str, end: str = "\r\n", before: str = "") -> None:
        """Write the only page as delimited text."""
        text = io.StringIO()
        csv.writer(text, delimiter=comma, lineterminator=end).writerows(
            [written(value) for value in row] for row in self.pages[0].rows
        )
        (FOLDER / self.name).write_bytes((before + text.getvalue()).encode(encoding))
        self.write_truth()

    def write_xlsx(self) -> None:
        """Write XLSX; results of formulas are put where the program that keeps the sheet would have put them."""
        from openpyxl import Workbook

        workbook = Workbook()
        workbook.remove(workbook.active)
        for page in self.pages:
            _fill_xlsx(workbook.create_sheet(page.name), page)
        raw = io.BytesIO()
        workbook.save(raw)
        (FOLDER / self.name).write_bytes(_repacked(raw.getvalue(), self._with_results))
        self.write_truth()

    def _with_results(self, inside: str, content: bytes) -> bytes:
        if inside == "docProps/core.xml":
            return re.sub(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", b"2025-11-03T09:00:00Z", content)
        found = re.fullmatch(r"xl/worksheets/sheet(\d+)\.xml", inside)
        if not found:
            return content
        text = content.decode()
        for (row, column), cell in self.pages[int(found[1]) - 1].cells.items():
            if cell.formula:
                place, words = f"{letter(column)}{row}", isinstance(cell.value, str)
                text, done = re.subn(
                    rf'<c r="{place}"([^>]*)><f>(.*?)</f><v ?/?>(?:</v>)?',
                    rf'<c r="{place}"\1{" t=" + chr(34) + "str" + chr(34) if words else ""}><f>\2</f>'
                    rf"<v>{written(cell.value)}</v>",
                    text,
                )
                if done != 1:
                    raise ValueError(f"{self.name} {place}: {done} formulas found, one allowed")
        return text.encode()

    def write_ods(self) -> None:
        """Write ODS; needs odfpy, which only the making needs."""
        from tests.sheets.ods import packed

        (FOLDER / self.name).write_bytes(_repacked(packed(self.pages), lambda _inside, content: content))
        self.write_truth()


def _fill_xlsx(sheet, page: Page) -> None:
    from openpyxl.comments import Comment
    from openpyxl.styles import Font, PatternFill
    from openpyxl.styles.colors import Color

    for (row, column), one in page.cells.items():
        cell = sheet.cell(row, column, f"={one.formula}" if one.formula else one.value)
        if one.shown:
            cell.number_format = one.shown
        if one.bold:
            cell.font = Font(bold=True)
        if one.comment:
            cell.comment = Comment(one.comment, "OV")
        if one.fill.startswith("theme"):
            _, theme, tint = one.fill.split()
            cell.fill = PatternFill("solid", fgColor=Color(theme=int(theme), tint=float(tint)))
        elif one.fill:
            cell.fill = PatternFill("solid", fgColor=f"FF{one.fill}")
    for row, column, rows, columns in page.merged:
        sheet.merge_cells(start_row=row, start_column=column, end_row=row + rows - 1, end_column=column + columns - 1)
    for column, width in page.widths.items():
        sheet.column_dimensions[letter(column)].width = width
    for column in page.hidden_columns:
        sheet.column_dimensions[letter(column)].hidden = True
    for row in page.hidden_rows:
        sheet.row_dimensions[row].hidden = True
    if page.freeze:
        sheet.freeze_panes = page.freeze


def _repacked(raw: bytes, change) -> bytes:
    """Return an archive whose members all carry one time, so that the same sheet is the same bytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(raw)) as old, zipfile.ZipFile(out, "w") as new:
        for member in old.infolist():
            info = zipfile.ZipInfo(member.filename, STAMP)
            info.compress_type, info.external_attr = member.compress_type, 0o600 << 16
            new.writestr(info, change(member.filename, old.read(member)))
    return out.getvalue()


def of(piece: Piece, **told: str) -> Piece:
    """Return the same piece with something more known of it."""
    return replace(piece, **told)
