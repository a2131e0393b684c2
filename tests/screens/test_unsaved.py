"""Saves that do not reach the ledger: counted and told at leaving, kept, and asked about at the next start."""

import asyncio
import json
import threading
from datetime import UTC, datetime

import pytest

from qcledger.door import Door
from qcledger.errors import BadInput, LedgerUnavailable
from qcledger.ledger import Ledger
from qcledger.records import Maker, Paint, Photo
from qcledger.screens.app import Pages
from qcledger.screens.desk import Desk
from qcledger.screens.leftover import Unsaved
from qcledger.screens.unsaved import words
from qcledger.screens.widgets.lines import SaidLine
from qcledger.settings import Settings
from tests.screens.support import SAMPLES, in_front, picture, until
from tests.small import small_ledger

NOW = datetime(2026, 3, 9, 14, 2, 31, tzinfo=UTC)


@pytest.fixture
def small(home, tmp_path):
    return small_ledger(tmp_path)


def desk_on(small):
    """Return an open desk on the small ledger."""
    desk = Desk(Door(small.place), Door(small.place, write=True), Settings(), now=lambda: NOW)
    desk.open()
    return desk


def left(home):
    """Return the saves that windows which are gone have left, in words."""
    files = [json.loads(path.read_text(encoding="utf-8")) for path in (home / "windows").glob("*/*.json")]
    return [words(save) for one in files for save in one["saves"]]


async def stuck(desk):
    """Let the writing thread stand still until the event that is returned is set."""
    let_go, begun = threading.Event(), threading.Event()

    def wait(_):
        begun.set()
        let_go.wait(30)

    _ = asyncio.create_task(desk.read(wait, after_saves=True))
    await asyncio.to_thread(begun.wait, 10)
    return let_go, _


async def left_by(small, home, *jobs):
    """Ask for saves, given as records or as jobs, that never come to be made; leave."""
    desk = desk_on(small)
    await desk.read(lambda _: None, after_saves=True)
    let_go, stands = await stuck(desk)
    asked = [asyncio.create_task(desk.save(job) if callable(job) else desk.append(job)) for job in jobs]
    await asyncio.sleep(0.05)
    await asyncio.to_thread(desk.close, 0.1)
    let_go.set()
    ended = await asyncio.gather(stands, *asked, return_exceptions=True)
    assert all(isinstance(one, asyncio.CancelledError) for one in ended[1:])
    return desk


MAKERS = [Maker(id="m1", name="Quernlow")], [Maker(id="m2", name="Aldervane")]


async def test_what_never_came_to_be_saved_is_counted_and_kept(small, home):
    """The ledger stands still until the end: leaving is not held up, and the line says how many saves are kept."""
    desk = await left_by(small, home, *MAKERS)
    assert desk.kept == 2
    assert desk.farewell() == (
        "2 saves did not reach the ledger: it was busy until the end."
        " 2 saves are kept; the next start asks about them."
    )
    assert left(home) == ["maker Quernlow", "maker Aldervane"]
    with small.open() as ledger:
        assert ledger.get(Maker, "m1") is None


async def test_a_save_that_reads_first_is_kept_as_what_it_would_have_written(small, home):
    """It was never made, so nothing is in the ledger; what it would have written is found out without writing."""

    def job(ledger):
        ledger.append([Maker(id="m1", name=f"{ledger.daybook.tester} and company")], reason="seen on a label")

    desk = await left_by(small, home, job)
    assert desk.kept == 1
    assert left(home) == ["maker OV and company"]


async def test_an_import_is_not_kept_for_the_next_start(small, home):
    """It is made again from its file: not one row of it is written or kept, and the farewell says so."""
    desk, made = desk_on(small), []
    await desk.read(lambda _: None, after_saves=True)
    let_go, stands = await stuck(desk)
    asked = asyncio.create_task(desk.save(made.append, kept=False))
    await asyncio.sleep(0.05)
    await asyncio.to_thread(desk.close, 0.1)
    let_go.set()
    await asyncio.gather(stands, asked, return_exceptions=True)
    assert (desk.kept, made, left(home)) == (0, [], [])
    told = "What was being brought in did not come in: its file stands, bring it in again."
    assert desk.farewell() == f"1 save did not reach the ledger: it was busy until the end. {told}"


