"""Keys pressed faster than a form can answer land where a slow hand would have put them."""

import pytest
from textual import events

from qcledger.records import Lot, Observation
from tests.screens.stock.support import Shop
from tests.screens.stock.test_parcel import begin, bought
from tests.small import small_ledger


def at_once(at, *keys: str) -> None:
    """Press keys as a scanner does, none waiting for the answer to the one before."""
    names = {"\r": "enter", " ": "space", ".": "full_stop"}
    for key in keys:
        named = names.get(key, key)
        character = key if len(key) == 1 and key != "\r" else None
        at.app.post_message(events.Key(named, character))


@pytest.fixture
def shop(home, tmp_path):
    """Return a function that makes a small ledger and the page Stock on it."""
    return lambda: Shop(small_ledger(tmp_path, lines=3).place)


async def test_a_line_typed_in_one_go_fills_its_fields(shop):
    """Letters of the paint, Enter, batch code, Enter, price, Enter without a pause: each stands in its own field."""
    at = shop()
    async with at.run():
        await begin(at)
        at_once(at, *"vi\r", *"T8\r", *"5.90\r")
        await at.saved()
        (one,) = bought(at)
        assert one.price_minor == 590
        with at.ledger() as ledger:
            assert ledger.get(Lot, one.lot).code == "T8"


async def test_corrections_come_in_their_turn(shop):
    """Backspace takes away the letter before it, not one that was typed after it; arrows lead where they should."""
    at = shop()
    async with at.run():
        await begin(at)
        at_once(at, *"vi\r", "T", "7", "backspace", "8", "down", "4", "up", "x")
        await at.until(lambda: "x" in at.field("lot").value)
        assert (at.field("lot").value, at.field("price").value) == ("T8x", "4")


async def test_a_sticker_from_a_scanner_is_read_whole(shop):
    """A scanner sends all letters and Enter in one burst where nothing is typed: the specimen's page opens."""
    at = shop()
    async with at.run():
        at_once(at, *"OV 0002\r")
        await at.until(lambda: at.on_page == "History")
        await at.settle()
        assert "OV 0002" in at.picture


async def test_a_note_typed_and_left_in_one_go_is_kept_whole(shop):
    """Esc waits for the letters on their way to a note, and Esc once more leaves the page once the note is saved."""
    at = shop()
    async with at.run():
        at_once(at, "g")
        await at.until(lambda: at.on_page == "Unpacking" and at.page.atwork is not None)
        at_once(at, "m", "3", "n", *"a patch by the rim, the size of a pea", "escape", "escape")
        await at.until(lambda: at.on_page == "Stock")
        await at.settle()
        with at.ledger() as ledger:
            notes = [seen.note for seen in ledger.rows(Observation, criterion="mould")]
        assert notes[-1] == "a patch by the rim, the size of a pea"
