"""From one page to another and back: where a subject is shown, and where Esc leads from there."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from textual import events

from qcledger.door import Door
from qcledger.records import Session
from qcledger.screens.actions import DUE_KEYS
from qcledger.screens.app import Pages
from qcledger.screens.desk import Desk
from qcledger.screens.messages import Go
from qcledger.screens.widgets.rows import Rows
from qcledger.settings import Settings
from tests.screens.support import is_drawn, picture, until
from tests.small import START, Small, graded, small_ledger


@pytest.fixture
def small(tmp_path, home) -> Small:
    """Return a small ledger with grades, whose one session is closed."""
    small = graded(small_ledger(tmp_path))
    with small.open(write=True) as ledger:
        (session,) = ledger.rows(Session)
        ledger.append([replace(session, closed_at=START + timedelta(days=2))])
    return small


class Walk:
    """All pages on a ledger."""

    def __init__(self, app: Pages, pilot: Any) -> None:
        self.app = app
        self.pilot = pilot

    async def on(self, name: str, *words: str) -> None:
        """Wait until a page of this name is in front and shows these words."""
        await self.until(
            lambda: (
                type(self.app.screen).__name__ == name
                and is_drawn(self.app)
                and all(word in picture(self.app) for word in words)
            )
        )

    async def until(self, true: Callable[[], bool]) -> None:
        """Wait until something is so."""
        await until(self.pilot, true)


@asynccontextmanager
async def walk(small: Small) -> AsyncIterator[Walk]:
    """Run all pages, Loose ends in front."""
    desk = Desk(Door(small.place), Door(small.place, write=True), Settings(), now=lambda: START + timedelta(days=3))
    app = Pages(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        at = Walk(app, pilot)
        await at.on("LooseEnds", "3 to do", "It needs")  # the column is called "what to do"
        yield at
    desk.close()


async def test_a_row_of_a_specimen_opens_in_a_record_that_was_never_open(small):
    """The record is made for it; Esc leads back to the specimen, then to the shelf."""
    async with walk(small) as at:
        await at.pilot.press("comma", "s")
        await at.on("Stock", "OV 0001")
        await at.pilot.press("end", "enter")
        await at.on("History", "Edge")
        await at.until(lambda: at.app.screen.query_one(Rows).row is not None)
        await at.pilot.press("h", "down", "enter")
        await at.on("Look", "Edge 4")
        await at.pilot.press("escape")
        await at.on("History", "OV 0001")
        await at.until(lambda: at.app.screen.query_one(Rows).row is not None)
        assert at.app.screen.query_one(Rows).marked == 1
        await at.pilot.press("escape")
        await at.on("Stock")
        assert at.app.is_running


async def test_a_line_opens_its_session_though_the_page_stood_elsewhere(small):
    """Tester was in front at the bench: the session comes all the same, and Esc leads back to the loose ends."""
    async with walk(small) as at:
        await at.pilot.press("comma", "b")
        await at.on("Bench", "No sheet is at work")
        await at.pilot.press("m")
        await at.on("Measured")
        at.app.action_go("loose_ends")
        await at.on("LooseEnds")
        at.app.screen.post_message(Go("bench", "se"))
        await at.on("Closing", "S04", "Checks")
        await at.pilot.press("escape")
        await at.on("LooseEnds")
        await at.pilot.press("comma", "b")
        await at.on("Bench", "No sheet is at work")


async def test_escape_goes_back_to_the_page_that_asked(small):
    """A specimen asked for by another page, and one by its sticker from there: Esc leads back to that page."""
    async with walk(small) as at:
        at.app.screen.post_message(Go("stock", "sp01"))
        await at.on("History", "OV 0002")
        await at.pilot.press("#", "3", "enter")
        await at.on("History", "OV 0003")
        await at.pilot.press("escape")
        await at.on("LooseEnds")
        await at.pilot.press("comma", "s")
        await at.on("Stock", "OV 0001")
        await at.pilot.press("#", "3", "enter")
        await at.on("History", "OV 0003")
        await at.pilot.press("escape")
        await at.on("Stock")


async def test_the_help_lists_only_keys_that_do_something(small):
    """Keys of lines are told in one line, those there are; a closed session cannot be closed again."""
    async with walk(small) as at:
        page = at.app.screen
        await at.pilot.press("?")
        await at.on("KeysHelp", "Do what the line with this letter says.")
        last = DUE_KEYS[len(page._lines) - 1]
        assert 2 < len(page._lines) < 12
        assert f"a to {last}" in picture(at.app)
        assert picture(at.app).count("Do what the line") == 1
        await at.pilot.press("escape")
        page.post_message(Go("bench", "se"))
        await at.on("Closing", "S04", "Checks")
        assert "close" not in picture(at.app).splitlines()[-1]
        assert not at.app.screen.works("close")
        await at.pilot.press("escape", "comma", "s")
        await at.on("Stock", "OV 0001")
        await at.pilot.press("g")
        await at.on("Unpacking")
        await at.until(lambda: at.app.screen.atwork is not None)
        assert [at.app.screen.works(f"pick_{letter}") for letter in "wbu"] == [True, True, False]


@pytest.mark.parametrize("page", ["l", "s", "b"])
async def test_a_sticker_typed_by_a_scanner_opens_its_specimen(small, page):
    """Keys five thousandths of a second apart, Enter at their end, on a virtual clock: none is lost on any page."""
    async with walk(small) as at:
        await at.pilot.press("comma", page)
        await at.on({"l": "LooseEnds", "s": "Stock", "b": "Bench"}[page])
        for n, sign in enumerate("OV 0002\r"):
            key = {" ": "space", "\r": "enter"}.get(sign, sign)
            pressed = events.Key(key, sign)
            pressed.time = 100 + 0.005 * n
            at.app.post_message(pressed)
        await at.on("History", "OV 0002")
