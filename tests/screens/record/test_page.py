"""Stories of the record: everything is found again months later."""

from contextlib import asynccontextmanager
from dataclasses import replace

import pytest
from PIL import Image

from qcledger.door import Door
from qcledger.ledger.queries_record import RecordLine
from qcledger.records import Observation
from qcledger.screens.app import Pages
from qcledger.screens.desk import Desk
from qcledger.screens.record import words
from qcledger.screens.record.look import Look
from qcledger.screens.record.page import NOTHING_PASSES, NOTHING_YET, RecordPage
from qcledger.screens.widgets.fields import Field
from qcledger.screens.widgets.photo import PhotoView
from qcledger.screens.widgets.rows import Rows
from qcledger.screens.widgets.wrapped import Wrapped
from qcledger.settings import Settings
from qcledger.vocab import Occasion
from tests.hostile import HOSTILE
from tests.screens.support import frame, in_front, picture, settle, until
from tests.small import START, graded, small_ledger, ten

TABLE = {"record": ("RecordPage", "qcledger.screens.record:RecordPage")}


class At:
    """The record of a small ledger under test."""

    def __init__(self, app, pilot):
        self.app = app
        self.pilot = pilot

    @property
    def picture(self):
        """What the screen shows."""
        return picture(self.app)

    async def until(self, true):
        """Wait until something is so."""
        await until(self.pilot, true)

    async def sees(self, *texts):
        """Wait until all these texts are on the screen."""
        await self.until(lambda: all(text in self.picture for text in texts))


@asynccontextmanager
async def record(small, size=(80, 24)):
    desk = Desk(Door(small.place), Door(small.place, write=True), Settings())
    app = Pages(desk, TABLE)
    async with app.run_test(size=size) as pilot:
        at = At(app, pilot)
        await at.until(lambda: in_front(app, RecordPage))
        await at.until(lambda: app.screen.query_one(Rows).row is not None or "No observation" in at.picture)
        yield at
    desk.close()


@pytest.fixture
def small(home, tmp_path):
    return graded(small_ledger(tmp_path))


async def test_everything_is_there_the_newest_first(small):
    """Eight observations of three specimens, with what they were made on and what became of them."""
    async with record(small) as at:
        await at.sees("8 observations", "OV 0001", "superseded", "taken back", "amendment")
        lines = [line for line in frame(at.app) if "OV 00" in line]
        assert "Tint" in lines[0]
        assert "taken back" in lines[0]
        assert "Edge" in lines[1]
        assert " 4 " in lines[1]


async def test_an_empty_record_speaks_of_no_filters(home, tmp_path):
    """Where nothing was recorded it says what brings the first; of filters only while one is set."""
    async with record(small_ledger(tmp_path)) as at:
        await at.sees(NOTHING_YET)
        at.app.screen.query(Field).first().value = "nobody"
        at.app.screen.action_apply()
        await at.sees(NOTHING_PASSES)


async def test_the_marked_one_is_told_in_words(small):
    """Specimen, maker, lot, session, tester; the anchor's sentence; the amendments from the first to the last."""
    async with record(small, (110, 30)) as at:
        await at.pilot.press("down")
        await at.sees(
            "OV 0001, Trellmere Viridian, half pan, lot T0, session S04",
            "Edge 4: Edge as grade 4 says. A fault, from 3 on. (0 none, 5 worst)",
            "Amended: 3 at",
            "then 4 at",
            "(regraded at the bench)",
        )


async def test_filters_are_form_fields(small):
    """/ goes to the fields, what is typed is looked for, Enter goes back; c takes every filter away."""
    async with record(small) as at:
        await at.pilot.press("/", *"trell", "tab", *"fjell", "enter")
        await at.sees("2 observations", "OV 0003")
        await at.until(lambda: "OV 0001" not in at.picture)
        await at.pilot.press("c")
        await at.sees("8 observations")
        assert [field.value for field in at.app.screen.query(Field)] == [""] * 6


async def test_a_criterion_is_found_by_its_title_or_key(small):
    """Case, blanks and hyphens do not matter; a text that is no criterion finds nothing and says what helps."""
    async with record(small) as at:
        await at.pilot.press("/", "tab", "tab", "tab", *"TI nt", "enter")
        await at.sees("4 observations")
        await at.pilot.press("/", "tab", "tab", "tab", *"zz", "enter")
        await at.sees("0 observations", "c clears them")
        await at.pilot.press("enter", "down", "end", "c")
        await at.sees("8 observations")


async def test_which_ones_are_plain_options(small):
    """One key goes through standing, amended, not testable, with photos, older notes, everything."""
    async with record(small) as at:
        for shown in ("5 observations   standing", "4 observations   amended", "0 observations   not testable"):
            await at.pilot.press("o")
            await at.sees(shown)


