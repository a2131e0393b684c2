"""The table of unpacking: pieces down, criteria across by their letters, what stands in each place."""

from collections.abc import Sequence
from typing import Final

from textual.content import Content
from textual.geometry import Size
from textual.widget import Widget

from qcledger.bench.faults import Unpacked
from qcledger.bench.runsheet import SheetSquare
from qcledger.screens.shown import OPEN, shown_mark
from qcledger.screens.widgets.ladder import MARKED, PROPOSED
from qcledger.text import harmless, one_line, shorten

WIDE: Final = 100
"""Cells from which on a column is three cells wide instead of two."""
STICKER: Final = 9
"""Cells of a sticker and the blank behind it."""
LEAST_NAME: Final = 8
"""Cells that a piece's name keeps, however many columns there are."""
SHUT: Final = "s"
"""Stands where a piece that is kept sealed would have to be opened first."""


def mark_of(sheet: Unpacked, place: SheetSquare) -> str:
    """Return what stands at a place in one cell: a grade, the number of a choice, a sign; blank: not asked."""
    if not sheet.asks(place):
        return " "
    stands = sheet.result(place)
    if stands.is_open:
        if sheet.is_shut(place):
            return SHUT
        return OPEN if sheet.proposes(place) is None else PROPOSED
    return shown_mark(stands, sheet.scale(place).choices)


def in_cells(text: str, cells: int) -> str:
    """Return a text and a blank in so many cells of the terminal; what is cut ends with an ellipsis."""
    from rich.cells import cell_len, set_cell_size

    room = cells - 1
    whole = text if cell_len(text) <= room else set_cell_size(text, room - 1).rstrip() + "…"
    return set_cell_size(whole, cells)


class UnpackingTable(Widget):
    """Draws an `Unpacked`; where not every piece has room, those around the one at work are shown."""

    DEFAULT_CSS = """
    UnpackingTable { height: auto; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._sheet: Unpacked | None = None
        self._at: SheetSquare | None = None
        self._most = 6

    def show(self, sheet: Unpacked, at: SheetSquare) -> None:
        """Show what stands, with the place `at` marked."""
        is_other = self._sheet is None or len(self._sheet.lines) != len(sheet.lines)
        self._sheet, self._at = sheet, at
        self.refresh(layout=is_other)

    def allow(self, most: int) -> None:
        """Take another number of lines at most, the letters among them."""
        if most != self._most:
            self._most = most
            self.refresh(layout=True)

    @property
    def needed(self) -> int:
        """The lines that all pieces take, with the letters above them."""
        return 1 + (len(self._sheet.lines) if self._sheet is not None else 0)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the lines the table takes."""
        return max(min(self.needed, self._most), 2)

    def render(self) -> Content:
        """Return the letters and, below them, the pieces around the one at work."""
        sheet, at = self._sheet, self._at
        if sheet is None or at is None:
            return Content("")
        width, first = self.size.width, self._first(at.line, len(sheet.lines))
        cell = 3 if width >= WIDE else 2
        name = max(width - 2 - STICKER - cell * len(sheet.criteria), LEAST_NAME)
        shown = range(first, min(first + self._rows, len(sheet.lines)))
        lines = [self._letters(sheet, at, name, cell, shown)]
        lines += [self._piece(sheet, at, line, name, cell) for line in shown]
        return Content("\n").join(lines)

    @property
    def _rows(self) -> int:
        return max(self.size.height - 1, 1)

    def _first(self, line: int, count: int) -> int:
        """Return the first piece that is shown: the one at work stands in the middle where not all have room."""
        return min(max(line - self._rows // 2, 0), max(count - self._rows, 0))

    def _letters(self, sheet: Unpacked, at: SheetSquare, name: int, cell: int, shown: Sequence[int]) -> Content:
        """Return the line of letters, that of the criterion at work in bold and marked."""
        count = len(sheet.lines)
        which = f"pieces {shown[0] + 1} to {shown[-1] + 1} of {count}" if len(shown) < count else ""
        parts = [Content.styled(shorten(which, STICKER + name).ljust(2 + STICKER + name), "$faint")]
        for key in sheet.criteria:
            letter = sheet.letters.get(key, " ")
            is_here = key == at.criterion
            mark = MARKED if is_here else " "
            parts.append(Content.styled(f"{mark}{letter}".ljust(cell), "bold $ink" if is_here else "bold"))
        return Content("").join(parts)

    def _piece(self, sheet: Unpacked, at: SheetSquare, line: int, name: int, cell: int) -> Content:
        found, is_here = sheet.lines[line], line == at.line
        sticker, title = (one_line(text) for text in (found.specimen.sticker, found.title))
        head = f"{MARKED if is_here else ' '} {in_cells(sticker, STICKER)}{in_cells(title, name)}"
        parts = [Content.styled(harmless(head), "bold $ink" if is_here else "")]
        for key in sheet.criteria:
            place = SheetSquare(line, key)
            mark = f"{MARKED if place == at else ' '}{mark_of(sheet, place)}".ljust(cell)
            parts.append(Content.styled(mark, "reverse bold") if place == at else Content(mark))
        return Content("").join(parts)
