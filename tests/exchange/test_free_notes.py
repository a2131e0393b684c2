"""Words that are no grades: whole pieces in one cell, days below their month, sentences kept as older notes."""

import pytest

from qcledger.errors import BadInput
from qcledger.exchange import carry_out, plan_mapped, propose
from qcledger.exchange.columnmap import parse
from qcledger.exchange.days import day_told_by, is_month, of_month
from qcledger.exchange.outlook import look_ahead
from qcledger.exchange.wholepiece import ToldPiece, piece_told_by, tells_pieces
from qcledger.ledger import Ledger
from qcledger.records import Lot, Observation, Paint, Parcel, Specimen, Trial
from qcledger.settings import Settings
from qcledger.vocab import Occasion

DIARY = """\
Datum;Was ich hatte;Notizen
März 2024;;
Sa 2;Drumlaw Tiefes Rosa, halber Napf (Charge 77 B);"Klebt am Pinsel.
Riecht nach Nelken."
So. 3;Halcyre Ocker, 5 ml Tube;Trocknet matt auf.
Mai 2024;;
12;Drumlaw Ocker, 1/2 Napf (Charge 9);Nichts Besonderes.
"""
"""A diary of another language: months above days, pieces in one cell, a note of two lines."""


@pytest.fixture
def ledger(tmp_path):
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane", zone="Etc/UTC") as made:
        yield made


def test_a_diary_comes_in_by_the_proposed_map(ledger, tmp_path):
    """Of a diary the proposed map asks for what only its keeper knows: what a word for a format means."""
    path = tmp_path / "diary.csv"
    path.write_text(DIARY, encoding="utf-8")
    told = propose(path, Settings())
    assert "month_above: Datum" in told.splitlines()
    assert "    split: [maker, paint, format, lot]" in told.splitlines()
    assert "here are 2: Drumlaw, Halcyre" in told
    assert "?" not in told.partition("\nmonth_above")[2]
    plan = plan_mapped(ledger, path, parse(told, "map.yaml"), settings=Settings())
    assert "Notizen: kept in words as older notes; no grade is taken from them (3 cells)" in plan.guesses
    carry_out(ledger, plan)
    assert sorted(one.name for one in ledger.rows(Paint)) == ["Ocker", "Ocker", "Tiefes Rosa"]
    assert sorted(one.code for one in ledger.rows(Lot)) == ["77 B", "9"]
    assert sorted(one.bought_on.isoformat() for one in ledger.rows(Parcel)) == [
        "2024-03-02",
        "2024-03-03",
        "2024-05-12",
    ]
    notes = {ledger.day_of(one, one.at).isoformat(): (one.note, one.occasion) for one in ledger.rows(Trial)}
    assert notes["2024-03-02"] == ("Klebt am Pinsel. Riecht nach Nelken.", Occasion.OLDER_NOTES)
    assert {str(one.format): one.nominal_ml for one in ledger.rows(Specimen)}["tube"] == 5
    assert ledger.rows(Observation) == []


def test_cells_of_several_lines_are_told_by_the_row_they_stand_in(ledger, tmp_path):
    """A cell is named as spreadsheet programs name it, though cells above it have several lines."""
    path, map_file = tmp_path / "diary.csv", tmp_path / "map.yaml"
    path.write_text(DIARY, encoding="utf-8")
    map_file.write_text(propose(path, Settings()), encoding="utf-8")
    told = look_ahead(ledger, path, map_file, settings=Settings()).rows
    assert [row.line for row in told] == [
        "row 3: new, Drumlaw Tiefes Rosa half pan 77 B",
        "row 4: new, Halcyre Ocker tube",
        "row 6: new, Drumlaw Ocker half pan 9",
        "row 2: left out",
        "row 5: left out",
    ]
    assert told[2].spot(told[2].cells[0]) == "A6"
    assert told[3].reasons == ("A2 'März 2024' is left out: it says of which month the days below it are",)


@pytest.mark.parametrize(
    ("cell", "told"),
    [
        ("MAKER Deep Rose, half pan (lot 7)", ToldPiece("MAKER", "Deep Rose", "half pan", "7")),
        ("MAKER Rose, deep, 14 ml tube", ToldPiece("MAKER", "Rose, deep", "14 ml tube", "")),
        ("MAKER Rose, tube [Batch: 9/2 A]", ToldPiece("MAKER", "Rose", "tube", "9/2 A")),
        ("MAKER Rose, tube (from a friend)", ToldPiece("MAKER", "Rose", "tube (from a friend)", "")),
        ("MAKER Rose half pan", None),
        ("MAKER, half pan", None),
    ],
)
def test_a_piece_in_one_cell(cell, told):
    """Maker, paint, format and lot are told apart; what stands in brackets is a lot only where it says so."""
    assert piece_told_by(cell) == told


