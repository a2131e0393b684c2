"""Pencils by pages, from nothing to a draft; and the pages of ink and gouache: no word of watercolour on any."""

from datetime import UTC, datetime

import pytest
from textual.widgets import Input

from qcledger.door import Door
from qcledger.ledger import Ledger
from qcledger.records import LabelVersion, Observation, Specimen, Stage
from qcledger.screens.app import PAGES, Pages
from qcledger.screens.desk import Desk
from qcledger.screens.widgets.fields import Field
from qcledger.settings import default_ledger, load_settings
from tests.media_ledgers.made import MEDIA, PENCIL, foreign_in, set_to, to_a_graded_sheet
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
        await at.press("f4")
        await at.until(lambda: at.on_page == "Unpacking" and at.page.atwork is not None)
        await at.settle()
        at.look()
        await at.press("w", "r")
        await at.settle()
        await at.press(*"0.1", "enter")
        await at.settle()
        await at.press("enter")
        await at.settle()
        await at.press("space")
        await at.settle()
        at.look()
        await at.press("escape")
        await at.arrive("ParcelPage")
        await at.press("escape")
        await at.settle()
        await at.go("b", "Bench")
        await at.press("b")
        await at.until(lambda: at.on_page == "BeginForm")
        await at.settle()
        at.look()
        asked = [field.label for field in at.page.query(Field) if field.display]
        assert asked[-4:] == ["sharpener", "lamp", "temperature", "humidity"]
        assert at.field("rubric").value == "pencil"
        at.field("comparison").value, at.field("specimens").value = "soft greens", "OV 1"
        at.field("session").value, at.field("paper").value = "S01", "smooth 200 g"
        at.field("brush").value = "hand, new blade"
        at.field("humidity").focus_input()
        await at.press("enter")
        await at.until(lambda: at.on_page == "Bench" and at.page.atwork is not None)
        await at.settle()
        at.look()
        await at.press("h")
        await at.arrive("ConditionsForm")
        await at.press("escape")
        await at.settle()
        await at.press("r", *"2", "enter")
        await at.settle()
        await at.press("enter")
        await at.settle()
        at_work = len(at.shown)
        for letter, page in (("r", "RecordPage"), ("f", "FindingsOpening"), ("p", "PublishPage"), ("l", "LooseEnds")):
            await at.go(letter, page)
    with at.ledger() as ledger:
        (one,) = ledger.rows(Specimen)
        assert (one.format, one.price_minor) == ("pencil", 250)
        assert ledger.get(LabelVersion, one.label_version).facts == ("hardness: soft",)
        assert {row.brush for row in ledger.rows(Stage)} == {"hand, new blade"}
        seen = {row.criterion: row for row in ledger.rows(Observation)}
        assert (seen["warped"].reading, seen["warped"].grade, seen["split_wood"].grade) == (0.1, 0.0, 0.0)
        assert not {"pigment_information", "leak", "mould"} & seen.keys()
        assert [row.criterion for row in seen.values() if row.stage] != []
    found_in = [words for text in at.shown[:at_work] if (words := foreign_in(text, PENCIL))]
    found_in += [words for text in at.shown[at_work:] if (words := foreign_in(text, PENCIL))]
    assert not found_in, found_in


@pytest.mark.parametrize("medium", MEDIA, ids=lambda medium: medium.rubric)
async def test_the_pages_of_a_graded_ledger_say_no_word_of_another_medium(medium, cli, tmp_path):
    """Stock with a specimen's history, the sheet at work, record, findings and what may be published."""
    for args in to_a_graded_sheet(medium, tmp_path):
        done = cli(*args)
        assert done.code == 0, (args, done.err)
    at = Pencils(default_ledger(), medium)
    async with at.run((120, 40)):
        await at.go("s", "Stock")
        await at.press("enter")
        await at.settle()
        at.look()
        for letter, page in (("b", "Bench"), ("r", "RecordPage"), ("f", "FindingsOpening"), ("p", "PublishPage")):
            await at.go(letter, page)
    assert len(at.shown) == 6
    found_in = [words for text in at.shown if (words := foreign_in(text, medium))]
    assert not found_in, found_in
