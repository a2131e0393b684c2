"""Moving a photo from where it is seen: Record's closer look, a specimen's history; z files it where it was."""

import json
from dataclasses import replace

import pytest

from qcledger.bench import filing
from qcledger.ledger import Ledger
from qcledger.records import Observation, Photo, Trial
from qcledger.screens.dialogs import Ask, Words
from qcledger.screens.forms.form import FormPage
from qcledger.screens.record.look import Look
from qcledger.screens.widgets.fields import Field
from qcledger.vocab import Occasion
from tests.ledger.test_photos import picture
from tests.screens.record.test_page import record
from tests.screens.stock.support import Shop
from tests.screens.support import in_front
from tests.small import START, graded, small_ledger

SIZES = pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=str)


@pytest.fixture
def small(home, tmp_path):
    """Return a ledger in which a photo of OV 0002 is filed with the grade of OV 0001 that was looked at last."""
    made = graded(small_ledger(tmp_path))
    path = tmp_path / "shot.jpg"
    path.write_bytes(picture())
    with made.open(write=True) as ledger:
        newest = max(ledger.rows(Observation, criterion="edge", grade=4.0), key=lambda seen: seen.at)
        ledger.add_photo(path, specimen="sp00", observation=newest.id, caption="Edge")
    return made


def photo_of(place) -> Photo:
    with Ledger.open(place) as ledger:
        (photo,) = ledger.rows(Photo)
        return photo


async def fill_in(app, until, **values: str) -> None:
    """Wait for the form, and type into its fields."""
    await until(lambda: in_front(app, FormPage))
    for field in app.screen.query(Field):
        if field.name in values:
            field.value = values[field.name]


@SIZES
async def test_from_a_closer_look_to_another_result_and_back(small, size):
    """Both places and the reason are asked and shown; the look says where it went; z files it where it was."""
    before = photo_of(small.place)
    async with record(small, size) as at:
        await at.pilot.press("down", "enter")
        await at.until(lambda: in_front(at.app, Look))
        await at.sees("photo 1 of 1", "m move photo")
        await at.pilot.press("m")
        await fill_in(at.app, at.until, to="ov2", criterion="edge")
        await at.sees("shot.jpg, with Edge of OV 0001 (S04)")
        await at.pilot.press("f3")
        await at.until(lambda: in_front(at.app, Ask))
        await at.sees("Move shot.jpg from Edge of OV 0001 (S04) to Edge of OV 0002")
        await at.pilot.press("enter")
        await at.until(lambda: in_front(at.app, Look))
        await at.sees(
            "moved to Edge of OV 0002", "z takes it back", "Photo shot.jpg moved to", "wrong place", "no photos"
        )
        now = photo_of(small.place)
        assert (now.specimen, now.sha256, now.id) == ("sp01", before.sha256, before.id)
        await at.pilot.press("z")
        await at.sees("shot.jpg is with Edge of OV 0001 (S04) again", "photo 1 of 1")
    assert photo_of(small.place) == before
    with Ledger.open(small.place) as ledger:
        reasons = [json.loads(entry.body)["reason"] for entry in ledger.history("photo", before.id)]
        assert reasons == ["", "filed in the wrong place", "taken back"]
        assert ledger.verify() == []


async def test_what_is_no_place_is_said_in_its_field_and_nothing_moves(small):
    """The form stays, with what was typed; a look without a photo says that there is none."""
    before = photo_of(small.place)
    async with record(small) as at:
        await at.pilot.press("down", "enter")
        await at.until(lambda: in_front(at.app, Look))
        await at.sees("photo 1 of 1")
        await at.pilot.press("m")
        await fill_in(at.app, at.until, to="OV 99")
        await at.pilot.press("f3")
        await at.sees("to specimen: 'OV 99' does not fit")
        await fill_in(at.app, at.until, to="OV 1", criterion="edge")
        await at.pilot.press("f3")
        await at.sees("with Edge of OV 0001 (S04) already")
        for day, said in (("soon", "day: 'soon' does not fit"), ("2025-01-01", "day: '2025-01-01' does not fit")):
            await fill_in(at.app, at.until, day=day)
            await at.pilot.press("f3")
            await at.sees(said)
        await at.pilot.press("escape")
        await at.until(lambda: in_front(at.app, Look))
        await at.pilot.press("escape", "down", "down", "down", "enter")
        await at.until(lambda: in_front(at.app, Look))
        await at.sees("no photos")
        await at.pilot.press("m")
        await at.sees("no photo to move")
    assert photo_of(small.place) == before


