"""One line to type in front of a page: a sticker, a reading, a note of a few words."""

from collections.abc import Callable

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from qcledger.screens.shown import shown_line
from qcledger.screens.widgets.fields import Line


class TypeLine(ModalScreen[str | None]):
    """Gives back what was typed when Enter is pressed; Esc gives None.

    Parameters
    ----------
    title
        What to type.
    start
        What stands there already, with the cursor behind it.
    check
        Returns what is wrong with the text, or nothing; a wrong one stays and is told.
    """

    BINDINGS = [Binding("escape", "dismiss(None)", "leave", show=False)]  # noqa: RUF012
    DEFAULT_CSS = """
    TypeLine { align: center bottom; }
    TypeLine Input { height: 1; border: none; padding: 0; background: $panel; }
    TypeLine Input:focus { border: none; }
    """

    def __init__(self, title: str, start: str = "", check: Callable[[str], str] = lambda _: "") -> None:
        super().__init__()
        self._heading = title
        self._start = start
        self._check = check

    def compose(self) -> ComposeResult:
        """Show what to type, the line, and what is wrong with it."""
        with Vertical(classes="dialog"):
            yield Static(shown_line(f"{self._heading}   Enter takes it, Esc leaves"), markup=False, classes="faint")
            yield Line(self._start, select_on_focus=False)

    @on(Input.Submitted)
    def _entered(self, event: Input.Submitted) -> None:
        event.stop()
        wrong = self._check(event.value)
        if wrong:
            self.query_one(Static).update(shown_line(wrong))
        else:
            self.dismiss(event.value)
