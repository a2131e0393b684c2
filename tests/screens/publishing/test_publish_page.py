"""Stories of the page Publish: what is missing is mended from there, and an edition goes out."""

import time
from contextlib import asynccontextmanager
from shutil import copyfile, copytree
from threading import Event

import pytest

from qcledger.door import Door
from qcledger.ledger import Ledger
from qcledger.public import photos
from qcledger.records import Publication, Question, Statement
from qcledger.report.kept import WorkedOut
from qcledger.screens.app import Pages
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import Ask, Words
from qcledger.screens.forms.form import FormPage
from qcledger.screens.keptline import KeptLine
from qcledger.screens.publishing import PublishPage
from qcledger.screens.widgets.typeline import TypeLine
from qcledger.settings import Settings
from tests.hostile import HOSTILE
from tests.public.made import as_settled
from tests.public.test_photos import photo as with_metadata
from tests.screens.findings.support import shelf_ledger
from tests.screens.support import in_front, picture, until

TABLE = {
    "publish": ("Publish", "qcledger.screens.publishing:PublishPage"),
    "stock": ("Other", "tests.screens.support:Other"),
}


@pytest.fixture
def place(home, tmp_path):
    """Return a ledger whose findings are all worked out: the pages wait for no model."""
    from qcledger.report.kept import KeptFindings

    found = shelf_ledger(tmp_path)
    with Ledger.open(found) as ledger:
        KeptFindings().reading(ledger).work_out()
    return found


def rows(place, kind):
    with Ledger.open(place) as ledger:
        return ledger.rows(kind)


@asynccontextmanager
async def publish(place, size=(80, 24)):
    """Run the page until it lists what is missing."""
    desk = Desk(Door(place), Door(place, write=True), Settings())
    app = Pages(desk, TABLE)
    async with app.run_test(size=size) as pilot:
        await until(pilot, lambda: in_front(app, PublishPage) and app.screen._shelf is not None)
        yield app, pilot
    desk.close()


def line_of(app, text):
    """Return the letter of the line whose title or words hold a text."""
    lines = app.screen._shelf.lines
    return "abcdefghijkl"[next(n for n, one in enumerate(lines) if text in f"{one.title} {one.words}")]


async def typed(app, pilot, text):
    """Type a line that stands in front, in place of what it holds, and wait until the page has looked again."""
    await until(pilot, lambda: in_front(app, TypeLine) or in_front(app, KeptLine))
    line = app.screen
    await pilot.press("ctrl+u", *text, "enter")
    await until(pilot, lambda: app.screen is not line)


async def given(app, pilot, what, text):
    """Give what is printed with the edition from its line."""
    await pilot.press(line_of(app, what))
    await typed(app, pilot, text)
    await until(pilot, lambda: text in [one.words for one in app.screen._shelf.lines])


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_what_is_missing_has_its_key_and_is_mended_from_there(place, size):
    """What is typed for an edition by the key of its line stands there, and survives the page."""
    async with publish(place, size) as (app, pilot):
        await until(pilot, lambda: "money and ties" in picture(app))
        before = len(app.screen._shelf.gaps)
        await given(app, pilot, "money and ties", "Own money.")
        assert len(app.screen._shelf.gaps) == before - 1
    async with publish(place, size) as (app, _):
        assert "Own money." in [one.words for one in app.screen._shelf.lines]
        assert rows(place, Publication) == []


async def test_what_was_typed_stands_there_although_the_ledger_opens_slowly(place, monkeypatch):
    """The page asks for what an earlier window left once it is known which ledger this is, and not before."""
    async with publish(place) as (app, pilot):
        await given(app, pilot, "money and ties", "Own money.")
    opened = Desk._opened

    def slowly(desk, door):
        time.sleep(0.3)
        opened(desk, door)

    monkeypatch.setattr(Desk, "_opened", slowly)
    async with publish(place) as (app, _):
        assert "Own money." in [one.words for one in app.screen._shelf.lines]


async def test_a_maker_is_asked_and_captions_are_read_from_there(home, demo_file, tmp_path, monkeypatch):
    """The key of a maker opens its question, word for word; asked, its line says that the answer is awaited."""
    monkeypatch.setattr(
        "qcledger.report.beside.Beside.begin", lambda *args: False
    )  # what is settled without it will do
    place = tmp_path / "demo.ledger"
    copyfile(demo_file, place)
    with Ledger.open(demo_file) as whole, Ledger.open(place) as copy:
        copytree(whole.photos, copy.photos)
    async with publish(place) as (app, pilot):
        assert "S07" in picture(app)
        await pilot.press(line_of(app, "Aldervane: not asked"))
        await until(pilot, lambda: in_front(app, FormPage) and app.screen._ready)
        await until(pilot, lambda: "ask Aldervane" in picture(app))
        await pilot.press("f3")
        await until(pilot, lambda: in_front(app, PublishPage) and bool(rows(place, Question)))
        await until(pilot, lambda: any("Aldervane: an answer" in one.words for one in app.screen._shelf.lines))
        await pilot.press(line_of(app, "captions"))
        await until(pilot, lambda: in_front(app, Ask))
        await pilot.press("enter")
        await until(pilot, lambda: not any("captions" in one.title for one in app.screen._shelf.lines))
        await pilot.press("p")
        await until(pilot, lambda: "not everything is worked out yet" in picture(app))


