"""While a session is blind, nothing that the program shows or writes tells what its codes stand for."""

import re
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from PIL import Image

from qcledger.bench import wishes
from qcledger.ledger import Ledger
from qcledger.records import Observation, RunRow, Session
from qcledger.screens.app import Pages
from qcledger.screens.bench.page import Bench
from qcledger.screens.dialogs import Ask
from qcledger.screens.stock.history import History
from tests.bench_table.given import MAKERS, new_ledger, proposed, search_shortly
from tests.screens.stock.support import Shop
from tests.small import PAINTS

TABLE = {
    "bench": ("Bench", "qcledger.screens.bench:Bench"),
    "loose_ends": ("Loose ends", "qcledger.screens.loose_ends:LooseEnds"),
    "stock": ("Stock", "qcledger.screens.stock:Stock"),
    "record": ("Record", "qcledger.screens.record:RecordPage"),
    "findings": ("Findings", "qcledger.screens.findings:FindingsPage"),
}
NAMES = re.compile("|".join([r"OV \d{4}", r"\bsp\d\d\b", *MAKERS, *(name for name, _ in PAINTS)]))


class Blind(Shop):
    """Every page on a ledger with one blind sheet of four half pans and its control."""

    def __init__(self, place: Path, codes: dict[str, str]) -> None:
        super().__init__(place)
        self.codes = codes
        self.app = Pages(self.desk, TABLE)

    def links(self, text: str) -> list[str]:
        """Return the lines of a text that name both a code and something of its specimen."""
        found = "|".join(" ?".join(code) for code in self.codes.values())
        code = re.compile(rf"(?<![\w-])(?:{found})(?![\w-])")
        return [line for line in text.splitlines() if code.search(line) and NAMES.search(line)]

    async def go(self, page: str) -> str:
        """Open a page and return what it shows."""
        await self.app.run_action(f"app.go('{page}')")
        await self.settle()
        return self.picture


@pytest.fixture
def place(tmp_path, home, monkeypatch):
    """Return where the ledger is, and the code of each specimen's first place."""
    search_shortly(monkeypatch)
    with new_ledger(tmp_path) as ledger:
        proposal = proposed(
            ledger, specimens="OV 0001, OV 0009, OV 0017, OV 0025, OV 0011, OV 0019", control="OV 0003",
            criteria="evenness, laydown_count",
        )  # fmt: skip
        wishes.keep(proposal, ledger)
        rows = sorted(ledger.rows(RunRow), key=lambda row: -row.position)
    return tmp_path / "planned.sqlite", {row.specimen: row.code for row in rows}


@asynccontextmanager
async def running(place):
    at = Blind(*place)
    async with at.run((120, 40)):
        await at.until(lambda: isinstance(at.page, Bench) and at.page.atwork is not None)
        yield at


async def grade(at: Blind, *keys: str) -> None:
    """Press keys at the sheet as a calm hand does, until all is saved."""
    for key in keys:
        at.page._press = None
        await at.pilot.press(key)
    await at.until(lambda: at.page._saving == 0)


async def every_page(at: Blind) -> dict[str, str]:
    """Return what each page shows, with histories and a closer look at what was observed last."""
    shown = {page: await at.go(page) for page in ("loose_ends", "findings", "stock")}
    with Ledger.open(at.place) as ledger:
        stickers = [f"OV {number:04}" for number in (3, 9, 17)]
        assert len(ledger.rows(Session)) == 1
    for number, sticker in enumerate(stickers):
        page = History(at.desk, f"sp{int(sticker[3:]):02}")
        await at.app.push_screen(page)
        await at.settle()
        shown[f"history {number}"] = at.picture.replace(sticker, "")
        await at.pilot.press("escape")
        await at.settle()
    shown["record"] = await at.go("record")
    await at.pilot.press("enter")
    await at.settle()
    shown["look"] = at.picture
    await at.pilot.press("escape")
    await at.settle()
    shown["bench"] = await at.go("bench")
    for page, key in (("session", "c"), ("tester", "m")):
        await at.pilot.press(key)
        await at.until(lambda: not isinstance(at.page, Bench))
        await at.settle()
        shown[page] = at.picture
        await at.pilot.press("escape")
        await at.until(lambda: isinstance(at.page, Bench))
    assert "Checks" in shown["session"]
    return shown


async def test_no_page_and_no_file_tells_what_a_code_stands_for(place, home, tmp_path, monkeypatch, cli):
    """Graded, noted, photographed, put down half-way: pages by pilot and every file beside the database are searched.

    Histories of a specimen that was judged and of one that was not differ in their names alone, and Loose ends,
    Stock and Findings are the same before the first grade and after it.
    """
    monkeypatch.setattr("qcledger.screens.camera.STILL_S", 0.0)
    async with running(place) as at:
        before = await every_page(at)
        assert linking(at, before) == {}
        Image.new("RGB", (8, 8), "teal").save(at.camera / "one.png")
        await grade(at, "f")
        await at.until(lambda: "a grade first, while the sheet is blind" in at.picture)
        await grade(at, "3", "f")
        await at.until(lambda: "one.png filed" in at.picture)
        await grade(at, "<")
        await at.pilot.press("n", *"rings here", "escape")
        await at.settle()
        await grade(at, "enter", "2", "enter", "1")
        await at.until(lambda: len(_observed(at)) >= 4)
        after = await every_page(at)
        assert linking(at, after) == {}
        for page in ("findings", "stock", *(f"history {number}" for number in range(3))):
            assert after[page] == before[page], page
        assert "Blind session S01 is left out until it is closed." in after["findings"]
        assert any(" ".join(code) in after["bench"] for code in at.codes.values())
        assert "hidden while blind" in after["record"]
    for args in (
        ("sheet",),
        ("sheet", "S01"),
        ("findings",),
        ("findings", "--as", "csv"),
        ("findings", "--as", "json"),
        ("price", "--by", "piece", "--as", "csv"),
        ("price", "--as", "json"),
        ("tester",),
        ("tester", "--charts"),
        ("tester", "--check", "S01"),
    ):
        told = cli(*args, "--ledger", place[0])
        assert (told.code, at.links(told.out + told.err)) == (0, []), args
    assert cli("sheet", "S01", "--print", tmp_path / "sheet.html", "--ledger", place[0]).code == 0
    refused = cli("export", tmp_path / "out", "--ledger", place[0])
    assert (refused.code, refused.error_lines) == (
        2,
        [
            "export: found 'session S01, still blind'; "
            "allowed: sessions closed, or opened early with a reason"
        ],
    )  # fmt: skip
    assert not (tmp_path / "out").exists()
    written = [path for root in (tmp_path, home) for path in root.rglob("*") if path.is_file()]
    texts = {path: path.read_bytes().decode("latin-1") for path in written if not _is_data(path)}
    assert {path.name for path in texts} >= {"sheet.html"}
    for path, text in texts.items():
        whole = " ".join(text.split())
        assert at.links(whole) == [], path


