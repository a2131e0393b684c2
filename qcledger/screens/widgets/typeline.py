"""One line to type in front of a page: a sticker, a reading, the code of a session."""

from collections.abc import Awaitable, Callable
from typing import Generic, TypeVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from qcledger.errors import QcledgerError
from qcledger.screens.shown import shown, shown_line
from qcledger.screens.styles import StyledOnce
from qcledger.screens.widgets.fields import Line

Answer = TypeVar("Answer")


class TypeLine(StyledOnce, ModalScreen[Answer | None], Generic[Answer]):
    """Gives back what was read from the line when Enter is pressed; Esc gives None.

    Parameters
    ----------
    title
        What to type.
    read
        Reads what was typed; what it refuses is told, and the line stays as it was typed.
    start
        What stands there already, with the cursor behind it.
    """

    BINDINGS = [Binding("escape", "dismiss(None)", "leave", show=False)]  # noqa: RUF012
    DEFAULT_CSS = """
    TypeLine Input { height: 1; border: none; padding: 0; background: $panel; }
    TypeLine Input:focus { border: none; }
    TypeLine .wrong { height: auto; color: $warning; }
    """

    def __init__(self, title: str, read: Callable[[str], Awaitable[Answer]], start: str = "") -> None:
        super().__init__()
        self._heading = title
        self._read = read
        self._start = start

    def compose(self) -> ComposeResult:
        """Show what to type, the line, and what is wrong with it."""
        with Vertical(classes="dialog"):
            yield Static(shown_line(f"{self._heading}; Enter takes it, Esc leaves"), markup=False, classes="faint")
            yield Line(self._start, select_on_focus=False)
            yield Static("", markup=False, classes="wrong")

    @on(Input.Submitted)
    async def _entered(self, event: Input.Submitted) -> None:
        event.stop()
        try:
            answer = await self._read(event.value)
        except QcledgerError as refused:
            self.app.bell()
            self.query_one(".wrong", Static).update(shown(refused.told()))
            return
        if self.is_current:  # not left with Esc while the ledger was asked
            self.taken()
            self.dismiss(answer)

    def taken(self) -> None:
        """Do what is to be done before the line is given to whoever asked for it."""
