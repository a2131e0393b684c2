"""What goes in and out is reached from whatever page: each line does what it says, and refuses in a line."""

from contextlib import asynccontextmanager

import pytest

from qcledger.door import Door
from qcledger.ledger import Ledger
from qcledger.records import Session
from qcledger.screens import start
from qcledger.screens.app import Pages
from qcledger.screens.desk import Desk
from qcledger.screens.inandout import JOBS, InAndOut
from qcledger.screens.page import Page
from qcledger.screens.widgets.lines import SaidLine
from qcledger.screens.widgets.typeline import TypeLine
from qcledger.settings import Settings, load_settings, own_rubrics, shipped
from tests.screens.support import in_front, picture, until
from tests.small import PAINTS, small_ledger


class Hands:
    """The pages on a ledger, and what is said there."""

    def __init__(self, place):
        self.desk = Desk(Door(place), Door(place, write=True), Settings())
        self.app = Pages(self.desk)

    @asynccontextmanager
    async def run(self):
        """Run the pages until the first one is filled."""
        async with self.app.run_test(size=(80, 24)) as self.pilot:
            await until(self.pilot, lambda: isinstance(self.app.screen, Page) and self.app.screen.takes_keys)
            yield self
        self.desk.close()

    async def do(self, letter, typed):
        """Choose a line of the list and type its line."""
        await self.pilot.press("ctrl+o")
        await until(self.pilot, lambda: in_front(self.app, InAndOut))
        await self.pilot.press(letter)
        await until(self.pilot, lambda: in_front(self.app, TypeLine))
        await self.pilot.press("ctrl+u")
        for key in typed:
            await self.pilot.press({" ": "space", "/": "slash", ".": "full_stop", "_": "underscore"}.get(key, key))
        await self.pilot.press("enter")

    async def says(self, words):
        """Wait until the page has said something."""
        await until(
            self.pilot,
            lambda: isinstance(self.app.screen, Page) and words in self.app.screen.query_one(SaidLine).said,
        )


@pytest.fixture
def hands(home, tmp_path):
    """Return hands on a ledger with a blind sheet."""
    return Hands(small_ledger(tmp_path, blind=True).place)


async def test_the_list_is_there_on_every_page_and_tells_its_letters(hands):
    """Ctrl+O anywhere; a letter of no line is told, Esc leaves."""
    async with hands.run() as at:
        for page in "lsb":
            await at.pilot.press("comma", page, "ctrl+o")
            await until(at.pilot, lambda: all(f"{key}  {what}" in picture(at.app) for key, (what, _) in JOBS.items()))
            await at.pilot.press("z")
            await until(at.pilot, lambda: "z does nothing here" in picture(at.app))
            await at.pilot.press("escape")
            await until(at.pilot, lambda: isinstance(at.app.screen, Page))


async def test_sheets_strips_and_stickers_are_printed_to_files(hands, tmp_path):
    """Each is a page for the browser, with codes alone where the sheet is blind; that strips were printed is kept."""
    async with hands.run() as at:
        for letter, typed, has in (
            ("p", f"S04 {tmp_path}/sheet.html", "4 7 1"),
            ("s", f"S04 {tmp_path}/strips.html", "OV 0001"),
            ("k", f"{tmp_path}/some.html OV 0002", 'aria-label="OV 0002"'),
            ("k", f"{tmp_path}/next.html next 2", 'aria-label="OV 0005"'),
        ):
            await at.do(letter, typed)
            await at.says("print it from a browser")
            at.app.screen.say("")
            page = next(word for word in typed.split() if word.endswith(".html"))
            text = (tmp_path / page).read_text(encoding="utf-8")
            assert has in text
            assert not any(name in text for name, _ in PAINTS)
        await at.do("p", f"S04 {tmp_path}/sheet.html")
        await until(at.pilot, lambda: "a file there already" in " ".join(picture(at.app).split()))
        await at.pilot.press("escape")
    with Ledger.open(tmp_path / "small.sqlite") as ledger:
        assert "folded strips printed" in ledger.rows(Session)[0].note


async def test_a_ledger_goes_out_whole_and_into_another(home, tmp_path):
    """What one exports another merges, entry by entry; once more brings nothing."""
    place, other = small_ledger(tmp_path).place, tmp_path / "other.sqlite"
    Ledger.create(other, letters="TL", tester="TL").close()
    async with Hands(place).run() as at:
        await at.do("e", f"{tmp_path}/out")
        await at.says("entries exported to")
    at = Hands(other)
    async with at.run():
        await at.do("m", f"{tmp_path}/out")
        await at.says("new entries merged")
        await at.do("m", f"{tmp_path}/out")
        await at.says("0 new entries")
        await at.do("b", f"{tmp_path}/copy")
        await at.says("backup made and verified")
    with Ledger.open(other) as mine, Ledger.open(place) as theirs:
        assert theirs.closing_hashes().items() <= mine.closing_hashes().items()


async def test_photo_folder_and_rubric_are_set_and_wrong_ones_refused(hands, tmp_path):
    """The settings keep the folder for the next start, the rubric stands beside the others; neither is half done."""
    scales = (
        (shipped("rubrics") / "pencil.yaml").read_text(encoding="utf-8").replace("rubric: pencil", "rubric: mine")
    )
    (tmp_path / "mine.yaml").write_text(scales, encoding="utf-8")
    (tmp_path / "shots").mkdir()
    async with hands.run() as at:
        await at.do("f", f"{tmp_path}/nowhere")
        await until(at.pilot, lambda: "a folder that is there" in " ".join(picture(at.app).split()))
        await at.pilot.press("escape")
        assert load_settings().photo_folder == ""
        await at.do("f", f"{tmp_path}/shots")
        await at.says("photo folder set")
        assert load_settings().photo_folder == at.desk.settings.photo_folder == str(tmp_path / "shots")
        await at.do("r", f"{tmp_path}/mine.yaml")
        await at.says("rubric mine is at hand")
        assert (own_rubrics() / "mine.yaml").read_text(encoding="utf-8") == scales
        await at.do("r", f"{tmp_path}/mine.yaml")
        await until(at.pilot, lambda: "a scale file there already" in " ".join(picture(at.app).split()))
        await at.pilot.press("escape")


async def test_another_ledger_is_opened_once_this_one_is_left(hands, tmp_path, monkeypatch):
    """What is no ledger is refused and nothing is left; a ledger ends these pages and begins others on it."""
    other = tmp_path / "other.sqlite"
    Ledger.create(other, letters="TL", tester="TL").close()
    async with hands.run() as at:
        await at.do("l", f"{tmp_path}/none.sqlite")
        await until(at.pilot, lambda: "none.sqlite" in picture(at.app) and at.app.next_ledger is None)
        await at.pilot.press("escape")
        await at.do("l", str(other))
        await until(at.pilot, lambda: not at.app.is_running)
    assert at.app.next_ledger == str(other)
    opened = []

    class Left:
        """Pages that were left for another ledger, the first time."""

        return_code, failure = 0, None

        def __init__(self, desk):
            opened.append(desk.place())
            self.next_ledger = str(other) if len(opened) == 1 else None

        def run(self):
            """Show nothing."""

    monkeypatch.setattr(start, "need_terminal", lambda: None)
    monkeypatch.setattr("qcledger.screens.app.Pages", Left)
    place = tmp_path / "small.sqlite"
    assert start.run_pages(place) == 0
    assert opened == [place, str(other)]