def linking(at: Blind, pages: dict[str, str]) -> dict[str, list[str]]:
    """Return the lines that link, by page."""
    return {page: found for page, text in pages.items() if (found := at.links(text))}


def _observed(at: Blind) -> list[Observation]:
    with Ledger.open(at.place) as ledger:
        return ledger.rows(Observation)


def _is_data(path: Path) -> bool:
    """Say whether a file is the database itself, or a picture."""
    return path.name.startswith("planned.sqlite") or path.suffix in (".png", ".jpg")


async def test_opened_early_the_sheet_goes_on_by_stickers(place):
    """The key e asks why; without a reason nothing happens; with one it is an entry, and the page shows stickers."""
    async with running(place) as at:
        await at.pilot.press("e")
        await at.settle()
        await at.pilot.press("escape")
        await at.settle()
        assert at.page.atwork.sheet.is_blind
        await at.pilot.press("e")
        await at.settle()
        await at.pilot.press(*"a pan fell", "escape")
        await at.until(lambda: "OV 0003" in at.picture)
        with Ledger.open(at.place) as ledger:
            (session,) = ledger.rows(Session)
            assert (session.blinding, session.is_blind) == ("open", False)
            assert "opened early: a pan fell" in ledger.history("session", session.id)[-1].body
        await at.pilot.press("e")
        await at.until(lambda: "is not blind" in at.picture)


async def test_a_blind_sheet_is_laid_out_from_the_keys(place):
    """Two keys and what is new: the proposal says what it holds and names no code; Esc goes back to the form."""
    async with running(place) as at:
        await at.pilot.press("o")
        await at.settle()
        await at.pilot.press("l")
        await at.settle()
        form = {field.name: field for field in at.page.fields()}
        form["specimens"].value = "OV 0005, OV 0013, OV 0021, OV 0029, OV 0002"
        assert (form["control"].value, form["blinding"].value) == ("OV 0003", "shuffled by myself")
        await at.pilot.press("f3")
        await at.until(lambda: "OV 0002 not poured" in at.picture)
        await at.until(lambda: form["although"].has_focus_within)
        await at.pilot.press(*"in haste", "f3")
        await at.until(lambda: "Keep this run sheet?" in at.picture)
        assert "8 places: five specimens, one hidden repeat and the control first and last" in at.picture
        await at.pilot.press("escape")
        await at.settle()
        with Ledger.open(at.place) as ledger:
            assert len(ledger.rows(Session)) == 1
        await at.pilot.press("f3")
        await at.until(lambda: "Keep this run sheet?" in at.picture)
        await at.pilot.press("enter")
        await at.until(lambda: isinstance(at.page, Bench) and at.page.atwork is not None)
        await at.until(lambda: at.page.atwork.sheet.session.code == "S02")
        assert at.page.atwork.sheet.is_blind


async def test_tubes_are_poured_from_the_keys(place):
    """The key d asks which and when; what is bought dry is refused in the form."""
    async with running(place) as at:
        await at.pilot.press("d")
        await at.settle()
        first, _ = at.page.fields()
        first.value = "OV 0001"
        await at.pilot.press("enter")
        await at.settle()
        await at.pilot.press("enter")
        await at.until(lambda: "OV 0001, a half pan" in at.picture)
        first.value = "OV 0002"
        await at.settle()
        await at.pilot.press("enter")
        await at.settle()
        await at.pilot.press("enter")
        await at.until(lambda: "1 poured on 2026-03-09; dry after 7 days" in at.picture)


@pytest.mark.parametrize("size", [(80, 24), (60, 20), (20, 5)])
async def test_the_form_fits_small_windows_and_shows_text_as_text(place, size):
    """At every size the form opens, proposes and is left; markup in a title is shown, not obeyed."""
    at = Blind(*place)
    async with at.run(size):
        await at.until(lambda: isinstance(at.page, Bench) and at.page.atwork is not None)
        await at.pilot.press("l")
        await at.settle()
        form = {field.name: field for field in at.page.fields()}
        form["comparison"].value, form["specimens"].value = "[red]x[/red]", "OV 0005"
        await at.pilot.press("f3")
        await at.until(lambda: isinstance(at.page, Ask))
        await at.until(lambda: size != (80, 24) or "Session S02, [red]x[/red]; tester" in at.picture)
        await at.pilot.press("escape", "escape")
        await at.until(lambda: isinstance(at.page, Bench))
