"""The page in a browser: whole without a script, found by its batch code with one, silent, and at ease on a phone."""

import os
import re
import shutil
import subprocess
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from urllib.parse import quote

import pytest

from qcledger.public import told
from qcledger.public.cards import PrintedCard
from qcledger.public.to_cards import cards_html
from qcledger.public.to_html import scorecard_html
from qcledger.public.view import PublicCard
from tests.conftest import missing, need_tool
from tests.hostile import WEB
from tests.public.pdf import drawn, papers
from tests.public.read import ReadPage, flat
from tests.public.test_cards import swatch
from tests.public.test_faces import full_view

AXE = "QCLEDGER_TEST_AXE"
"""Where axe.min.js lies, as .ci/run fetches it."""
FLAGS = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
    "--disable-component-update", "--no-first-run", "--enable-logging=stderr", "--hide-scrollbars",
)  # fmt: skip


@pytest.fixture
def browse(tmp_path):
    """Return a function that opens a page and returns what became of it, and what the console said."""
    chromium = shutil.which("chromium") or need_tool("chromium")

    def run(address: str, *flags: str, dump: Sequence[str] = ("--dump-dom",)) -> tuple[ReadPage, list[str]]:
        profile = f"--user-data-dir={tmp_path / 'profile'}"
        done = subprocess.run(
            [chromium, *FLAGS, profile, *flags, *dump, address], capture_output=True, text=True, timeout=300
        )
        assert done.returncode == 0, done.stderr
        console = [line for line in done.stderr.splitlines() if ":CONSOLE" in line]
        return ReadPage(done.stdout or "<body></body>"), console

    return run


@pytest.fixture
def page(tmp_path, demo_gathered) -> Path:
    """Return the file of the demo's draft."""
    file = tmp_path / "card.html"
    file.write_text(scorecard_html(demo_gathered.view, demo_gathered.copies), encoding="utf-8")
    return file


def shown(page: ReadPage) -> list[str]:
    """Return the rows of the table of lots that are not hidden."""
    rows = [one for one in page.named("tr") if "data-code" in one.attributes]
    return [flat(one.text) for one in rows if "hidden" not in one.attributes]


def find(page: Path, text: str) -> str:
    """Return the address of a page at which a search is typed already."""
    return f"{page.as_uri()}#find={quote(text)}"


@pytest.mark.parametrize("typed", ["q-4471", "Q 04471", "4471"])
def test_a_batch_code_is_found_as_people_type_it(browse, page, typed):
    """Whatever case, marks and noughts: the one lot, what was found in it, and nothing on the console."""
    seen, console = browse(find(page, typed))
    (row,) = shown(seen)
    assert "Kiln Red" in row
    assert "Separated binder: 4 of 4" in row
    assert console == []


def test_a_maker_and_a_colour_are_found_and_what_is_not_tested_is_said(browse, page):
    """Words find every lot that has them, a colour without a code by that; what is not there says nothing of it."""
    rows = shown(browse(find(page, "quernlow kiln"))[0])
    assert len(rows) > 3
    assert all("Quernlow Kiln Red" in row for row in rows)
    uncoded = shown(browse(find(page, "vardelune no code"))[0])
    assert uncoded
    assert all("Vardelune" in row and "no code found" in row for row in uncoded)
    seen, _ = browse(find(page, "Sallowmark 9"))
    assert shown(seen) == []
    assert flat(seen.by_id("answer").text) == told.NOT_TESTED


@pytest.mark.parametrize("typed", ["".join(WEB), "%"])
def test_what_is_typed_is_text(browse, page, typed):
    """A search for markup finds nothing, adds nothing and says nothing on the console."""
    seen, console = browse(f"{page.as_uri()}#find={typed if typed == '%' else quote(typed)}")
    there = ReadPage(page.read_text(encoding="utf-8"))
    assert Counter(one.name for one in seen.tags) == Counter(one.name for one in there.tags)  # the table has moved
    assert console == []


def test_one_code_at_two_colours_shows_both(browse, tmp_path):
    """Where two makers use one code, both are shown and counted."""
    view = full_view()
    (lot,) = view.lots
    two = (replace(lot, id="a", code="A 7", paint="Ochre"), replace(lot, id="b", code="a-07", paint="Rust"))
    file = tmp_path / "two.html"
    file.write_text(scorecard_html(replace(view, lots=two), {}), encoding="utf-8")
    seen, _ = browse(find(file, "A7"))
    assert [("Ochre" in row, "Rust" in row) for row in shown(seen)] == [(True, False), (False, True)]
    assert flat(seen.by_id("answer").text) == "2 that we tested:"


def test_the_page_is_whole_without_a_script(browse, page, demo_gathered):
    """Without a script each lot stands in the open table, and there is no box that would do nothing."""
    file = page.with_name("plain.html")
    file.write_text(re.sub("<script>.*</script>", "", page.read_text(encoding="utf-8"), flags=re.S), encoding="utf-8")
    seen, console = browse(file.as_uri())
    assert len(shown(seen)) == len(demo_gathered.view.lots)
    assert "open" in seen.by_id("every").attributes
    assert "hidden" in seen.by_id("finder").attributes
    assert console == []


