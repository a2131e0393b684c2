"""A spreadsheet is looked at row by row before it comes in, and comes in from there: whole, told, and taken back."""

import pytest

from qcledger.exchange import plan
from qcledger.ledger import Ledger
from qcledger.records import Import, Maker, Specimen
from qcledger.screens.record.before import BeforeImport
from qcledger.screens.record.imports import Imports
from qcledger.screens.record.oneimport import OneImport
from qcledger.screens.record.sheetrow import SheetRowPage
from qcledger.screens.widgets.typeline import TypeLine
from tests.exchange.test_mapped import GOOD, MAKERS, MAP, changed, sheet
from tests.exchange.test_several_sheets import SAME, book
from tests.hostile import HOSTILE
from tests.screens.record.test_imports import SIZES, Place, made, stands
from tests.screens.record.test_page import record
from tests.screens.support import in_front

SECOND = ["2", "Halcyre", "Fen Green", "t", "12", "12.3.2024", "Seller one", "7.20", "never", "2", ""]


@pytest.fixture
def empty(home, tmp_path):
    """Give a ledger that knows makers and nothing else."""
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane", zone="Asia/Tokyo") as ledger:
        ledger.append([Maker(id=f"m-{maker}", name=maker) for maker in MAKERS])
    return Place(tmp_path / "mine.sqlite")


async def ask_for(at, path, map_file):
    """Go from Record to the list of imports, and name a spreadsheet and its map there."""
    await at.pilot.press("i")
    await at.until(lambda: in_front(at.app, Imports))
    await at.pilot.press("n")
    for text in (path, map_file):
        await at.until(lambda: in_front(at.app, TypeLine))
        line = at.app.screen
        line.query_one("Input").value = str(text)
        await at.pilot.press("enter")
        await at.until(lambda line=line: at.app.screen is not line)
    await at.until(lambda: in_front(at.app, BeforeImport))


async def reads(at, *texts):
    """Wait until all these texts are on the screen, wherever a line ends."""
    await at.until(lambda: all(text in " ".join(at.picture.split()) for text in texts))


def written(tmp_path, text=MAP):
    """Write a map beside the sheet."""
    (tmp_path / "old.map.yaml").write_text(text, encoding="utf-8")
    return tmp_path / "old.map.yaml"


@SIZES
async def test_each_row_is_seen_and_all_come_in_as_one_act(empty, tmp_path, size):
    """Rows, what was granted and what is left out are listed; Enter shows cells; i asks, brings in, and z undoes."""
    path, map_file = sheet(tmp_path, changed(Batch="-"), SECOND), written(tmp_path)
    async with record(empty, size) as at:
        await ask_for(at, path, map_file)
        await reads(at, "Before it comes in", "old.csv", "Rows: 2 new, 1 left out", "4 observation", "i brings it in")
        await reads(at, "taken for granted", "Drumlaw Quay Rose half pan", "Halcyre Fen Green tube 12")
        await at.pilot.press("o")
        await reads(at, "new: 2 of")
        await at.pilot.press("enter")
        await at.until(lambda: in_front(at.app, SheetRowPage))
        await reads(at, "row 2: new, Drumlaw Quay Rose half pan", "1 of 2", "is left out")
        await at.pilot.press("n")
        await reads(at, "row 3: new, Halcyre Fen Green tube 12", "2 of 2")
        await at.pilot.press("n")
        await reads(at, "that was the last row")
        await at.pilot.press("escape")
        await at.until(lambda: in_front(at.app, BeforeImport))
        assert stands(empty) == (0, 0)
        await at.pilot.press("i")
        await reads(at, "Bring in old.csv", "as one act?")
        await at.pilot.press("enter")
        await at.until(lambda: in_front(at.app, OneImport))
        await reads(at, "old.csv came in: 2 rows new; z takes all of it back", "saved")
        assert stands(empty) == (4, 2)
        await at.pilot.press("z")
        await reads(at, "old.csv is taken back", "undone")
    assert stands(empty) == (0, 0)


async def test_rows_that_cannot_come_in_say_why_and_nothing_does(home, tmp_path):
    """A changed and a refused row are told with cell, value and reason; i refuses; mended, r shows it can come in."""
    ledger = made(tmp_path)
    before = stands(ledger)
    bad_row = ["3", *changed(Bought="soon")[1:]]
    path, map_file = sheet(tmp_path, changed(Price="8.00"), SECOND, bad_row), written(tmp_path)
    async with record(ledger) as at:
        await ask_for(at, path, map_file)
        await reads(at, "Rows: 1 already here, 1 changed, 1 refused", "Nothing comes in while a row is refused")
        await reads(at, "'8.00' is refused: allowed: '9.80 EUR', as it stands already for Drumlaw Quay Rose")
        await reads(at, "taken for granted")
        await at.pilot.press("o", "o", "o")
        await reads(at, "refused: 1 of", "F4 'soon' is refused: allowed: a day")
        await at.pilot.press("i")
        await reads(at, "Nothing comes in while a row is refused")
        assert isinstance(at.app.screen, BeforeImport)
        sheet(tmp_path, GOOD, SECOND, ["3", *GOOD[1:]])
        await at.pilot.press("r")
        await reads(at, "Rows: 1 new, 2 already here", "i brings it in")
    assert stands(ledger) == before


async def test_nothing_new_is_said(home, tmp_path):
    """A sheet that is here whole brings nothing, and i says so."""
    ledger = made(tmp_path)
    path = tmp_path / "old.csv"
    async with record(ledger) as at:
        await ask_for(at, path, written(tmp_path))
        await reads(at, "Rows: 2 already here")
        await at.pilot.press("i")
        await reads(at, "nothing of it is new")


