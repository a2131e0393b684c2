"""Printed run sheets: codes only while blind, both papers, and no power for text of users."""

import re
import subprocess
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from qcledger.bench import facts, wishes
from qcledger.records import Session
from qcledger.report.sheet import about, sheet_text
from qcledger.report.sheet_print import ACROSS, DOWN, GREYS, WHEN, Paper, key_sheet, run_sheet, strips
from tests.bench_table.given import MAKERS, new_ledger, proposed, search_shortly
from tests.conftest import need_tool
from tests.hostile import HOSTILE
from tests.small import PAINTS


class Seen(HTMLParser):
    """The tags, classes and text of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.classes: list[str] = []
        self.text: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        """Keep a tag and its classes."""
        self.tags.append(tag)
        self.classes += (dict(attrs).get("class") or "").split()

    def handle_data(self, data):
        """Keep text."""
        self.text.append(data)


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    """Return the facts and stages of a blind sheet that was kept."""
    folder = tmp_path_factory.mktemp("printed")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("QCLEDGER_HOME", str(folder))
        search_shortly(patch)
        with new_ledger(folder) as ledger:
            proposal = proposed(ledger, control="OV 0023", blinding="by another person")
            wishes.keep(proposal, ledger)
            return facts.of_session(ledger, ledger.get(Session, proposal.laid.sessions[0].id))


@pytest.mark.parametrize("paper", list(Paper))
def test_a_sheet_is_printed_with_codes_in_cells(sheet, paper):
    """3 x 8 cells, a grey strip along the long side, four corners of which one is the odd one; on A4 or letter."""
    told, stages = sheet
    page = run_sheet(told, stages, paper)
    seen = Seen(page)
    assert f"size: {paper} portrait" in page
    assert seen.classes.count("cell") == ACROSS * DOWN == 24
    assert seen.classes.count("corner") == 4
    assert page.count(".corner.d { right: 0; bottom: 0; border-width: 0 2mm 2mm 0; }") == 1
    assert seen.tags.count("i") == GREYS
    codes = [" ".join(line.row.code) for line in stages[0].lines]
    assert all(seen.text.count(code) == len(stages) + 1 for code in codes)  # a table a stage, and the cells
    assert "1 Rewetting difficulty; 2 Work-up froth" in page
    assert page.count("rest your eyes</td>") == len(stages)


def test_every_caution_stands_once_before_the_sheet_begins_and_a_line_at_each_stage(sheet):
    """The union over the sheet, so that none tells a code; what a stage's tests ask for stands there once more."""
    told, stages = sheet
    names = ["a paint"] * len(stages[0].lines)
    assert stages[0].cautions
    seen, worked = Seen(run_sheet(told, stages, Paper.A4)), [stage for stage in stages if stage.criteria]
    assert all(seen.text.count(f"! {one}") == 1 for one in stages[0].cautions)
    lines = {stage.stage: {stage.to_mind.line(one) for one in stage.criteria.values()} - {""} for stage in worked}
    assert seen.classes.count("caution") == len(stages[0].cautions) + sum(map(bool, lines.values()))
    assert Seen(key_sheet(told, stages[0], names, Paper.A4)).classes.count("caution") == len(stages[0].cautions)


def test_the_grades_of_each_criterion_stand_beside_the_table_to_fill(sheet):
    """Each anchor by its digit with the fault line marked, each choice by its number, behind its column's number."""
    told, stages = sheet
    text = " ".join(Seen(run_sheet(told, stages, Paper.A4)).text)
    for stage in stages:
        for number, one in enumerate(stage.criteria.values(), 1):
            assert f"{number} {one.title}" in text
            for anchor in one.anchors.values():
                assert f"\N{NO-BREAK SPACE}{anchor}" in text
            for place, word in enumerate(one.choices, 1):
                assert f"{place} \N{NO-BREAK SPACE}{word}: {one.choices[word]}" in text
    lines = sum(one.fault_line is not None for stage in stages for one in stage.criteria.values())
    assert text.count("(a fault from here on)") == lines > 0


def test_what_was_noted_when_the_sheet_was_laid_out_stands_in_the_room_for_it(sheet):
    """Water noted for a stage is printed on its line, and what nobody noted has room to be written."""
    told, stages = sheet
    row = replace(stages[0].stage_row, water="rain water", temperature_c=21.5)
    page = Seen(run_sheet(told, [stages[0].with_stage(row), *stages[1:]], Paper.A4)).text
    assert "water: rain water" in page
    assert "temperature, °C: 21.5" in page
    assert page.count("humidity, %") == sum(bool(stage.criteria) for stage in stages)


def test_while_blind_nothing_but_codes_is_printed_or_told(sheet):
    """No sticker, maker, paint or format on the run sheet, in its words, or in its text."""
    told, stages = sheet
    texts = [run_sheet(told, stages, Paper.A4), sheet_text(told, stages), *about(told)]
    for name in ("OV 00", "half pan", "sp0", *MAKERS, *(name for name, _ in PAINTS)):
        assert not any(name in text for text in texts), name
    assert max(map(len, sheet_text(told, stages).splitlines())) <= 80


