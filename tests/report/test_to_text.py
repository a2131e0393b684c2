"""Findings as text: 80 columns, what reaches some extent first."""

from dataclasses import replace
from datetime import timedelta

import pytest

from qcledger.findings import read
from qcledger.report import findings_text, why_text
from qcledger.report.board import shared_words
from qcledger.report.layout import columns, cut, paragraph, width_of
from qcledger.report.strips import PLAIN
from qcledger.report.to_text import NO_CODE, short_standing
from qcledger.vocab import MARKS, Doubt, Severity, Source, Standing
from tests.findings.made import HALF, TUBE, confirming, criterion, field, only, paints, row
from tests.hostile import HOSTILE

RICH = read(
    [
        *paints("A", bad=4),
        *confirming("A"),
        *field(),
        *[
            row(maker="B", paint="Blue", lot=lot, grade=5 * (lot == "Q2"))
            for lot in ("Q1", "Q2", "Q3")
            for _ in "123"
        ],
        row(maker="C", grade=5, source=Source.GIFT),
    ],
    only(),
)


def test_blind_sessions_are_said_to_be_left_out():
    """In one sentence, above the findings or alone."""
    one, several = ("S05",), ("S05", "S06")
    empty = replace(read([], only()), blind=one)
    assert findings_text(empty).startswith(
        "Blind session S05 is left out until it is closed.\nNothing has been graded"
    )
    told = findings_text(replace(RICH, blind=several)).splitlines()
    assert "Blind sessions S05 and S06 are left out until they are closed." in told[:8]
    assert "left out until" not in findings_text(RICH)


def test_every_line_fits_80_columns():
    """No line is longer, whatever is printed."""
    for text in (findings_text(RICH), findings_text(RICH, full=True), why_text(RICH.findings)):
        assert max(map(width_of, text.splitlines())) <= 80


def test_what_reaches_some_extent_comes_first():
    """The claims stand above the first table, widest first, with their counts."""
    text = findings_text(RICH)
    reached, _, tables = text.partition("all makers:")
    assert reached.index("/// froth: this maker's half pans") < reached.index("//- froth: lot Q2 of Blue, Maker B")
    counts = "8 of 8 planned specimens faulty, 2 of 2 bought to confirm, in 9 of 9 lots, over 4 of 4 paints."
    assert counts in " ".join(reached.split())
    assert "Maker A      half pan 10/10" in tables


def test_the_header_tells_what_grades_and_marks_mean():
    """A fault grade is explained, and so is each mark, beside its word."""
    text = findings_text(RICH)
    assert "fault grade: 0 none, 5 worst" in text
    for standing in Standing:
        # What passes by itself is explained only while something is in it.
        assert (f"{MARKS[standing]} {standing}" in text) is (standing is not Standing.CHECKING)


def test_a_wide_claim_is_told_once():
    """A pigment's nature stands once above the tables, not once a maker."""
    rows = field("ABCDE", bad=4, pigments=("PR101",)) + field("ABCDE", pigments=("PY42", "PB29"))
    text = findings_text(read(rows, only()))
    assert text.count("pigment PR101") == 1
    assert "10 of 10 specimens faulty; 5 of 5 makers show it." in text


def test_sound_cells_are_gathered_unless_asked_for():
    """By default only cells with a fault get a line; asked for, each does."""
    short, full = findings_text(RICH), findings_text(RICH, full=True)
    assert "--- none found: Maker C half pan 0/8; Maker D half pan 0/8" in short
    assert "  Maker D      half pan 0/8" not in short
    assert "  Maker D      half pan 0/8" in full
    few = findings_text(read([row(grade=5), row(maker="B"), row(maker="C"), row(maker="C")], only()))
    assert "-?- open: 2 without a fault, 0/1 to 0/2 tested" in few


def test_criteria_without_any_fault_share_a_line():
    """What nobody showed is told in one paragraph, with how many were looked at."""
    text = findings_text(read(field(), only()))
    assert text.rstrip().endswith("No fault seen: Froth (none of 40).")


def test_what_is_shared_reads_as_nobodys():
    """A format that is like that at most makers is told as shared on each maker's row, and what that means above."""
    text = findings_text(read(field("ABCDE", bad=4) + field("ABCDE", formats=(TUBE,)), only()))
    lines = [line for line in text.splitlines() if "half pan 8/8" in line]
    assert len(lines) == 5
    assert all(line.endswith("/// settled: shared format") for line in lines)
    assert shared_words([]) in " ".join(text.split())
    assert "shared" not in findings_text(RICH)


def test_a_number_keeps_its_sign():
    """No line begins with the sign of the number that ends the line before."""
    for width in range(12, 40):
        lines = paragraph("none of 185 specimens, 2 %; up to 100 %, or 97 % if faults come by the lot", width=width)
        assert not any(line.startswith("%") for line in lines)
        assert max(map(len, lines)) <= width


def test_gifts_are_told_apart():
    """A faulty gift is beside the table, not in it."""
    assert "Maker C half pan, not counted: 1 as a gift, 1 faulty." in findings_text(RICH)


def test_what_was_set_aside_is_counted_in_one_line():
    """Below the tables, with the command that names it; nothing is said where nothing was set aside."""
    doubtful = [
        row(maker="C", doubt=Doubt.EARLY),
        row(maker="D", doubt=Doubt.SECOND),
        row(maker="D", doubt=Doubt.LATE),
    ]
    for full in (False, True):
        told = " ".join(findings_text(read([*field(), *doubtful], only()), full=full).split())
        assert told.endswith("for its trial): three results; `qcledger verify` says why and of which specimens.")
        assert "Set aside" not in findings_text(RICH, full=full)