async def test_a_picture_is_kept_by_its_place(small, home, tmp_path):
    """The next start files it with what it shows."""
    from PIL import Image

    source = tmp_path / "new.png"
    Image.new("RGB", (8, 8), "red").save(source)
    await left_by(small, home, lambda ledger: ledger.add_photo(source, specimen="sp00", caption="Edge"))
    assert left(home) == ["photo new.png"]
    async with asked_about(small) as at:
        await at.press("enter")
        await at.says("1 of 1 saved")
    with small.open() as ledger:
        assert [(photo.specimen, photo.caption) for photo in ledger.rows(Photo)] == [("sp00", "Edge")]


async def test_what_fails_at_leaving_is_told(small, home, monkeypatch):
    """The save fails after the key that leaves: nobody is told on a page any more, so the line at the end says it."""
    desk = desk_on(small)
    await desk.read(lambda _: None, after_saves=True)
    let_go, stands = await stuck(desk)

    def locked(*_args, **_kwargs):
        raise LedgerUnavailable("In use by another terminal; not saved; try again.")

    monkeypatch.setattr(Ledger, "append", locked)
    asked = asyncio.create_task(desk.append(MAKERS[0]))
    closing = asyncio.create_task(asyncio.to_thread(desk.close))
    await asyncio.sleep(0.05)
    let_go.set()
    await asyncio.gather(stands, asked, closing, return_exceptions=True)
    assert desk.farewell().startswith("1 save did not reach the ledger: In use by another terminal")
    assert left(home) == ["maker Quernlow"]


async def test_what_cannot_be_kept_is_told_as_lost(small, home):
    """Where the data folder cannot be written the line says that it is lost, not that it is kept."""
    (home / "windows").write_text("no folder")
    desk = await left_by(small, home, *MAKERS)
    assert desk.kept == 0
    assert desk.farewell().endswith(" 2 saves are lost.")
    assert "kept" not in desk.farewell()


async def test_a_failure_told_as_one_leaves_is_told_again(small, home, monkeypatch):
    """The page said it a moment before: who leaves then may not have seen it; who saved something since has."""
    real = Ledger.append

    def locked(*_args, **_kwargs):
        raise LedgerUnavailable("In use by another terminal; not saved; try again.")

    for more, count in ((False, 1), (True, 0)):
        desk = desk_on(small)
        monkeypatch.setattr(Ledger, "append", locked)
        with pytest.raises(LedgerUnavailable):
            await desk.append(MAKERS[0])
        monkeypatch.setattr(Ledger, "append", real)
        if more:
            await desk.append(MAKERS[1])
        await asyncio.to_thread(desk.close)
        assert len(desk.unsaved) == count
    assert left(home) == ["maker Quernlow"]


async def test_what_a_page_was_told_is_not_told_again(small, home):
    """A save that the ledger refused for good counts no more at leaving."""
    desk = desk_on(small)
    with pytest.raises(BadInput):
        await desk.append([Maker(id="m1", name="")])
    await asyncio.to_thread(desk.close)
    assert desk.farewell() == ""
    assert left(home) == []


class Asked:
    """The question at the start."""

    def __init__(self, app, pilot):
        self.app = app
        self.pilot = pilot

    async def until(self, true):
        """Wait until something is so."""
        await until(self.pilot, true)

    async def press(self, *keys):
        """Press keys."""
        await self.pilot.press(*keys)

    async def says(self, *words):
        """Wait until the page says so."""
        await self.until(
            lambda: (
                not in_front(self.app, Unsaved)
                and all(word in self.app.screen.query_one(SaidLine).said for word in words)
            )
        )