async def test_an_edition_goes_out_once_nothing_is_missing_or_for_a_reason(place, tmp_path):
    """One key says that something is missing, the other asks why and where to; then the edition is recorded."""
    page = tmp_path / "card.html"
    async with publish(place) as (app, pilot):
        await pilot.press("p")
        await until(pilot, lambda: "missing; t publishes all the same" in picture(app))
        assert not page.exists()
        await pilot.press("t")
        await typed(app, pilot, "Among friends.")
        await typed(app, pilot, str(page))
        await until(pilot, lambda: in_front(app, Ask))
        await pilot.press("escape")
        await until(pilot, lambda: "nothing was recorded" in picture(app))
        assert rows(place, Publication) == []
        assert not page.exists()
        await pilot.press("t")
        await typed(app, pilot, "Among friends.")
        await typed(app, pilot, str(page))
        await until(pilot, lambda: in_front(app, Ask))
        await pilot.press("enter")
        await until(pilot, lambda: "edition 1 is recorded" in picture(app))
        (edition,) = rows(place, Publication)
        assert edition.reason == "Among friends."
        assert "Among friends." in page.read_text(encoding="utf-8")
        assert "missing" in {one.standing for one in rows(place, Statement)}
        await pilot.press(line_of(app, "edition 1 "))
        await until(pilot, lambda: in_front(app, Words))
        await until(pilot, lambda: str(edition.on) in picture(app))


async def test_a_draft_records_nothing(place, tmp_path):
    """The key of a draft asks where to and writes a page marked so; a place that is taken is refused in the line."""
    page = tmp_path / "draft.html"
    async with publish(place) as (app, pilot):
        await pilot.press("o")
        await typed(app, pilot, str(page))
        await until(pilot, lambda: "a draft, not recorded" in picture(app).replace("\n ", " "))
        assert "DRAFT" in page.read_text(encoding="utf-8")
        assert rows(place, Publication) == []
        await pilot.press("o")
        await until(pilot, lambda: in_front(app, TypeLine))
        await pilot.press("ctrl+u", *str(page), "enter")
        await until(pilot, lambda: "a file there already" in picture(app))


@pytest.mark.parametrize("key", ["o", "t"])
async def test_a_page_that_is_stopped_leaves_nothing(place, tmp_path, monkeypatch, key):
    """Esc while photos are made ends a draft or an edition: no file, no row; begun again, it is made."""
    out, begun, on = tmp_path / "out", Event(), Event()
    out.mkdir()
    with Ledger.open(place, write=True, letters="OV", tester="OV") as ledger:
        for colour, faulty in (("red", "ob1.0.0.0evenness"), ("blue", "ob1.0.0.1evenness")):
            file = tmp_path / f"{colour}.jpg"
            file.write_bytes(with_metadata(colour))
            ledger.add_photo(file, observation=faulty)
    whole, reduced = WorkedOut.whole, photos.reduced

    def slowly(*args):
        begun.set()
        assert on.wait(60)
        return reduced(*args)

    monkeypatch.setattr(WorkedOut, "whole", property(lambda self: as_settled(whole.fget(self))))
    monkeypatch.setattr(photos, "reduced", slowly)

    async def begin(app, pilot):
        await pilot.press(key)
        if key == "t":
            await typed(app, pilot, "Among friends.")
        await typed(app, pilot, str(out / "card.html"))

    async with publish(place) as (app, pilot):
        await begin(app, pilot)
        await until(pilot, begun.is_set)
        await pilot.press("escape")
        on.set()
        await until(pilot, lambda: "stopped; nothing was written" in picture(app))
        assert list(out.iterdir()) == []
        assert rows(place, Publication) == []
        await begin(app, pilot)
        if key == "t":
            await until(pilot, lambda: in_front(app, Ask))
            await pilot.press("enter")
        await until(pilot, (out / "card.html").exists)
        assert len(list((out / "card-photos").iterdir())) == 2


@pytest.mark.parametrize("text", [one for one in HOSTILE if one.strip()][:6])
async def test_hostile_words_stay_text(place, text):
    """Whatever is given to be printed stands on the page as it was typed, and steers nothing."""
    async with publish(place) as (app, _):
        app.screen.desk.drafts.keep("publish disclosed", text)
        await app.screen.fill()
        assert "\x1b" not in picture(app)
        assert in_front(app, PublishPage)
