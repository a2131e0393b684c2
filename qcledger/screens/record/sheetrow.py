"""One row of a spreadsheet before it comes in: its cells, and what each of them becomes."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.screens.widgets.wrapped import Wrapped

if TYPE_CHECKING:
    from qcledger.exchange.account import RowTold

COLUMNS: Final = (
    Column("cell", 8, need=0),
    Column("column", 10, grows=True, need=3),
    Column("holds", 10, grows=True, need=2),
    Column("becomes", 18, grows=True, need=1),
)


class SheetRowPage(Page):
    """The cells of one row; the rows before and after it are a key away.

    Parameters
    ----------
    desk
        The desk of the pages; nothing is asked of it.
    name
        The sheet's file.
    rows, number
        The rows that were listed, and which of them is shown.
    """

    KEY = "sheet_row"
    TELLS_MARKED = True
    TITLE = "Row"
    CSS_PATH = "record.tcss"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("sheet_row"))

    def __init__(self, desk: Desk, name: str, rows: "Sequence[RowTold]", number: int) -> None:
        super().__init__(desk)
        self._sheet_name = name
        self._rows, self._number = rows, number

    def body(self) -> ComposeResult:
        """Lay out what the row becomes, its cells, and the marked cell in full."""
        yield Wrapped(3, id="whole")
        yield Rows(COLUMNS, self._load)
        yield Wrapped(5, id="result")

    def on_mount(self) -> None:
        """Begin in the list."""
        self.query_one(Rows).focus()

    async def fill(self) -> None:
        """Show the row; the mark is on the first cell that is refused."""
        row = self._rows[self._number]
        self.head(self._sheet_name, f"{self._number + 1} of {len(self._rows)}")
        self.query_one("#whole", Wrapped).show(row.line)
        refused = next((place for place, cell in enumerate(row.cells) if cell.is_refused), 0)
        self.query_one(Rows).show(len(row.cells), marked=refused)

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        row = self._rows[self._number]
        return [
            Row(str(place), (row.spot(cell), cell.column, cell.value, cell.outcome), faint=bool(cell.why))
            for place, cell in enumerate(row.cells[first : first + most], first)
        ]

    @on(Rows.Marked)
    def _marked(self, message: Rows.Marked) -> None:
        """Tell the marked cell in full."""
        message.stop()
        if message.row is not None:
            row = self._rows[self._number]
            cell = row.cells[int(message.row.id)]
            told = f"{row.spot(cell)} {cell.column} {cell.quoted}{'' if cell.why else ':'} {cell.outcome}"
            self.query_one("#result", Wrapped).show(told)

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.action_turn(1)

    def action_turn(self, by: int) -> None:
        """Show the row after this one, or the one before."""
        if not 0 <= self._number + by < len(self._rows):
            self.say("that was the last row" if by > 0 else "that was the first row", problem=True)
            return
        self.say("")
        self._number += by
        self.work(self.fill, instead_of="fill")