async def test_a_map_is_proposed_and_never_written_over(empty, tmp_path):
    """Without a map w writes one with its questions; once they are answered r looks; a second w is refused."""
    path, map_file = sheet(tmp_path, GOOD, SECOND), tmp_path / "old.map.yaml"
    async with record(empty) as at:
        await ask_for(at, path, map_file)
        await reads(at, "There is no map at", "w writes a proposed one")
        await at.pilot.press("o")
        await reads(at, "no row was looked at yet")
        await at.pilot.press("w")
        await reads(at, "Written to", "r looks again")
        assert '"Brand": maker' in map_file.read_text(encoding="utf-8")
        map_file.write_text(MAP, encoding="utf-8")
        await at.pilot.press("w")
        await reads(at, "nothing is written over")
        assert map_file.read_text(encoding="utf-8") == MAP
        await at.pilot.press("r")
        await reads(at, "Rows: 2 new")


async def test_a_name_of_its_own_makes_it_another_sheet(home, tmp_path):
    """Last year's name over other rows is refused; c says what the sheet is called, and its rows are new."""
    ledger = made(tmp_path)
    other = ["1", "Trellmere", "Dusk Brown", "t", "9", "1.2.2025", "Seller one", "6.00", "fine", "1", ""]
    path, map_file = sheet(tmp_path, other), written(tmp_path)
    async with record(ledger) as at:
        await ask_for(at, path, map_file)
        await reads(at, "1 changed")
        await at.pilot.press("c")
        await at.until(lambda: in_front(at.app, TypeLine))
        at.app.screen.query_one("Input").value = "stock 2025"
        await at.pilot.press("enter")
        await reads(at, "Rows: 1 new", "stock 2025")
        await at.pilot.press("i", "enter")
        await reads(at, "stock 2025 came in: 1 row new")
    with Ledger.open(ledger.place) as opened:
        assert [one.name for one in opened.rows(Import)] == ["old.csv", "stock 2025"]


async def test_escape_stops_and_nothing_is_stored(empty, tmp_path, monkeypatch):
    """While it comes in Esc stops it before the next step: not a row is stored, and it can come in afterwards."""
    path, map_file = sheet(tmp_path, GOOD, SECOND), written(tmp_path)
    whole = plan.carry_out
    async with record(empty) as at:
        await ask_for(at, path, map_file)
        await reads(at, "Rows: 2 new")
        page = at.app.screen

        def stopped_midway(ledger, one, *, progress):
            def told(label, items):
                for item in progress(label, items):
                    if label == "Writing tables":
                        page.app.call_from_thread(page.action_leave)
                    yield item

            return whole(ledger, one, progress=told)

        monkeypatch.setattr(plan, "carry_out", stopped_midway)
        await at.pilot.press("i", "enter")
        await reads(at, "stopped, and nothing was stored", "not saved")
        assert stands(empty) == (0, 0)
        monkeypatch.setattr(plan, "carry_out", whole)
        await at.pilot.press("i", "enter")
        await reads(at, "old.csv came in: 2 rows new")
    with Ledger.open(empty.place) as opened:
        assert opened.verify() == []
        assert len(opened.rows(Specimen)) == 2


async def test_several_sheets_come_in_and_go_as_one_act(empty, tmp_path):
    """Both sheets of a file are looked at, come in together, and one key takes both back."""
    path, map_file = book(tmp_path), written(tmp_path, SAME)
    async with record(empty) as at:
        await ask_for(at, path, map_file)
        await reads(at, "Rows: 4 new", "sheet 2024, row 2: new, Drumlaw Rose tube")
        await at.pilot.press("i", "enter")
        await reads(at, "2 sheets came in: 4 rows new; z takes all of it back")
        assert stands(empty) == (4, 4)
        await at.pilot.press("z")
        await reads(at, "2 sheets are taken back")
    assert stands(empty) == (0, 0)


async def test_texts_of_a_sheet_are_shown_as_text(empty, tmp_path):
    """Whatever stands in a cell is shown as text, in the list and beside it."""
    rows = [[str(n), *changed(Remarks=text, Bought="soon")[1:]] for n, text in enumerate(HOSTILE, 1)]
    path, map_file = sheet(tmp_path, *rows), written(tmp_path)
    async with record(empty) as at:
        await ask_for(at, path, map_file)
        await reads(at, f"{len(HOSTILE)} refused")
        await at.pilot.press("enter")
        await at.until(lambda: in_front(at.app, SheetRowPage))
        for number in range(1, len(HOSTILE) + 1):
            await at.sees(f"{number} of {len(HOSTILE)}", ": refused, Drumlaw")
            await at.pilot.press("end", "n")
    assert stands(empty) == (0, 0)


async def test_what_is_no_spreadsheet_is_refused_where_it_is_typed(empty, tmp_path):
    """A folder, a file that is not there and a map of another ending are refused on the line."""
    async with record(empty) as at:
        await at.pilot.press("i")
        await at.until(lambda: in_front(at.app, Imports))
        await reads(at, "n shows what a spreadsheet")
        await at.pilot.press("n")
        await at.until(lambda: in_front(at.app, TypeLine))
        for text, said in ((tmp_path, "import FOLDER"), (tmp_path / "none.csv", "a file that is")):
            at.app.screen.query_one("Input").value = str(text)
            await at.pilot.press("enter")
            await reads(at, said)
