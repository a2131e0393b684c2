"""Printed run sheets: codes only while blind, both papers, and no power for text of users."""

import re
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from qcledger.bench import facts, wishes
from qcledger.records import Session
from qcledger.report.sheet import about, sheet_text
from qcledger.report.sheet_print import ACROSS, DOWN, GREYS, WHEN, Paper, key_sheet, run_sheet, strips
from tests.bench_table.given import MAKERS, new_ledger, proposed, search_shortly
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


def test_every_caution_of_the_sheet_stands_at_each_stage_and_on_the_key(sheet):
    """The paper beside the hand says what the screen says: the union over the sheet, so that none tells a code."""
    told, stages = sheet
    names = ["a paint"] * len(stages[0].lines)
    assert stages[0].cautions
    assert Seen(run_sheet(told, stages, Paper.A4)).classes.count("caution") == sum(
        len(stage.cautions) for stage in stages if stage.criteria
    )
    assert Seen(key_sheet(told, stages[0], names, Paper.A4)).classes.count("caution") == len(stages[0].cautions)


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
    assert seen.tags.count("thead") == len(worked)
    for stage in worked:
        assert seen.text.count(f"Run sheet {told.session.code}: {stage.stage}") == 2  # above, and in the head
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
