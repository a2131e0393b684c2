"""A page that is one long text."""

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_lines
from qcledger.screens.widgets.lines import HeadLine

Told = list[tuple[str, list[str]]]
"""Headings, each with the lines below it."""


class ReadingPage(Page):
    """One long text, laid out anew for each width."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._width = 0

    def body(self) -> ComposeResult:
        """Lay out one long text."""
        with VerticalScroll(id="parts"):
            yield Static("...", markup=False, id="told")

    def on_mount(self) -> None:
        """Let the keys scroll."""
        self.query_one("#parts").focus()

    def tell(self, told: Told, width: int) -> None:
        """Show headings and their lines, which are laid out already and keep their blanks."""
        self._width = width
        parts = (Content.assemble((title, "bold $ink"), "\n", shown_lines(lines)) for title, lines in told)
        self.query_one("#told", Static).update(Content("\n\n").join(parts))

    def room(self) -> int:
        """Return the columns of a line, a scroll bar beside it."""
        return max(self.query_one(HeadLine).size.width - 2, 20)

    def on_resize(self) -> None:
        """Lay the text out anew for another width."""
        if self._width and self._width != self.room():
            self.work(self.fill, instead_of="fill")

    def action_turn(self, step: int) -> None:
        """Read on, or go back, by a screen."""
        parts = self.query_one("#parts")
        parts.scroll_relative(y=step * max(parts.size.height - 1, 1), animate=False)
