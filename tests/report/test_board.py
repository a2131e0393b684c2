"""The board: the same lines for pages and text, and no sum over criteria anywhere."""

from dataclasses import fields, replace
from types import SimpleNamespace

from qcledger.findings import read
from qcledger.findings.pooled import QUANTILES
from qcledger.report import findings_text
from qcledger.report.board import Board, BoardCell, BoardLine, BoardScope, board_of, criteria_of, drawn_from
from qcledger.report.strips import FEW, PLAIN, SHADED, Curve
from qcledger.vocab import MARKS, Format, Occasion, Role, Standing
from tests.findings.made import FROTH, HALF, TUBE, confirming, criterion, field, only, paints, row

GRAIN = criterion("grain", fault_line=None)
CAKED = criterion("caked")
ROWS = [
    *paints("A", bad=4),
    *confirming("A"),
    *paints("A", formats=(TUBE,)),
    *field(),
    *[row(maker="B", criterion="caked", grade=grade) for grade in (0, 5)],
    *[row(maker="C", criterion="grain", grade=grade) for grade in (1, 2, 4)],
    row(maker="D", criterion="caked", grade=None, not_testable=True),
]
HEADINGS = ("Froth: 10 of 58, 17 %: half pan 10/50", "Caked: 1 of 2, 50 %: half pan 1/2")
FOUND = read(ROWS, only(FROTH, GRAIN, CAKED))


def board(criterion=None, maker=None, ink=SHADED):
    return board_of(FOUND, BoardScope(criterion, maker), 21, ink)


def test_makers_down_formats_across():
    """One criterion: every maker by name, a cell for each format that was tested, blank where one was not."""
    shown = board("froth")
    assert [line.name for line in shown.lines] == [f"Maker {letter}" for letter in "ABCDEF"]
    assert shown.formats == (Format.TUBE, Format.HALF_PAN)
    first, second = shown.lines[0].cells, shown.lines[1].cells
    assert (first[1].counts, first[1].mark, first[1].extent) == ("10/10", "///", "maker's format")
    assert first[1].told == "settled: maker's format"
    assert first[1].strip.endswith("█")
    assert (first[0].counts, second[0].words, second[0].mark) == ("0/8", "not tested", "")


def test_a_cell_has_its_mark_and_no_cell_a_verdict_of_its_own():
    """Marks are those of the vocabulary, and the standing's word is beside each."""
    for line in board().lines:
        for cell in line.cells:
            assert cell.mark == (MARKS[cell.standing] if cell.standing else "")
            assert not cell.standing or cell.told.startswith(cell.standing)


def test_what_is_only_pointed_to_has_a_question_mark():
    """Not settled, but pointing to a specimen."""
    (cell,) = board("caked").lines[0].cells
    assert (cell.standing, cell.extent, cell.told) == (
        Standing.OPEN,
        "specimen?",
        "open: specimen?",
    )


def test_what_could_not_be_tested_is_not_nothing():
    """A maker whose only specimen was not testable says so."""
    assert board("caked").lines[1].cells[0].words == "not testable"


def test_all_criteria_show_makers_with_a_fault_below_each():
    """A heading has all makers' counts and the formats with faults; makers without a fault are left out."""
    shown = board()
    names = [line.name for line in shown.lines]
    froth, caked = (names.index(name) for name in HEADINGS)
    assert (names[froth + 1], names[caked + 1]) == ("Maker A", "Maker B")
    assert names[caked + 2] == "Maker D half pan, not counted: 1 not testable."
    assert len(names) == 5
    assert shown.lines[froth].maker is None
    assert shown.lines[froth].cells == ()
    assert shown.title == "all criteria"


def test_what_is_apart_stands_below_its_criterion_as_the_command_lists_it():
    """Older notes alone: the heading says that nothing counts yet, and never none of 0; each cell has its line."""
    notes = [
        row(maker=maker, grade=5, occasion=Occasion.OLDER_NOTES, session=None, role=Role.SPECIMEN) for maker in "AB"
    ]
    found = read([*notes, *field("CD", criterion="caked")], only(FROTH, CAKED))
    names = [line.name for line in board_of(found, BoardScope(), 21, SHADED).lines]
    assert names[names.index("Froth: nothing that counts yet") + 1 :][:2] == [
        "Maker A half pan, not counted: 1 in older notes, 1 faulty.",
        "Maker B half pan, not counted: 1 in older notes, 1 faulty.",
    ]
    assert "none of 0" not in " ".join(names)
    assert ("froth", "Froth, nothing that counts yet") in criteria_of(found)
    text = findings_text(found)
    assert all(name in text for name in names[names.index("Froth: nothing that counts yet") + 1 :][:2])


def test_a_makers_card_has_each_criterion_and_no_sum():
    """Criteria down, traits after faults; nothing on a board adds criteria up."""
    card = board(maker="C")
    assert [line.name for line in card.lines] == ["Froth", "Grain"]
    assert card.lines[1].cells[0].words == "median 2, range 1 to 4"
    assert card.title == "Maker C"
    named = {one.name for kind in (Board, BoardLine, BoardCell) for one in fields(kind)}
    assert not named & {"score", "total", "sum", "rank", "stars", "rating"}
    assert not any("%" in part for part in card.about)


def test_the_mark_and_the_scale():
    """For one criterion the scale has the mark of all makers' rate; over several there is no one rate to mark."""
    assert board("froth").axis == "0  ┆     50     100 %"
    assert board("froth").about[0] == "all makers 17 % at the mark"
    assert board().axis == board(maker="A").axis == "0        50     100 %"
    assert board("froth", ink=PLAIN).label.isascii()
    assert "own counts" in board("froth").label


def test_a_trait_has_its_own_counts_and_nothing_about_strips():
    """Its title counts who and what was looked at for it; there is no scale, and the label says what stands there."""
    grain = board("grain")
    assert (grain.title, grain.about, grain.axis) == ("Grain", ("1 maker", "3 specimens"), "")
    assert "median grade" in grain.label
    assert "strip:" not in grain.label


def test_the_format_with_most_faults_comes_first_where_one_fits():
    """The tester sees the faults without a key."""
    shown = board("froth")
    assert shown.formats[shown.busiest] == HALF


def test_criteria_are_listed_faults_first():
    """What may be chosen, with counts over all makers."""
    *faults, last = criteria_of(FOUND)
    assert dict(faults) == {"froth": "Froth, 10 of 58 specimens", "caked": "Caked, 1 of 2 specimens"}
    assert last == ("grain", "Grain, a trait")


def test_an_empty_board():
    """Without findings there are no lines and no formats."""
    shown = board_of(read([], only()), BoardScope(), 21, SHADED)
    assert (shown.lines, shown.formats, shown.busiest) == ((), (), 0)


def test_a_cell_of_few_specimens_is_drawn_by_its_own_counts():
    """Pooled, most of it would be borrowed: one sound specimen must not look as certain as the other makers do."""
    few = next(one for one in FOUND.findings if one.counts.tested < FEW and one.counts.tested)
    many = next(one for one in FOUND.findings if one.counts.tested >= FEW)
    for one, pooled in ((few, False), (many, True)):
        reach = SimpleNamespace(curve=tuple(n / 100 for n in range(len(QUANTILES))))
        known = SimpleNamespace(reach=lambda _, reach=reach: reach)
        assert isinstance(drawn_from(replace(one, pooled=known)), Curve) is pooled
