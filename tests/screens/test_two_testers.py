"""Two testers fill their ledgers on the pages; merged, a maker both have is one, or one question asks."""

import pytest

from qcledger.exchange import merge_folder, to_folder
from qcledger.ledger import Ledger
from qcledger.report.kept import of_ledger
from tests.screens.stock.support import Shop
from tests.small import ticking

TESTERS = {"AN": "Ada Nunn", "BE": "Ben Eyre"}


@pytest.fixture
def shop_of(home, tmp_path):
    """Return a function that makes a tester's empty ledger and the pages on it."""

    def make(letters):
        folder = tmp_path / letters
        folder.mkdir()
        place = folder / "ledger.sqlite"
        Ledger.create(place, letters=letters, tester=TESTERS[letters], sources=ticking(), daybook=letters).close()
        return Shop(place)

    return make


async def fill(at, maker, grade):
    """Enter a parcel of two new paints on the pages, and grade what was found on each; nothing goes past them."""
    async with at.run((100, 30)):
        await at.press("n")
        await at.until(lambda: at.on_page == "ParcelPage")
        await at.settle()
        await at.type("Lantern")
        for name in ("bought_on", "currency"):
            at.field(name).value = {"bought_on": "2026-03-02", "currency": "EUR"}[name]
        await at.press("f3")
        await at.until(lambda: at.field("paint").has_focus_within)
        for paint in ("Fen Green", "Kiln Red"):
            await at.until(lambda: at.field("paint").has_focus_within)
            await at.settle()
            await at.type(f"{maker} {paint}")
            await at.press("f5")
            await at.until(lambda: at.on_page == "Label")
            await at.settle()
            at.field("maker").value, at.field("name").value = maker, paint
            at.field("index_names").value = "PG7"
            await at.press("f3")
            await at.until(lambda: at.on_page == "ParcelPage")
            await at.settle()
            await at.until(lambda: at.field("lot").has_focus_within)
            await at.press(*"L1", "enter", *"5.90", "enter", "t", "enter")
            await at.saved()
            await at.press("f4")
            await at.until(lambda: at.on_page == "Unpacking")
            await at.settle()
            await at.press("d")
            await at.press(str(grade))
            await at.saved()
            await at.press("escape")
            await at.until(lambda: at.on_page == "ParcelPage")


async def merged(shop_of, tmp_path, mine, theirs):
    """Return the pages of the first tester, after the second one's ledger was merged."""
    one, other = shop_of("AN"), shop_of("BE")
    await fill(one, mine, 5)
    await fill(other, theirs, 0)
    with Ledger.open(other.place) as source:
        to_folder(source, tmp_path / "theirs")
    with Ledger.open(one.place, write=True) as target:
        merge_folder(target, tmp_path / "theirs")
        assert target.verify() == []
    return one


def cells(at):
    """Return makers with what was tested of them."""
    with at.ledger() as ledger:
        return sorted((one.maker_name, one.counts.tested) for one in of_ledger(ledger).findings)


async def look(at, first="loose_ends"):
    """Open the pages anew and return what one shows."""
    again = Shop(at.place, first)
    async with again.run((120, 40)):
        await again.settle()
        return again.picture


@pytest.mark.parametrize("spelling", ["Quernlow", "quernlow", "QUERNLOW "])
async def test_equal_spellings_are_one_maker_and_nobody_is_asked(shop_of, tmp_path, spelling):
    """Whatever case and blanks: one maker of four specimens, and Loose ends has no question."""
    at = await merged(shop_of, tmp_path, "Quernlow", spelling)
    assert cells(at) == [("Quernlow", 4)]
    assert "same" not in await look(at)
    assert (await look(at, "stock")).count("Quernlow") >= 4


async def test_near_spellings_are_one_question(shop_of, tmp_path):
    """Two makers until somebody has answered; Loose ends asks once."""
    at = await merged(shop_of, tmp_path, "Halver Moor", "Halvermoor")
    assert cells(at) == [("Halver Moor", 2), ("Halvermoor", 2)]
    shown = await look(at)
    assert shown.count("Halvermoor") == 1