class asked_about:  # noqa: N801 - used as a context manager only
    """Start the pages, until they ask."""

    def __init__(self, small):
        self.desk = Desk(Door(small.place), Door(small.place, write=True), Settings(), now=lambda: NOW)
        self.app = Pages(self.desk, SAMPLES)

    async def __aenter__(self):
        self._running = self.app.run_test(size=(80, 24), notifications=True)
        at = Asked(self.app, await self._running.__aenter__())
        await at.until(lambda: in_front(self.app, Unsaved))
        return at

    async def __aexit__(self, *error):
        await self._running.__aexit__(*error)
        await asyncio.to_thread(self.desk.close)


async def test_the_next_start_asks_and_saves(small, home):
    """Enter saves everything in its order; then nothing is asked any more."""
    await left_by(small, home, *MAKERS)
    async with asked_about(small) as at:
        assert "Quernlow" in picture(at.app)
        assert "Aldervane" in picture(at.app)
        assert "Enter saves them   x throws them away   Esc asks again next time" in picture(at.app)
        await at.press("enter")
        await at.says("2 of 2 saved")
    with small.open() as ledger:
        assert {ledger.get(Maker, one).name for one in ("m1", "m2")} == {"Quernlow", "Aldervane"}
    assert left(home) == []


async def test_it_says_when_that_was_where_the_tester_is(small, home):
    """A save of an evening in UTC was made the next day where the tester works, and is listed so."""
    with small.open(write=True) as ledger:
        ledger.set_zone("Pacific/Auckland")
    await left_by(small, home, MAKERS[0])
    async with asked_about(small) as at:
        await at.until(lambda: "2026-03-10 03:02 maker Quernlow" in picture(at.app))
        await at.press("escape")


@pytest.mark.parametrize("content", ["[" * 200_000, '{"place": "x", "daybooks": null, "drafts": {}, "saves": [5]}'])
async def test_a_damaged_file_stops_no_start_and_is_told(small, home, content):
    """What is whole is asked about; of what is damaged it is said where it lies, and it stays there."""
    await left_by(small, home, MAKERS[0])
    (whole,) = (home / "windows").glob("*/*.json")
    damaged = whole.with_name("aaaa.json")
    damaged.write_text(content, encoding="utf-8")
    async with asked_about(small) as at:
        (told,) = (one.message for one in at.app._notifications if "damaged" in one.message)
        assert str(damaged) in told
        await at.until(lambda: "damaged, passed over and kept" in " ".join(picture(at.app).split()))
    assert damaged.read_text(encoding="utf-8") == content


async def test_esc_asks_again_and_x_throws_away(small, home):
    """Nothing goes without a key that says so."""
    await left_by(small, home, MAKERS[0])
    async with asked_about(small) as at:
        await at.press("escape")
        await at.until(lambda: not in_front(at.app, Unsaved))
    assert left(home) == ["maker Quernlow"]
    async with asked_about(small) as at:
        await at.press("x")
        await at.until(lambda: not in_front(at.app, Unsaved))
    assert left(home) == []
    with small.open() as ledger:
        assert ledger.get(Maker, "m1") is None


async def test_what_is_refused_stays_and_says_why(small, home):
    """A row that names one that is not there: the others are saved, this one is asked about again."""
    await left_by(small, home, [Paint(id="p1", maker="nobody", name="Kiln Red")], MAKERS[0])
    async with asked_about(small) as at:
        await at.press("enter")
        await at.says("1 of 2 saved", "nobody", "x throws it away")
    assert left(home) == ["paint Kiln Red"]


async def test_what_reached_the_ledger_after_all_is_not_stored_twice(small, home):
    """The disk had it, nobody knew: saving it again changes nothing."""
    await left_by(small, home, MAKERS[0])
    with small.open(write=True) as ledger:
        ledger.append(MAKERS[0])
        before = ledger.closing_hashes()
    async with asked_about(small) as at:
        await at.press("enter")
        await at.says("1 of 1 saved")
    with small.open() as ledger:
        assert ledger.closing_hashes() == before
