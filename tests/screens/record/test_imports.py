"""Imports from Record: listed, weighed, taken back and put back as one act, and found from what came with them."""

from dataclasses import dataclass
from pathlib import Path

import pytest

from qcledger.bench import history, imported, unpacking
from qcledger.exchange import carry_out, merge_folder, plan_mapped, to_folder
from qcledger.exchange.columnmap import parse
from qcledger.ledger import Ledger
from qcledger.records import Import, Maker, Observation, Parcel, Specimen
from qcledger.screens.record import oneimport
from qcledger.screens.record.behind import Behind
from qcledger.screens.record.imports import Imports
from qcledger.screens.record.look import Look
from qcledger.screens.record.oneimport import OneImport
from qcledger.screens.record.page import RecordPage
from qcledger.screens.stock import changing
from qcledger.screens.stock.words import facts
from qcledger.screens.widgets.rows import Rows
from qcledger.settings import Settings
from qcledger.vocab import TAKEN_BACK
from tests.exchange.test_mapped import GOOD, MAKERS, MAP, sheet
from tests.hostile import HOSTILE
from tests.screens.record.test_page import record
from tests.screens.support import frame, in_front, settle
from tests.small import graded, small_ledger

OTHER = ["2", "Halcyre", "Fen Green", "t", "12", "12.3.2024", "Seller one", "7.20", "never", "2", ""]
SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=str)


@dataclass(frozen=True)
class Place:
    """Where a ledger is."""

    place: Path


def made(tmp_path, letters="OV", tester="Oda Vane", *, name="mine.sqlite", called=None):
    """Make a ledger with one sheet of two rows, four results in all."""
    with Ledger.create(tmp_path / name, letters=letters, tester=tester, zone="Asia/Tokyo") as ledger:
        ledger.append([Maker(id=f"m-{maker}", name=maker) for maker in MAKERS])
        path = sheet(tmp_path, GOOD, OTHER)
        carry_out(ledger, plan_mapped(ledger, path, parse(MAP, "map.yaml"), settings=Settings(), called=called))
    return Place(tmp_path / name)


@pytest.fixture
def ledger(home, tmp_path):
    return made(tmp_path)


def stands(ledger):
    """Return how many results stand, and how many pieces were bought."""
    with Ledger.open(ledger.place) as opened:
        assert opened.verify() == []
        return sum(not row.not_testable for row in opened.tested_rows()), len(opened.pieces())


async def open_import(at):
    """Go from Record by way of the list to the import of the marked observation."""
    await at.pilot.press("i")
    await at.until(lambda: in_front(at.app, Imports) and at.app.screen.query_one(Rows).row is not None)
    await at.pilot.press("enter")
    await at.until(lambda: in_front(at.app, OneImport))
    await at.sees("t takes all of it back")


@SIZES
async def test_an_import_is_listed_weighed_taken_back_and_put_back(ledger, size):
    """Its sheet, time, rows and daybook; what goes, stays and counts; a reason by one key; z undoes the whole act."""
    with Ledger.open(ledger.place) as opened:
        (one,) = imported.listed(opened)
    local = f"{one.at.astimezone(one.zone):%Y-%m-%d %H:%M}"
    async with record(ledger, size) as at:
        await at.sees("4 observations", "came in with old.csv")
        await at.pilot.press("i")
        await at.sees("Imports", "1 import", "old.csv", local, "OV, Oda Vane", "yes")
        await at.until(lambda: at.app.screen.query_one(Rows).row is not None)
        await at.pilot.press("enter")
        await at.sees(
            "Import   old.csv",
            f"brought in {local}, 2 rows, daybook of OV, Oda Vane",
            "4 results, taken back by amendments",
            "2 specimens: OV 0001, OV 0002",
            "2 paints, 2 lots, 1 parcel, 1 rubric",
            "before",
            "older notes  Drumlaw, half pan, rewetting difficulty",
            "1 of 1",
            "t takes all of it back",
        )
        await at.pilot.press("t")
        await at.sees("Why? m columns mixed up, w wrong sheet")
        await at.pilot.press("m")
        await at.sees("old.csv is taken back; z puts it back", "columns mixed up", "comes back", "p puts all")
        assert stands(ledger) == (0, 0)
        await at.pilot.press("z")
        await at.sees("old.csv counts again", "t takes all of it back")
    assert stands(ledger) == (4, 2)


