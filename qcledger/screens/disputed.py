"""Lets one side of a dispute stand: what each daybook says, with a key for each."""

from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from qcledger.screens.page import Page
from qcledger.screens.shown import shown, shown_line
from qcledger.screens.styles import StyledOnce

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.disputes import Dispute

SIDE_KEYS: Final = "abcdefgh"
"""Keys of the sides, that which stands first."""
GONE: Final = "this is settled already"


class Sides(StyledOnce, ModalScreen[int | None]):
    """What daybooks say otherwise of one row; a side's key gives its number, Esc None."""

    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(key, f"choose({number})", key, show=False) for number, key in enumerate(SIDE_KEYS)),
        Binding("escape", "dismiss(None)", "back", show=False),
    ]

    def __init__(self, dispute: "Dispute") -> None:
        super().__init__()
        self._dispute = dispute

    def compose(self) -> ComposeResult:
        """Show the row and a line a side."""
        with VerticalScroll(classes="dialog"):
            yield Static(shown_line(f"{self._dispute.what}: which stands?", "bold"), markup=False)
            for key, side in zip(SIDE_KEYS, self._dispute.sides, strict=False):
                stands = ", stands now" if side is self._dispute.sides[0] else ""
                yield Static(shown(f"{key} {side.says} ({side.tester}{stands})"), markup=False)
            yield Static("A letter lets that side stand; nothing is lost.   Esc back", markup=False, classes="faint")

    def action_choose(self, number: int) -> None:
        """Give back the number of a side that there is."""
        if number < len(self._dispute.sides):
            self.dismiss(number)


async def ask(page: Page, kind: str, subject: str) -> None:
    """Ask in front of a page which side of a dispute stands; the choice is recorded, and the page filled anew."""
    found = await page.desk.read(lambda ledger: ledger.disputes(), after_saves=True)
    dispute = next((one for one in found if (one.kind, one.subject) == (kind, subject)), None)
    if dispute is None:
        page.say(GONE)
        await page.fill()
        return

    def take(number: int | None) -> None:
        if number is not None:
            page.work(partial(_settle, page, dispute, number))

    page.app.push_screen(Sides(dispute), take)


async def _settle(page: Page, dispute: "Dispute", number: int) -> None:
    def job(ledger: "Ledger") -> None:
        ledger.settle(dispute, dispute.sides[number], on=page.desk.today)

    await page.desk.save(job)
    page.saved()
    await page.fill()