def test_recurrence_is_told_where_there_were_several_comparisons():
    """Seen in two of three comparisons, since the first trial."""
    rows = [
        row(lot=lot, grade=5 * (lot == "Q2"), comparison=f"c{n}") for lot in ("Q1", "Q2", "Q3") for n in (1, 2, 3)
    ]
    assert "seen in 3 of 3 comparisons since " in findings_text(read(rows, only()))


def test_traits_are_tables_only_when_asked_for():
    """A trait has medians in full text, and its title otherwise."""
    grain = criterion("grain", fault_line=None)
    found = read([row(criterion="grain", grade=grade) for grade in (2, 3, 5)], only(grain))
    assert "Traits, a position and not a merit (--criterion shows one): Grain." in findings_text(found)
    assert "Maker A      half pan    3       3 2-5" in findings_text(found, full=True)


def test_nothing_graded():
    """An empty ledger says so."""
    assert findings_text(read([], only())) == "Nothing has been graded yet, so there are no findings.\n"


def test_short_standings():
    """Mark, word and extent fit a table's last column; what is only pointed to carries a question mark."""
    told = {short_standing(one) for one in RICH.findings}
    assert {"/// settled: maker's format", "//- to confirm: lot", "--- none found"} <= told
    assert short_standing(read([row(grade=5)], only()).findings[0]) == "-?- open: specimen?"
    assert max(map(len, told)) <= 31


def test_why_tells_everything_behind_a_finding():
    """Sentence, lots with sellers and sessions, each check, rates, and what would settle it."""
    found = read(paints("A", bad=4) + field(), only()).only(maker="A")
    text = " ".join(why_text(found.findings).split())
    for part in (
        "//- to confirm: this maker's half pans",
        "this is open.",
        "For you only: the counts so far",
        "Paint PR101 L1 ..........░░░░░░▒▒▒▓█ 1/1",
        "seller of P0",
        "lacking: bought to confirm, none (needed 2 or more faulty, of another lot from another seller",
        "Share of faulty ones 100 %, 68 % to 100 % counting specimens (Wilson)",
        "Two specimens of another lot",
    ):
        assert part in text, part


def test_strips_are_printed_where_each_cell_is_asked_for():
    """Strips, what they are and their scale stand below the table, in ASCII where a terminal has no more."""
    text = findings_text(RICH, full=True)
    assert "strip: own counts; darker = likelier; ends = 95 % limits; ┆ all makers" in text
    assert "░" in text
    assert "50               100 %" in text
    assert "░" not in findings_text(RICH)
    for plain in (findings_text(RICH, full=True, ink=PLAIN), why_text(RICH.findings, PLAIN)):
        assert plain.isascii()
        assert "=#" in plain


def test_why_of_sound_cells_is_short():
    """Cells without a fault are told after the others, a paragraph each, what would settle them in it."""
    found = read(paints("A", bad=4) + paints("A", formats=(TUBE,)) + field(), only()).only(maker="A")
    text = why_text(found.findings)
    assert text.index("Without a fault") > text.index("to confirm")
    told = " ".join(text.split())
    assert "Maker A, tube, froth: none of 8 specimens" in told
    assert "What would settle it, either way: six more lots of its tubes." in told


def test_a_critical_fault_of_a_later_look_is_no_sound_cell():
    """Neither the table nor --why counts a cell as without a fault where a later look showed one that may harm."""
    first = row()
    again = replace(first, observation="again", trial="again", grade=5, trial_at=first.trial_at + timedelta(days=3))
    found = read([first, again, *field()], only(criterion(severity=Severity.CRITICAL)))
    assert "No fault seen" not in findings_text(found)
    assert "/// settled: specimen" in findings_text(found)
    assert "Without a fault" not in why_text(found.only(maker="A").findings)


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_are_text(name):
    """Whatever a maker, paint, lot or seller is called, lines fit and nothing steers the terminal."""
    rows = [
        row(maker_name=name, paint_name=name, lot_code=name or None, seller=name, grade=grade) for grade in (5, 0)
    ]
    found = read(rows, only())
    for text in (findings_text(found, full=True), why_text(found.findings)):
        assert max(map(width_of, text.splitlines())) <= 80
        assert not [letter for letter in text if letter != "\n" and not letter.isprintable() and ord(letter) < 0x300]


def test_columns_cut_and_fill():
    """Cells are cut with an ellipsis, wide letters take two columns, a negative width sets to the right."""
    assert columns([("abcdef", "7")], (4, -3)) == ["  abc…   7"]
    assert cut("漆器の赤", 5) == "漆器…"
    assert width_of("e\u0301") == 1
    assert cut("abc", 0) == ""


def test_severity_is_told():
    """Each table is headed by the criterion's title and severity."""
    found = read([row(grade=5)], only(criterion(severity=Severity.CRITICAL)))
    assert "Froth (critical); all makers: 1 of 1 specimens, 100 %; one lot" in findings_text(found)
    assert HALF in findings_text(found)


def test_a_trait_alone_heads_the_specimens_it_rests_on():
    """Findings of a trait name how many specimens were graded, not none."""
    grain = criterion("grain", fault_line=None)
    rows = [row(criterion="grain", grade=2) for _ in "123"] + [row(criterion="grain", maker="B", grade=1)]
    assert findings_text(read(rows, only(grain))).startswith("Findings: 1 criterion, two makers, four specimens\n")


def test_a_cell_without_a_batch_code_says_so_in_place_of_its_lots():
    """Neither 0 of 0 lots nor a blank; what it means stands above, and nowhere where each has a code."""
    text = findings_text(read([row(lot=None, grade=grade) for grade in (5, 5, 0)], only()), full=True)
    assert "Maker A      half pan 2/3    no code" in text
    assert NO_CODE in " ".join(text.split())
    assert NO_CODE not in " ".join(findings_text(RICH, full=True).split())