async def test_a_question_is_left_and_nothing_is_changed(ledger):
    """A reason before t asks back, p refuses what stands, Esc leaves question and page; not a byte moves."""
    before = ledger.place.read_bytes()
    async with record(ledger) as at:
        await open_import(at)
        await at.pilot.press("m")
        await at.sees("first t, which takes it back")
        await at.pilot.press("p")
        await at.sees("it stands; t takes it back")
        await at.pilot.press("t", "escape")
        await at.sees("nothing was changed; Esc once more goes back", "t takes all of it back")
        await at.pilot.press("escape")
        await at.until(lambda: isinstance(at.app.screen, Imports))
        await at.pilot.press("escape")
        await at.until(lambda: isinstance(at.app.screen, RecordPage))
    assert ledger.place.read_bytes() == before


async def test_a_reason_of_ones_own_is_kept_as_a_draft_and_putting_back_is_undone(ledger):
    """What was half typed stands there again; p puts back with a reason, z takes back again for the first one."""
    async with record(ledger) as at:
        await open_import(at)
        await at.pilot.press("t", "o", *"bought", "escape")
        await at.until(lambda: isinstance(at.app.screen, OneImport))
        await at.pilot.press("o", *" twice", "enter")
        await at.sees("is taken back", "bought twice")
        await at.pilot.press("t")
        await at.sees("it is taken back already; p puts it back")
        await at.pilot.press("p")
        await at.sees("Why? m taken back by mistake")
        await at.pilot.press("d", "m")
        await at.sees("old.csv counts again; z takes it back again", "t takes all of it back")
        assert stands(ledger) == (4, 2)
        await at.pilot.press("z")
        await at.sees("old.csv is taken back again", "bought twice")
    assert stands(ledger) == (0, 0)
    with Ledger.open(ledger.place) as opened:
        (one,) = imported.listed(opened)
    assert one.out.reason == "bought twice"


async def test_putting_back_leaves_what_was_put_back_by_itself_and_so_does_z(ledger):
    """The piece is named among what stays; p brings the other one back, z takes only that out again."""
    with Ledger.open(ledger.place, write=True) as opened:
        (one,) = imported.listed(opened)
        imported.take_back(opened, imported.weigh(opened, one), "wrong sheet")
        piece = min(opened.rows(Specimen), key=lambda row: row.sticker)
        parcel = opened.get(Parcel, piece.parcel)
        line = unpacking.read_piece({"format": "half pan"}, piece.paint, parcel.currency, ".")
        unpacking.save_piece(opened, parcel, line, piece.id, opened.new_id, again=True)
    async with record(ledger) as at:
        await at.pilot.press("i")
        await at.until(lambda: in_front(at.app, Imports) and at.app.screen.query_one(Rows).row is not None)
        await at.pilot.press("enter")
        await at.sees("p puts all of it back", "specimen OV 0001, put back by itself sin", "1 specimen: OV 0002")
        await at.pilot.press("p", "m")
        await at.sees("old.csv counts again; z takes it back again")
        assert stands(ledger) == (4, 2)
        await at.pilot.press("z")
        await at.sees("old.csv is taken back again")
    assert stands(ledger) == (0, 1)


def put_back_alone(opened, piece):
    """Put one piece back by itself, as its line in Stock does."""
    parcel = opened.get(Parcel, piece.parcel)
    line = unpacking.read_piece({"format": "half pan"}, piece.paint, parcel.currency, ".")
    return unpacking.save_piece(opened, parcel, line, piece.id, opened.new_id, again=True)


async def test_each_z_takes_one_step_back_also_over_a_piece_that_was_put_back_alone(ledger):
    """Import back, one piece alone, import again, then all undone: the piece stands wherever its import does."""
    with Ledger.open(ledger.place) as opened:
        piece = min(opened.rows(Specimen), key=lambda row: row.sticker)
    async with record(ledger) as at:
        await open_import(at)
        await at.pilot.press("t", "w")
        await at.sees("old.csv is taken back; z puts it back")
        page = at.app.screen
        after = await page.desk.save(lambda opened: put_back_alone(opened, piece))
        changing.tell_changed(page, piece, after, returned=True)
        await page.fill()
        await at.sees("specimen OV 0001, put back by itself sin")
        await at.pilot.press("p", "m")
        await at.sees("old.csv counts again; z takes it back again")
        await at.pilot.press("z")
        await at.sees("old.csv is taken back again", "specimen OV 0001, put back by itself sin")
        assert stands(ledger) == (0, 1)
        await at.pilot.press("z")
        await at.sees("OV 0001 is taken out again, as before", "2 specimens: OV 0001, OV 0002")
        assert stands(ledger) == (0, 0)
        with Ledger.open(ledger.place) as opened:
            assert unpacking.taken_out(opened, piece.id)[1] == "taken back with import old.csv: wrong sheet"
        await at.pilot.press("z")
        await at.sees("old.csv counts again")
    assert stands(ledger) == (4, 2)


