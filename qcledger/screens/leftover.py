"""Saves that did not reach the ledger before: the tester is asked about them at the next start."""

from collections.abc import Sequence
from datetime import datetime
from functools import partial
from typing import Any, Final

from textual.app import App, ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from qcledger.errors import BadInput, QcledgerError
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.shown import shown, shown_line, shown_moment
from qcledger.screens.styles import StyledOnce
from qcledger.screens.unsaved import make_again, words

HEADING: Final = "Not in the ledger when the pages ended last:"
KEYS: Final = "Enter saves them   x throws them away   Esc asks again next time"


class Unsaved(StyledOnce, ModalScreen[str]):
    """What did not reach the ledger, one line a save; the answer is ``save``, ``drop`` or ``later``."""

    BINDINGS = [  # noqa: RUF012
        Binding("enter", "dismiss('save')", "save", show=False),
        Binding("x", "dismiss('drop')", "throw away", show=False),
        Binding("escape", "dismiss('later')", "later", show=False),
    ]

    DEFAULT_CSS = """
    Unsaved .lines { height: auto; max-height: 12; }
    """

    def __init__(self, lines: Sequence[str]) -> None:
        super().__init__()
        self._lines = lines

    def compose(self) -> ComposeResult:
        """Show each save, and what may be done with them; the keys stay in sight."""
        with Vertical(classes="dialog"):
            yield Static(shown_line(HEADING, "bold"), markup=False)
            with VerticalScroll(classes="lines"):
                for line in self._lines:
                    yield Static(shown(f"- {line}"), markup=False)
            yield Static(KEYS, markup=False, classes="faint")


async def ask_about(app: App[Any]) -> None:
    """Show what did not reach the ledger, and do with it what the tester says."""
    desk: Desk = app.desk  # type: ignore[attr-defined]
    kept = list(desk.window.saves)
    lines = await desk.read(lambda _: [f"{_asked_at(desk, save)}  {words(save)}" for save in kept])

    def answered(answer: str | None) -> None:
        if answer == "save" and isinstance(page := app.screen, Page):
            page.work(partial(_save, desk, page, kept))
        elif answer == "drop":
            desk.forget(kept)

    app.push_screen(Unsaved(lines), answered)


def _asked_at(desk: Desk, save: dict[str, Any]) -> str:
    return shown_moment(datetime.fromisoformat(save["at"]), desk.settings, desk.zone)


async def _save(desk: Desk, page: Page, kept: Sequence[dict[str, Any]]) -> None:
    """Save in their order; what the ledger refuses or cannot take stays, and is told."""
    refused: list[QcledgerError] = []
    for save in kept:
        try:
            await desk.save(partial(make_again, save=save))
        except QcledgerError as error:
            refused.append(error)
        else:
            desk.forget([save])
    await page.fill()
    done = f"{len(kept) - len(refused)} of {len(kept)} saved"
    if not refused:
        page.say(done)
    else:
        again = "; the next start asks again, where x throws it away" if isinstance(refused[0], BadInput) else ""
        page.say(f"{done}; {refused[0].told()}{again}", problem=True)
