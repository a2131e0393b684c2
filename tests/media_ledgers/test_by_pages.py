"""Pencils by pages, from nothing to a draft; and the pages of ink and gouache: no word of watercolour on any."""

from dataclasses import replace
from datetime import UTC, datetime

from textual.widgets import Input

from qcledger.door import Door
from qcledger.ledger import Ledger
from qcledger.records import LabelVersion, Specimen
from qcledger.screens.app import PAGES, Pages
from qcledger.screens.desk import Desk
from qcledger.screens.widgets.fields import Field
from qcledger.settings import default_ledger, load_settings
from tests.media_ledgers.made import PENCIL, PIGMENTS, foreign_in, set_to
from tests.screens.stock.support import Shop

NOW = datetime(2026, 3, 9, 14, 2, 31, tzinfo=UTC)


class Pencils(Shop):
    """All pages on a ledger that was just begun, and every text that they showed."""

    def __init__(self, place, medium):
        self.place, self.medium = place, medium
        self.desk = Desk(Door(place), Door(place, write=True), load_settings(), now=lambda: NOW)
        self.app = Pages(self.desk, PAGES)
        self.presses = 0
        self.shown: list[str] = []

    def look(self) -> None:
        """Keep what the screen shows, what fields would show while they are empty, and the help of the page."""
        hints = [str(field.query_one(Input).placeholder) for field in self.page.query(Field) if field.display]
        self.shown.append("\n".join([self.picture, *hints]))

    async def go(self, letter: str, page: str) -> None:
        """Open a page by its letter, with its help behind it."""
        await self.press("comma", letter)
        await self.until(lambda: self.on_page == page)
        await self.settle()
        self.look()

    async def arrive(self, page: str) -> None:
        """Wait for a page."""
        await self.until(lambda: self.on_page == page)
        await self.settle()
        self.look()


def begun(medium):
    """Return where a ledger without anything is."""
    set_to(medium)
    place = default_ledger()
    place.parent.mkdir(parents=True)
    with Ledger.create(place, letters="OV", tester="Oda Vane", zone="Etc/UTC"):
        pass
    return place


async def test_pencils_from_a_parcel_to_findings_by_keys(home):
    """A parcel, its label, its unpacking, a sheet, a grade and its findings: each asks what pencils have, no more."""
    at = Pencils(begun(PENCIL), PENCIL)
    async with at.run((100, 40)):
        await at.go("s", "Stock")
        await at.press("n")
        await at.arrive("ParcelPage")
        await at.type("Lantern")
        await at.press("f3")
        await at.until(lambda: at.field("paint").has_focus_within)
        await at.type("Trellmere Fir")
        await at.press("enter")
        await at.arrive("Label")
        asked = [field.label for field in at.page.query(Field) if field.display]
        assert asked == [
            *("maker", "pencil", "number", "hardness", "fastness", "core", "claims", "warnings"),
            *("also printed", "seen on"),
        ]
        at.field("maker").value, at.field("name").value = "Trellmere", "Fir"
        at.field("fact:hardness").value = "soft"
        await at.press("f3")
        await at.until(lambda: at.on_page == "ParcelPage" and at.field("lot").has_focus_within)
        await at.press(*"F1", "enter", *"2.50", "enter")
        await at.until(lambda: at.field("format").has_focus_within)
        at.look()
        await at.press("p", "enter")
        await at.saved()
        await at.press("escape")
        await at.settle()
        at.look()
    with at.ledger() as ledger:
        (one,) = ledger.rows(Specimen)
        assert (one.format, one.price_minor) == ("pencil", 250)
        assert ledger.get(LabelVersion, one.label_version).facts == ("hardness: soft",)
    strict = replace(PENCIL, foreign=(*PENCIL.foreign, *PIGMENTS))
    found_in = [words for text in at.shown if (words := foreign_in(text, strict))]
    assert not found_in, found_in