def test_a_piece_is_not_taken_out_again_under_an_import_that_counts(ledger):
    """Put back alone, then with its import in another window: undoing the first leaves the piece with its import."""
    with Ledger.open(ledger.place, write=True) as opened:
        (one,) = imported.listed(opened)
        imported.take_back(opened, imported.weigh(opened, one), "wrong sheet")
        piece = min(opened.rows(Specimen), key=lambda row: row.sticker)
        words = facts(history.load(opened, piece.id), Settings())
        assert "taken out: taken back with import old.csv: wrong sheet" in words
        after = put_back_alone(opened, piece)
        (one,) = imported.listed(opened)
        imported.put_back(opened, imported.weigh_back(opened, one))
        said = unpacking.out_again(opened, piece, after, opened.new_id)
        assert said == "OV 0001 stays in stock: its import old.csv counts again"
        assert not unpacking.is_out(opened, piece.id)


def test_a_piece_that_was_taken_out_by_itself_since_stays_out_and_is_named(ledger, cli):
    """Put back alone and then taken out as entered by mistake: its import comes back without it."""
    with Ledger.open(ledger.place, write=True) as opened:
        (one,) = imported.listed(opened)
        imported.take_back(opened, imported.weigh(opened, one), "wrong sheet")
        piece = min(opened.rows(Specimen), key=lambda row: row.sticker)
        unpacking.take_out(opened, put_back_alone(opened, piece), opened.new_id)
        (one,) = imported.listed(opened)
        back = imported.weigh_back(opened, one)
        assert "stays out: specimen OV 0001, taken out by itself since" in back.lines()
    told = cli("imports", "old.csv", "--undo", "--ledger", ledger.place)
    assert (told.code, "stays out: specimen OV 0001, taken out by itself since" in told.out) == (0, True)
    with Ledger.open(ledger.place) as opened:
        assert unpacking.is_out(opened, piece.id)
    assert stands(ledger)[1] == 1


async def test_from_an_observation_to_its_import_and_from_there_to_all_of_its_observations(ledger):
    """A closer look says with which sheet it came; i opens that, Enter there lists what came with it."""
    async with record(ledger) as at:
        await at.pilot.press("enter")
        await at.until(lambda: in_front(at.app, Look))
        await at.sees("came in with old.csv", "i its import")
        await at.pilot.press("i")
        await at.until(lambda: in_front(at.app, OneImport))
        await at.sees("4 results")
        await at.pilot.press("enter")
        await at.until(lambda: in_front(at.app, Behind))
        await at.sees("came in with old.csv", "4 observations", "OV 0001", "OV 0002")


async def test_an_amendment_came_with_the_sheet_of_what_it_amends(ledger):
    """Record says so of the amendment as of the first grade."""
    async with record(ledger) as at:
        await at.pilot.press("a", "-", "u", "m")  # whichever of the sheet's results is on top, this is another
        await at.sees("saved, because: misread the scale")
        await at.pilot.press("escape")
        await at.sees("5 observations", "amendment", "came in with old.csv")


async def test_what_was_recorded_here_has_no_import(home, tmp_path):
    """The list is empty and says how one is made; a closer look says that there is none."""
    async with record(graded(small_ledger(tmp_path))) as at:
        await at.pilot.press("i")
        await at.sees("0 imports", "Nothing was brought in yet")
        await at.pilot.press("enter", "escape")
        await at.until(lambda: isinstance(at.app.screen, RecordPage))
        await at.pilot.press("enter")
        await at.until(lambda: in_front(at.app, Look))
        await at.pilot.press("i")
        await at.sees("it came in with no import")


