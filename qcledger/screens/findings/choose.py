"""A question with a list of answers, in front of a page."""

from collections.abc import Callable, Sequence
from typing import Any, ClassVar, Final

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen, Screen
from textual.widgets import Static

from qcledger.screens.shown import shown_line
from qcledger.screens.styles import StyledOnce
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.screens.widgets.wrapped import Wrapped

EVERYTHING: Final = ""
"""The id of "all criteria" and "all comparisons" among the answers."""
Answers = Sequence[tuple[str, str]]
Then = Callable[[str | None], None]
"""Takes the id of what was picked, or None."""


class FilteredRows(Rows, inherit_bindings=False):
    """A list in which letters mean something else, and so move nothing."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", "up", show=False),
        Binding("down", "move(1)", "down", show=False),
        Binding("pageup", "turn(-1)", "page up", show=False),
        Binding("pagedown", "turn(1)", "page down", show=False),
        Binding("home", "to_end(-1)", "first", show=False),
        Binding("end", "to_end(1)", "last", show=False),
        Binding("enter", "pick", "open", show=False),
    ]


class Choose(StyledOnce, ModalScreen[str | None]):
    """Gives back the id of the line that was picked; None when nothing was. What is typed filters the lines.

    Parameters
    ----------
    question
        What is asked.
    answers
        Id and text of each.
    marked
        Id of the one that stands now.
    """

    DEFAULT_CSS = """
    Choose Rows { height: auto; min-height: 2; max-height: 100%; }
    Choose #whole { dock: bottom; color: $faint; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "dismiss(None)", "close", show=False),
        Binding("backspace", "shorten", "shorter", show=False),
    ]

    def __init__(self, question: str, answers: Sequence[tuple[str, str]], marked: str = "") -> None:
        super().__init__()
        self._question = question
        self._answers = self._left = answers
        self._typed = ""
        self._marked = next((n for n, (key, _) in enumerate(answers) if key == marked), 0)

    def compose(self) -> ComposeResult:
        """Show the question and its answers."""
        with Vertical(classes="dialog"):
            yield Static(shown_line(self._question, "bold"), markup=False, id="question")
            yield FilteredRows([Column("Enter takes, letters filter, Esc leaves", 10, grows=True)], self._load)
            yield Wrapped(3, id="whole")

    def on_mount(self) -> None:
        """Begin at the one that stands."""
        rows = self.query_one(Rows)
        rows.styles.height = len(self._answers) + 1
        rows.show(len(self._answers), marked=self._marked)
        rows.focus()

    async def _load(self, first: int, most: int) -> list[Row]:
        return [Row(key, (text,)) for key, text in self._left[first : first + most]]

    def on_key(self, event: events.Key) -> None:
        """Take a letter as part of a word that the lines have to have."""
        if event.is_printable and event.character is not None:
            event.stop()
            self._filter(self._typed + event.character)

    def action_shorten(self) -> None:
        """Take the last letter back."""
        self._filter(self._typed[:-1])

    def _filter(self, typed: str) -> None:
        """Show the answers that have each word typed, letter case aside."""
        self._typed = typed
        words = typed.casefold().split()
        self._left = [one for one in self._answers if all(word in one[1].casefold() for word in words)]
        told = f"{self._question}   {typed}" if typed else self._question
        self.query_one("#question", Static).update(shown_line(told, "bold"))
        self.query_one(Rows).show(len(self._left))

    @on(Rows.Marked)
    def _show_whole(self, message: Rows.Marked) -> None:
        """Show the marked answer in full where the list has to cut it."""
        message.stop()
        row = message.row
        self.query_one("#whole", Wrapped).show(str(row.cells[0]) if row and message.rows.left_out() else "")

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.dismiss(message.row.id)


def ask_criterion(screen: Screen[Any], known: Answers, marked: str | None, then: Then) -> None:
    """Ask for a criterion by its key; `EVERYTHING` is all of them."""
    answers = [(EVERYTHING, "all criteria"), *known]
    screen.app.push_screen(Choose("Which criterion?", answers, marked or EVERYTHING), then)


def ask_comparison(screen: Screen[Any], known: Answers, marked: str | None, then: Then) -> None:
    """Ask for a comparison by its id; `EVERYTHING` is all of them."""
    answers = [(EVERYTHING, "all comparisons"), *known]
    screen.app.push_screen(Choose("Which comparison?", answers, marked or EVERYTHING), then)