async def test_a_closer_look_tells_no_code_beside_a_sticker(home, tmp_path):
    """A photo that went from a result with a sticker to a place of a blind sheet: the session alone is named."""
    made = graded(small_ledger(tmp_path, blind=True))
    path = tmp_path / "shot.jpg"
    path.write_bytes(picture())
    with made.open(write=True) as ledger:
        blind = next(iter(ledger.rows(Observation, criterion="edge")))
        trial = Trial(id="older", specimen="sp01", occasion=Occasion.OLDER_NOTES, at=START)
        seen = replace(blind, id="seen before", trial="older", at=START, supersedes=None, reason=None)
        ledger.append([trial, seen])
        photo = ledger.add_photo(path, specimen="sp01", observation=seen.id, caption="Edge")
        filing.move(ledger, filing.weigh_move(ledger, photo, *filing.place(ledger, "472", "edge", "S04")), "slip")
    async with record(made, (100, 30)) as at:
        at.app.push_screen(Look(at.app.screen.desk, seen.id))
        await at.until(lambda: in_front(at.app, Look))
        await at.sees("OV 0002", "moved to a place of session S04, which is still blind")
        assert "472" not in at.picture


async def test_from_a_specimens_history_which_then_says_where_it_went(small):
    """Of several photos the later in front is proposed; the row that stays opens in full, and no key amends it."""
    at = Shop(small.place)
    other = at.shoot("other.png")
    with Ledger.open(small.place, write=True) as ledger:
        ledger.add_photo(other, specimen="sp00")
    async with at.run():
        await at.press("down", "down", "enter")
        await at.until(lambda: at.on_page == "History")
        await at.settle()
        await at.press("m")
        await fill_in(at.app, at.until, photo="9", to="OV 0003")
        await at.until(
            lambda: "1: shot.jpg, with Edge of OV 0001 (S04)" in at.picture and "2: other.png" in at.picture
        )
        await at.press("f3")
        await at.until(lambda: "a number from 1 to 2" in at.picture)
        at.field("photo").value = "1"
        await at.press("f3")
        await at.until(lambda: in_front(at.app, Ask))
        await at.press("enter")
        await at.until(lambda: at.on_page == "History" and "shot.jpg moved to OV 0003" in at.said)
        await at.settle()
        assert at.page._rows[-1].cells[:4] == ("photo shot.jpg", "here", "", "moved to OV 0003")
        await at.press("end", "a")
        await at.until(lambda: "a photo that was moved" in at.said)
        await at.press("enter")
        await at.until(lambda: in_front(at.app, Words))
        assert "because: filed in the wrong place" in at.picture
        await at.press("escape", "h")
        await at.settle()
        assert at.page._rows[0].cells[1:4] == ("photo", "shot.jpg", "moved to OV 0003")
        await at.press("z")
        await at.until(lambda: "shot.jpg is with Edge of OV 0001 (S04) again" in at.said)
        await at.settle()
        assert not any("moved to" in cell for row in at.page._rows for cell in row.cells)


async def test_a_picture_filed_elsewhere_is_refused_with_the_key_that_moves_it(small, tmp_path):
    """F at unpacking names where it is; nothing is filed."""
    at = Shop(small.place)
    (at.camera / "again.jpg").write_bytes((tmp_path / "shot.jpg").read_bytes())
    async with at.run((120, 40)):
        await at.press("g")
        await at.until(lambda: at.on_page == "Unpacking")
        await at.settle()
        await at.press("3")
        await at.until(lambda: "saved" in at.said)
        await at.press("f")
        await at.until(lambda: "again.jpg, filed already" in at.said)
        assert "it is with Edge of OV 0001 (S04): m there" in at.said
    assert photo_of(small.place).specimen == "sp00"