@SIZES
async def test_one_sheet_of_two_testers_is_said_and_only_ones_own_is_taken_back(ledger, tmp_path, size):
    """Both are listed with whose they are, and how to take one back; then nothing is said any more."""
    other = made(tmp_path, "TL", "Tilo", name="theirs.sqlite", called="stock")
    with Ledger.open(other.place) as theirs:
        to_folder(theirs, tmp_path / "out")
    with Ledger.open(ledger.place, write=True) as mine:
        merge_folder(mine, tmp_path / "out")
    async with record(ledger, size) as at:
        await at.pilot.press("i")
        await at.sees(
            "2 imports", "one sheet came in twice, byte for byte", "came in twice", "TL, Tilo", "take yours back"
        )
        rows = at.app.screen.query_one(Rows)
        await at.until(lambda: rows.row is not None)
        await at.pilot.press("home", "enter")
        await at.until(lambda: in_front(at.app, OneImport))
        await at.sees("Import   stock", "an import of TL, Tilo")
        await at.pilot.press("t")
        await at.sees("'an import of TL, Tilo' does not fit")
        await at.pilot.press("escape", "end", "enter")
        await at.until(lambda: in_front(at.app, OneImport))
        await at.sees("Import   old.csv", "byte for byte", "4 results")
        await at.pilot.press("t", "d")
        await at.sees("old.csv is taken back")
        await at.pilot.press("escape")
        await at.until(lambda: isinstance(at.app.screen, Imports))
        await at.until(lambda: "byte for byte" not in at.picture and "taken back" in at.picture)


def test_the_same_decision_again_adds_nothing(ledger):
    """A save that was not confirmed is given again as it was: one act, whichever way."""
    with Ledger.open(ledger.place, write=True) as opened:
        (row,) = opened.rows(Import)
        counts = []
        for out, act in ((True, "act-1"), (False, "act-2")):
            for _ in range(2):
                oneimport._decide(
                    opened, row.id, "why", out=out, act=act, progress=lambda _, items: items, apart=set()
                )
                counts.append(len(list(opened.entries())))
        assert counts == [counts[0], counts[0], counts[2], counts[2]]
        taken = [seen for seen in opened.rows(Observation) if seen.not_testable == TAKEN_BACK]
        assert len(taken) == 4


async def test_long_work_tells_how_far_it_is(ledger, monkeypatch):
    """Work in another thread that takes longer than a moment is told on the page, step by step."""
    monkeypatch.setattr(oneimport, "PATIENCE_S", 0)
    monkeypatch.setattr(oneimport, "EVERY_S", 0)
    said = []
    monkeypatch.setattr(OneImport, "say", lambda page, line, **_: said.append(line))
    async with record(ledger) as at:
        await open_import(at)
        await at.pilot.press("t", "m")
        await at.until(lambda: any("is taken back" in line for line in said))
    assert "Taking results back: 4 of 4" in said
    assert any(line.startswith(("Checking entries: ", "Reading entries: ")) for line in said)


@pytest.mark.parametrize("size", [(60, 20), (20, 5), (10, 3), (1, 1)], ids=str)
async def test_no_size_breaks_the_imports(ledger, size):
    """Every key works at any size."""
    async with record(ledger, size) as at:
        await at.pilot.press("i")
        await at.until(lambda: isinstance(at.app.screen, Imports))
        await at.pilot.press("down", "end", "enter")
        await at.until(lambda: isinstance(at.app.screen, OneImport))
        await at.pilot.press("t", "escape", "p", "down", "pagedown", "v")
        await settle(at.pilot)
        await at.pilot.press("escape", "escape", "escape")
        assert at.app.is_running
        if size[0] >= 20:
            assert "? all keys" in frame(at.app)[-1]


async def test_hostile_names_are_shown_as_text(home, tmp_path):
    """A sheet may be called anything that steers a terminal or looks like markup."""
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane", zone="Etc/UTC") as opened:
        names = [text for text in HOSTILE if text.strip()]
        opened.append(
            [Import(id=f"i{number:03}", name=f"-{text[:150]}", rows=1) for number, text in enumerate(names)]
        )
    async with record(Place(tmp_path / "mine.sqlite"), (120, 40)) as at:
        await at.pilot.press("i")
        await at.until(lambda: in_front(at.app, Imports) and at.app.screen.query_one(Rows).row is not None)
        for _ in range(len(names)):
            await at.pilot.press("down")
            shown = at.picture
            assert not [char for char in shown if (ord(char) < 32 and char != "\n") or 0x7F <= ord(char) < 0xA0]
        await at.pilot.press("enter")
        await at.until(lambda: isinstance(at.app.screen, OneImport))
        assert at.app.is_running