def measured(browse, folder: Path, source: str, width: int, *asked: str) -> list[int]:
    """Return what a page answers to scripts at a width: in a frame, for a window itself is at least 500 px wide."""
    open_ = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", source)
    probe = f"<script>parent.postMessage([{', '.join(asked)}].join(' '), '*')</script></body>"
    file, frame = folder / "framed.html", folder / "frame.html"
    file.write_text(open_.replace("</body>", probe), encoding="utf-8")
    frame.write_text(
        "<script>onmessage = told => { document.title = told.data }</script>"
        f'<iframe src="{file.name}" width="{width}" height="900" style="border:0"></iframe>',
        encoding="utf-8",
    )
    seen, _ = browse(frame.as_uri(), "--window-size=1400,1000", "--virtual-time-budget=20000")
    (title,) = re.findall(r"<title>([\d ]+)</title>", seen.source)
    return [int(one) for one in title.split()]


@pytest.mark.parametrize("width", [360, 768, 1280])
def test_nothing_is_wider_than_the_screen(browse, page, tmp_path, width):
    """At the width of a phone, a tablet and a desk no part sticks out, whatever the names; nothing is loaded."""
    loaded = "performance.getEntriesByType('resource').filter(one => !one.name.startsWith('data:')).length"
    for source in (page.read_text(encoding="utf-8"), scorecard_html(full_view("x" * 400), {})):
        asked = ("document.documentElement.scrollWidth", "innerWidth", loaded)
        wide, window, others = measured(browse, tmp_path, source, width, *asked)
        assert window == width
        assert wide <= window
        assert others == 0


def test_no_column_is_cut_on_a_phone(browse, page, tmp_path):
    """At the width of a phone each table of the demo, prices too, fits without being moved sideways."""
    opened = "[...document.querySelectorAll('details')].map(one => one.open = true).length"
    cut = "[...document.querySelectorAll('.wide')].filter(one => one.scrollWidth > one.clientWidth).length"
    source = page.read_text(encoding="utf-8")
    folded, tables, none = measured(
        browse, tmp_path, source, 360, opened, "document.querySelectorAll('.wide table.prices').length", cut
    )
    assert folded > 0
    assert tables > 9
    assert none == 0


def test_it_prints(browse, page, tmp_path):
    """A4 and letter paper are for the printer to say; the page makes a PDF of several pages."""
    pdf = tmp_path / "card.pdf"
    browse(page.as_uri(), dump=("--no-pdf-header-footer", f"--print-to-pdf={pdf}"))
    assert pdf.read_bytes().startswith(b"%PDF")
    assert len(re.findall(rb"/Type\s*/Page\b", pdf.read_bytes())) > 5


@pytest.mark.parametrize("typed", ["OV K0001", "ovk1", "OV-K 001"])
def test_a_cards_number_that_is_typed_shows_its_lots(browse, tmp_path, typed):
    """However it is typed, the number of a supporter's card shows the lots that lie on it and no other."""
    view = full_view()
    (lot,) = view.lots
    two = (replace(lot, id="a", code="A7", paint="Ochre"), replace(lot, id="b", code="B8", paint="Rust"))
    file = tmp_path / "on_card.html"
    file.write_text(
        scorecard_html(replace(view, lots=two, cards=(PublicCard("OV K0001", ("b",)),)), {}), encoding="utf-8"
    )
    seen, console = browse(find(file, typed))
    (row,) = shown(seen)
    assert "Rust" in row
    assert console == []


@pytest.mark.parametrize(("paper", "size"), [("A4", (210, 297)), ("letter", (215.9, 279.4))])
def test_cards_come_out_to_scale(browse, tmp_path, paper, size):
    """On A4 (ISO 216) and letter (ANSI Y14.1) paper the line says its length truly, and each frame has its size."""
    swatches = tuple(swatch(n, n) for n in range(12))
    cards = [PrintedCard(f"OV K000{n}", swatches, "") for n in range(1, 6)]
    file, pdf = tmp_path / "cards.html", tmp_path / "cards.pdf"
    file.write_text(cards_html(cards, paper), encoding="utf-8")
    browse(file.as_uri(), dump=("--no-pdf-header-footer", f"--print-to-pdf={pdf}"))
    content = pdf.read_bytes()
    assert [(round(across), round(along)) for across, along in papers(content)] == [tuple(map(round, size))] * 2
    found = list(drawn(content))
    lines = [one for one in found if one.kind == "line" and abs(one.across - 50) < 0.2 and one.along == 0]
    assert len(lines) == 2
    frames = [
        one for one in found if one.kind == "box" and abs(one.across - 26.4) < 0.5 and abs(one.along - 13.5) < 0.5
    ]
    assert len(frames) == 5 * 12
    cut = "[...document.querySelectorAll('.swatches')].filter(one => one.scrollWidth > one.clientWidth).length"
    assert measured(browse, tmp_path, file.read_text(encoding="utf-8"), 1280, cut) == [0]


def test_no_barrier_is_found(browse, page, tmp_path):
    """The checks for readers with aids find nothing wrong, in light and dark."""
    axe = os.environ.get(AXE) or missing(f"{AXE} does not say where axe.min.js lies")
    if axe == "none":
        pytest.skip("axe-core could not be fetched")
    run = (
        "axe.run().then(found => { document.body.setAttribute('data-found', JSON.stringify("
        "found.violations.map(one => [one.id, one.nodes.length, one.nodes[0].html.slice(0, 120)]))) })"
    )
    source = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page.read_text(encoding="utf-8"))
    script = Path(str(axe)).read_text(encoding="utf-8")
    file = tmp_path / "axe.html"
    scripts = f"<script>{script}</script><script>{run}</script></body>"
    file.write_text(source.replace("</body>", scripts), encoding="utf-8")
    for flags in ((), ("--blink-settings=preferredColorScheme=0",)):
        seen, _ = browse(file.as_uri(), "--virtual-time-budget=60000", *flags)
        (body,) = seen.named("body")
        assert body.attributes.get("data-found") == "[]"
