"""The sheets at work, to choose one from."""

from collections.abc import Sequence

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.message import Message
from textual.widgets import Static

from qcledger.bench.sheets import SheetHead
from qcledger.screens.widgets.rows import Column, Row, Rows

COLUMNS = (
    Column("session", 9),
    Column("comparison", 16, grows=True),
    Column("stage", 12, need=1),
    Column("done", 9, need=2, right=True),
    Column("tester", 8, need=3),
)


class SheetList(Vertical):
    """One line a sheet; without any, how to begin one."""

    DEFAULT_CSS = """
    SheetList { height: 1fr; }
    SheetList > .empty { height: auto; }
    """

    class Opened(Message):
        """A sheet was chosen."""

        def __init__(self, session: str) -> None:
            super().__init__()
            self.session = session

    def __init__(self, *, id: str) -> None:  # noqa: A002
        super().__init__(id=id)
        self._rows: list[Row] = []

    def compose(self) -> ComposeResult:
        """Lay out the list and the words for an empty one."""
        yield Static("...", markup=False, classes="empty")
        yield Rows(COLUMNS, self._load)

    def on_mount(self) -> None:
        """Show no list before there is one."""
        self.query_one(Rows).display = False

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        return self._rows[first : first + most]

    def show(self, found: Sequence[SheetHead]) -> None:
        """Show these sheets and mark the first."""
        self._rows = [
            Row(
                head.session.id,
                (head.session.code, head.comparison, head.stage, f"{head.done} of {head.of}", head.session.tester),
            )
            for head in found
        ]
        rows = self.query_one(Rows)
        rows.display = bool(found)
        self.query_one(".empty", Static).update("No sheet is at work. b begins one, l lays out a blind one.")
        self.query_one(".empty").display = not found
        rows.show(len(found))
        if found:
            rows.focus()

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.post_message(self.Opened(message.row.id))