def test_a_column_of_pieces_is_known_by_its_formats():
    """Most cells must end in a format by its word or size; a list of colours with commas is none."""
    assert tells_pieces(["MAKER Rose, half pan", "MAKER Ochre, 5 ml", "MAKER Red, tube (lot 1)"])
    assert not tells_pieces(["Rose, pale", "Ochre, deep red", "a b, c"])
    assert not tells_pieces([])


def test_a_piece_told_otherwise_is_refused(ledger, tmp_path):
    """A cell that does not tell a piece so is refused with its place, and nothing is stored."""
    path = tmp_path / "old.csv"
    path.write_text("When,What\n2024-03-02,Drumlaw Rose\n", encoding="utf-8")
    text = "new_makers: true\nconstants: {seller: x}\ncolumns:\n  When: bought_on\n"
    text += "  What: {split: [maker, paint, format, lot]}\n"
    with pytest.raises(BadInput, match="What: found 'Drumlaw Rose'; allowed: a piece such as MAKER"):
        plan_mapped(ledger, path, parse(text, "map.yaml"), settings=Settings())
    with pytest.raises(BadInput, match=r"\[maker, paint, format, lot\]"):
        parse(text.replace("paint, format, lot", "paint, lot"), "map.yaml")


@pytest.mark.parametrize(
    ("cell", "day"),
    [
        ("Fri 18 April 2025", "2025-04-18"),
        ("ven. 18 avril 2025", "2025-04-18"),
        ("Freitag, 18.4.2025", "2025-04-18"),
        ("Mar 2025", "2025-03-01"),
        ("mar. 18 mars 2025", "2025-03-18"),
    ],
)
def test_the_day_of_the_week_may_stand_before_a_day(cell, day):
    """It is read in several languages; a month is still a month."""
    assert day_told_by(cell, "day month year", "here").day.isoformat() == day


def test_another_day_of_the_week_is_refused():
    """A day that is no Friday is not taken for one: day or name is a slip."""
    with pytest.raises(BadInput, match="found 'Fri 19 April 2025'; allowed: a day and its name: 2025-04-19 is a Sat"):
        day_told_by("Fri 19 April 2025", "day month year", "here")


@pytest.mark.parametrize(
    ("cell", "so"), [("April 2025", True), ("9 April 2025", False), ("April", False), ("x", False)]
)
def test_a_line_of_a_month_names_month_and_year(cell, so):
    """A month alone or a whole day says of no other day which month it is."""
    assert is_month(cell) is so


def test_only_a_day_without_its_month_gets_one():
    """A day written out keeps its month; words that are no day stay."""
    assert of_month("Fri 18", "April 2025") == "Fri 18 April 2025"
    assert of_month("18.", "April 2025") == "18 April 2025"
    assert of_month("18 May 2024", "April 2025") == "18 May 2024"
    assert of_month("later", "April 2025") == "later"


GRADED = (
    "Maker,Paint,Bought,Froth\nDrumlaw,Rose,2024-03-02,4\nDrumlaw,Ochre,2024-03-02,{}\nDrumlaw,Red,2024-03-02,2\n"
)
GRADED_MAP = """\
new_makers: true
constants: {format: tube, seller: not noted, tested_on: 2025-06-30}
columns:
  Maker: maker
  Paint: paint
  Bought: bought_on
  Froth: {criterion: froth_amount, others: note}
"""


def test_words_among_grades_are_kept_and_said_so(ledger, tmp_path):
    """Words that are no result stay with their specimen as an older note, with their heading, and are told."""
    path, map_file = tmp_path / "old.csv", tmp_path / "map.yaml"
    path.write_text(GRADED.format("spat all over the sheet"), encoding="utf-8")
    map_file.write_text(GRADED_MAP, encoding="utf-8")
    look = look_ahead(ledger, path, map_file, settings=Settings())
    assert "Froth: words that are no result of it are kept as older notes (1 cell)" in look.granted
    assert "Froth 'spat all over the sheet': kept in words" in look.rows[1].read
    carry_out(ledger, look.plan)
    assert sorted(one.grade for one in ledger.rows(Observation)) == [2, 4]
    assert [one.note for one in ledger.rows(Trial) if one.note] == ["Froth: spat all over the sheet"]


def test_a_number_that_is_no_grade_is_never_kept_in_words(ledger, tmp_path):
    """A number beyond the scale is a slip, and refused, whatever the map says of words."""
    path = tmp_path / "old.csv"
    path.write_text(GRADED.format("44"), encoding="utf-8")
    with pytest.raises(BadInput, match="line 3, Froth"):
        plan_mapped(ledger, path, parse(GRADED_MAP, "map.yaml"), settings=Settings())


def test_a_sentence_among_grades_is_proposed_to_be_kept(tmp_path):
    """The guess reads the marks of a column and keeps sentences beside them in words."""
    path = tmp_path / "old.csv"
    path.write_text(GRADED.format("spat all over the sheet"), encoding="utf-8")
    told = propose(path, Settings())
    assert "others: note" in told
    assert "sentences are kept in words" in told
    assert '"spat all over the sheet"' not in told