async def test_a_closer_look_shows_photos_and_zooms(small, tmp_path):
    """Half blocks in the photo's own colours; + shows a part of it, n the next photo, Esc goes back."""
    with small.open(write=True) as ledger:
        newest = max(ledger.rows(Observation, criterion="edge", grade=4.0), key=lambda seen: seen.at)
        two = Image.new("RGB", (40, 40), (255, 0, 0))
        two.paste((0, 0, 255), (20, 0, 40, 40))
        two.save(tmp_path / "two.png")
        Image.new("RGB", (40, 40), (0, 255, 0)).save(tmp_path / "green.png")
        for name in ("two.png", "green.png"):
            ledger.add_photo(tmp_path / name, specimen="sp00", observation=newest.id)
    async with record(small) as at:
        await at.pilot.press("down", "enter")
        await at.sees("photo 1 of 2", "40 x 40, x1", "▀")
        view = at.app.screen.query_one(PhotoView)
        assert {color for row in view._rows for color in row} >= {(255, 0, 0), (0, 0, 255)}
        await at.pilot.press("+", "left", "left", "left", "left")
        await at.until(lambda: {color for row in view._rows for color in row} == {(255, 0, 0)})
        await at.pilot.press("p")
        await at.until(lambda: {color for row in view._rows for color in row} == {(0, 255, 0)})
        await at.sees("photo 2 of 2")
        await at.pilot.press("escape")
        assert isinstance(at.app.screen, RecordPage)


async def test_a_photo_that_is_gone_is_told(small, tmp_path):
    """A redacted or moved photo is one line, and the observation is still read."""
    Image.new("RGB", (4, 4)).save(tmp_path / "a.png")
    with small.open(write=True) as ledger:
        newest = max(ledger.rows(Observation, criterion="edge", grade=4.0), key=lambda seen: seen.at)
        photo = ledger.add_photo(tmp_path / "a.png", specimen="sp00", observation=newest.id)
        ledger.photo_path(photo).unlink()
    async with record(small) as at:
        await at.pilot.press("down", "enter")
        await at.sees("is not there; it was redacted or moved", "Edge 4")
        await at.pilot.press("p", "+", "-", "escape")


async def test_another_page_can_ask_for_an_observation(small):
    """The page opens with a closer look at it."""
    async with record(small) as at:
        with small.open() as ledger:
            (seen,) = ledger.rows(Observation, criterion="tint", trial=ledger.rows(Observation, grade=4.0)[0].trial,
                                  grade=3.0)  # fmt: skip
        at.app.action_go("record", seen.id)
        await at.until(lambda: in_front(at.app, Look))
        await at.sees("Tint 3")
        at.app.action_go("record", "nothing")
        await at.pilot.press("escape")


async def test_the_mark_stays_on_the_observation_that_was_looked_at(small):
    """Back from the closer look the mark is where it was; with other filters it begins at the first."""
    async with record(small) as at:
        await at.pilot.press("down", "down", "enter")
        await at.until(lambda: in_front(at.app, Look))
        await at.pilot.press("escape")
        await at.until(lambda: in_front(at.app, RecordPage))
        await settle(at.pilot)
        assert at.app.screen.query_one(Rows).marked == 2
        await at.pilot.press("o")
        await at.sees("standing")
        assert at.app.screen.query_one(Rows).marked == 0


async def test_blind_specimens_stay_hidden(home, tmp_path):
    """Until its session is closed a specimen goes by its code."""
    async with record(graded(small_ledger(tmp_path, blind=True))) as at:
        await at.sees("hidden while blind", "471")
        assert "Trellmere" not in at.picture
        assert "OV 000" not in at.picture


@pytest.mark.parametrize("size", [(120, 40), (60, 20), (20, 5), (10, 3), (1, 1)], ids=str)
async def test_no_size_breaks_the_record(small, size):
    """Every key works at any size."""
    async with record(small, size) as at:
        await at.pilot.press("down", "pagedown", "end", "home", "/", "a", "escape", "c", "o", "o", "enter")
        await settle(at.pilot)
        await at.pilot.press("+", "p", "escape")
        assert at.app.is_running
        if size[0] >= 20:
            assert "? all keys" in frame(at.app)[-1]


async def test_hostile_texts_are_shown_as_text(small):
    """Names, codes, notes, reasons and titles may hold anything: each of 78 is shown plainly."""
    criterion = ten().criteria["edge"]
    async with record(small, (120, 40)) as at:
        page = at.app.screen
        for text in HOSTILE:
            scale = replace(criterion, title=text, anchors={3.0: text})
            seen = Observation(
                id="x",
                trial="t",
                criterion=text,
                rubric="r",
                tester=text,
                at=START,
                grade=3.0,
                note=text,
                reason=text,
            )
            line = RecordLine(
                observation=seen, occasion=Occasion.BENCH, sticker=text, maker=text, paint=text, format=None,
                lot=text, session=text, void=False, blind=False, superseded_by=None, photos=0,
            )  # fmt: skip
            settings = page.desk.settings
            rows = page.query_one(Rows)
            rows._pages[0] = [words.row(line, scale, settings)]
            page._describe(words.made_on(line, settings), words.said(seen, scale, settings), text)
            page.head(text, text)
            rows.refresh()
            await at.pilot.pause()
            shown = at.picture
            assert not [char for char in shown if (ord(char) < 32 and char != "\n") or 0x7F <= ord(char) < 0xA0]
            if text in ("[@click=app.quit]x", "x[/]", "100% [tube]"):
                assert shown.count(text) >= 3  # a maker gives way to its paint
        for y in range(0, 40, 3):
            await at.pilot.click(offset=(3, y))
        assert at.app.is_running
        assert page.query(Wrapped)
