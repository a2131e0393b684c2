"""The loose ends that one line stands for, a line each."""

from collections.abc import Callable, Sequence
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.bench.due import Due
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_moment
from qcledger.screens.widgets.rows import Column, Row, Rows


class DueList(Page):
    """Every loose end behind one line; Enter does the marked one.

    Parameters
    ----------
    desk
        Whose settings show an hour.
    of
        The line that stands for them.
    do
        Does one of them.
    """

    KEY = "due_list"
    TITLE = "Loose ends"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("due_list"))

    def __init__(self, desk: Desk, of: Due, do: Callable[[Due], None]) -> None:
        super().__init__(desk)
        self._of = of
        self._do = do

    def body(self) -> ComposeResult:
        """Lay out the list."""
        yield Rows((Column("what to do", 18, grows=True),), self._load)

    def on_mount(self) -> None:
        """Begin in the list."""
        self.query_one(Rows).focus()

    async def fill(self) -> None:
        """Show every line."""
        self.head(f"{len(self._of.more)} {self._of.kind}")
        rows = self.query_one(Rows)
        rows.show(len(self._of.more), marked=rows.marked)

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        return [Row(str(n), (self._words(one),)) for n, one in enumerate(self._of.more)][first : first + most]

    def _words(self, one: Due) -> str:
        due_at = f"; due {shown_moment(one.at, self.desk.settings, self.desk.zone)}" if one.at is not None else ""
        return f"{one.words}{due_at}"

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.app.pop_screen()
        self._do(self._of.more[int(message.row.id)])

    def action_open(self) -> None:
        """Do what the marked line says."""
        self.query_one(Rows).action_pick()
