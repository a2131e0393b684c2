"""Takes words or a photo out for good: what goes and what stays first, then a reason, in one act."""

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from qcledger.screens.page import Page
from qcledger.screens.shown import shown, shown_line
from qcledger.screens.styles import StyledOnce
from qcledger.screens.widgets.fields import Line
from qcledger.text import one_line

if TYPE_CHECKING:
    from qcledger.bench.takingout import TakingOut
    from qcledger.ledger import Ledger
    from qcledger.screens.windows import Holding

Wanted = Callable[["Ledger"], "TakingOut"]
"""Returns what is to go; asked once to show it and once more to do it."""
DONE = "taken out for good; the reason is kept"


class TakeOut(StyledOnce, ModalScreen[str | None]):
    """What goes and what stays; a reason and Enter give the reason back, Esc None."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "dismiss(None)", "back", show=False)]
    DEFAULT_CSS = """
    TakeOut Input { height: 1; border: none; padding: 0; background: $panel; }
    TakeOut Input:focus { border: none; }
    TakeOut .wrong { height: auto; color: $warning; }
    """

    def __init__(self, lines: Sequence[str]) -> None:
        super().__init__()
        self._lines = lines

    def compose(self) -> ComposeResult:
        """Show a line each, then the line for the reason."""
        with VerticalScroll(classes="dialog"):
            yield Static(shown_line("Take out for good? It cannot be undone.", "bold"), markup=False)
            for line in self._lines:
                yield Static(shown(f"- {line}"), markup=False)
            yield Static("Why, kept for good; Enter does it, Esc leaves everything", markup=False, classes="faint")
            yield Line("", select_on_focus=False)
            yield Static("", markup=False, classes="wrong")

    def on_mount(self) -> None:
        """Let the reason be typed."""
        self.query_one(Line).focus()

    @on(Input.Submitted)
    def _entered(self, event: Input.Submitted) -> None:
        event.stop()
        reason = one_line(event.value)
        if reason:
            self.dismiss(reason)
        else:
            self.query_one(".wrong", Static).update("a reason is needed: it is all that will tell why")


async def ask(page: Page, wanted: Wanted) -> None:
    """Show in front of a page what would go; with a reason it goes, and the page is filled anew.

    What was typed and not saved goes with it.
    """
    window = page.desk.window

    def look(ledger: "Ledger") -> list[str]:
        found = wanted(ledger)
        return [*(one.words for one in window.holding(found.texts(), found.rows)), *found.lines()]

    lines = await page.desk.read(look, after_saves=True)

    def take(reason: str | None) -> None:
        if reason is not None:
            page.work(partial(_take_out, page, wanted, reason))

    page.app.push_screen(TakeOut(lines), take)


async def _take_out(page: Page, wanted: Wanted, reason: str) -> None:
    window = page.desk.window

    def job(ledger: "Ledger") -> "list[Holding]":
        from qcledger.bench.takingout import take_out

        found = wanted(ledger)
        take_out(ledger, found, reason)
        _, stays = window.throw_away(found.texts(), found.rows)
        return stays

    stays = await page.desk.save(job)
    page.desk.done.clear()
    page.did(_for_good)
    page.saved()
    await page.fill()
    page.say("; ".join([DONE, *(one.words for one in stays)]))


async def _for_good(_: Page) -> str:
    """Say that it stays so: nothing older is taken back either, for it might bring the words back."""
    return "what was taken out is gone for good, and what was done before it stays"


def words_of(observation: str) -> Wanted:
    """Return what asks for the notes and reasons of an observation and of all that amends it."""

    def wanted(ledger: "Ledger") -> "TakingOut":
        from qcledger.bench.takingout import of_observation

        return of_observation(ledger, observation)

    return wanted


def photo_of(digest: str) -> Wanted:
    """Return what asks for a photo with its caption and file name."""

    def wanted(ledger: "Ledger") -> "TakingOut":
        from qcledger.bench.takingout import of_photo

        return of_photo(ledger, digest)

    return wanted