def test_the_key_tells_who_prepares_it_everything_by_sticker(sheet):
    """In the order of the stickers, not of the sheet; a specimen that comes twice stands there twice."""
    told, stages = sheet
    names = [f"maker of {line.specimen.sticker}" for line in stages[0].lines]
    cells = [text for text in Seen(key_sheet(told, stages[0], names, Paper.A4)).text if text.strip()]
    stickers = [text.partition(",")[0] for text in cells if text.startswith("OV ")]
    assert stickers == sorted(line.specimen.sticker for line in stages[0].lines)
    row = next(line for line in stages[0].lines if stickers.count(line.specimen.sticker) == 1)
    at = cells.index(row.specimen.sticker)
    assert cells[at + 1] == f"maker of {row.specimen.sticker}"
    assert " ".join(row.row.code) in (cells[at + 2], cells[at + 5])


def test_strips_carry_sticker_and_code_and_no_name(sheet):
    told, stages = sheet
    seen = Seen(strips(told, stages[0], Paper.LETTER))
    assert seen.classes.count("strip") == len(stages[0].lines)
    assert not any(maker in text for text in seen.text for maker in MAKERS)


def test_no_two_codes_stand_on_one_pan(sheet):
    """What comes twice has a well for each code, and the paper says how; what comes once is its piece alone."""
    told, stages = sheet
    often = Counter(line.specimen.sticker for line in stages[0].lines)
    assert max(often.values()) > 1
    names = ["a paint"] * len(stages[0].lines)
    for page in (key_sheet(told, stages[0], names, Paper.A4), strips(told, stages[0], Paper.A4)):
        pans = [text for text in Seen(page).text if re.fullmatch(r"OV \d{4}(, part \d)?", text)]
        wells = {f"{one}, part {n}" for one, times in often.items() if times > 1 for n in range(1, times + 1)}
        assert sorted(pans) == sorted(wells | {one for one, times in often.items() if times == 1})
        assert "cut a pan in two" in page


def test_each_well_keeps_its_own_code(sheet):
    """The codes of a piece that comes twice stand beside its wells, each once."""
    told, stages = sheet
    page = Seen(strips(told, stages[0], Paper.A4)).text
    twice = next(
        one.specimen.sticker
        for one in stages[0].lines
        if [line.specimen.id for line in stages[0].lines].count(one.specimen.id) > 1
    )
    codes = {page[page.index(f"{twice}, part {n}") + 1] for n in (1, 2)}
    assert codes == {" ".join(line.row.code) for line in stages[0].lines if line.specimen.sticker == twice}


def test_each_page_of_a_stage_has_its_head_and_its_conditions_have_room(sheet):
    """What is a table's head stands on every page it runs over; each stage asks what it was worked under."""
    told, stages = sheet
    seen = Seen(run_sheet(told, stages, Paper.A4))
    worked = [stage for stage in stages if stage.criteria]
    assert seen.tags.count("thead") == seen.tags.count("table") == 1 + 2 * len(worked)
    for stage in worked:
        here = f"Run sheet {told.session.code}: {stage.stage}"
        assert seen.text.count(here) == 2  # above, and in the head
        assert seen.text.count(f"{here}, what the grades mean") == 1
    for one in (*WHEN, "water", "brush", "lamp", "lux", "temperature, °C", "humidity, %"):
        assert seen.text.count(one) == len(worked)


@pytest.mark.parametrize("text", HOSTILE[::4])
def test_text_of_users_stays_text(sheet, text):
    """No tag, attribute or script comes of a title, paper, tester or name, whatever it says."""
    told, stages = sheet
    hostile = replace(told, comparison=text, paper=text, session=replace(told.session, tester=text, note=text))
    tags = set(Seen(run_sheet(told, stages, Paper.A4)).tags)
    assert set(Seen(run_sheet(hostile, stages, Paper.A4)).tags) == tags
    names = [text] * len(stages[0].lines)
    assert set(Seen(key_sheet(hostile, stages[0], names, Paper.A4)).tags) <= tags


FLAGS = ("--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer")


def test_a_sheet_of_22_places_prints_on_eight_pages_at_most(sheet, tmp_path):
    """All tests of watercolours at three stages, by a browser, on either paper; fonts decide over the eighth page."""
    told, stages = sheet
    full = [replace(stage, lines=(stages[0].lines * 22)[:22]) for stage in stages]
    for paper in Paper:
        page, printed = tmp_path / f"{paper}.html", tmp_path / f"{paper}.pdf"
        page.write_text(run_sheet(told, full, paper), encoding="utf-8")
        flags = (*FLAGS, f"--user-data-dir={tmp_path}", f"--print-to-pdf={printed}")
        subprocess.run([need_tool("chromium"), *flags, page.as_uri()], check=True, capture_output=True)
        assert 5 <= len(re.findall(rb"/Type\s*/Page\b", printed.read_bytes())) <= 8
