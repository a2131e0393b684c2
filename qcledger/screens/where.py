"""Asks in which time zone the tester works, and records the answer."""

from functools import partial
from typing import TYPE_CHECKING, Final

from qcledger.bench import whereabouts
from qcledger.clock import zone_named
from qcledger.screens.page import Page
from qcledger.screens.widgets.typeline import TypeLine

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

TITLE: Final = "Your time zone, as in Europe/Berlin; days are told by it from now on"


async def ask(page: Page) -> None:
    """Ask in front of a page; what was answered is recorded, and the page filled anew."""
    proposed = await page.desk.read(whereabouts.proposed, after_saves=True)

    async def read(text: str) -> str:
        return zone_named(text.strip()).key

    def take(name: str | None) -> None:
        if name is not None:
            page.work(partial(_keep, page, name))

    page.app.push_screen(TypeLine(TITLE, read, proposed), take)


async def _keep(page: Page, name: str) -> None:
    def job(ledger: "Ledger") -> None:
        whereabouts.answer(ledger, name)
        page.desk.learn_zone(ledger)

    await page.desk.save(job)
    page.saved()
    page.say(f"days are told by {name} from now on")
    await page.fill()
