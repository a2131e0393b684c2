"""Tables that lie in their files as people lay them: each rule of a map does what it says."""

import pytest

from qcledger.errors import BadInput
from qcledger.exchange import carry_out, plan_mapped
from qcledger.exchange.columnmap import parse
from qcledger.exchange.layoutguess import colour_name
from qcledger.exchange.scales import EvenScale, ListScale
from qcledger.ledger import Ledger
from qcledger.records import Observation, Parcel, Specimen, Trial
from qcledger.settings import Settings
from qcledger.vocab import Occasion

MAP = """\
new_makers: true
constants: {format: tube, seller: not noted, tested_on: 2025-06-30}
columns:
  Maker: maker
  Paint: paint
  Bought: {field: bought_on, dates: day month year}
"""


@pytest.fixture
def brought(tmp_path):
    """Return a function that brings in a text through a map: what is told, and the ledger's rows of a kind."""

    def bring(text, more="", kind=Specimen):
        path = tmp_path / "old.csv"
        path.write_text(text, encoding="utf-8")
        with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane") as ledger:
            plan = plan_mapped(ledger, path, parse(MAP + more, "map.yaml"), settings=Settings())
            carry_out(ledger, plan)
            return plan.guesses, list(ledger.rows(kind))

    return bring


def test_a_day_that_may_be_read_two_ways_is_told(brought):
    """03/04/2025 is read in the order of the map, and the report says as which day; 30/04/2025 has one reading."""
    guesses, parcels = brought("Maker,Paint,Bought\nDrumlaw,Rose,03/04/2025\n", kind=Parcel)
    assert [parcel.bought_on.isoformat() for parcel in parcels] == ["2025-04-03"]
    assert "Bought: 03/04/2025 is read as 2025-04-03, day month year, as the map has it" in guesses


def test_a_note_without_a_result_is_kept(brought):
    """A note of a test that has no result stays with its specimen, as an older note."""
    text = "Maker,Paint,Bought,Said\nDrumlaw,Rose,3.4.2025,too soft\n"
    _, trials = brought(text, "  Said: test_note\n", Trial)
    assert [(one.note, one.occasion) for one in trials] == [("too soft", Occasion.OLDER_NOTES)]


def test_an_empty_cell_may_be_an_answer(brought):
    """With blank an empty cell is a grade, but not in a row that says it was not looked at."""
    text = "Maker,Paint,Bought,Mould,Notes\nDrumlaw,Rose,3.4.2025,x,\nDrumlaw,Red,3.4.2025,,\n"
    text += "Drumlaw,Blue,3.4.2025,,sealed\n"
    more = "  Mould: {criterion: mould, words: {x: 3}, blank: 0}\n  Notes: note\nuntested: {Notes: [sealed*]}\n"
    _, found = brought(text, more, Observation)
    assert sorted(one.grade for one in found) == [0, 3]


def test_words_for_a_day_or_number_are_refused():
    """Words that nobody would use are refused with what they may be for."""
    with pytest.raises(BadInput, match="found 'words for price'; allowed: words for maker"):
        parse("columns: {Price: {field: price, words: {cheap: 1}}}\n", "map.yaml")


@pytest.mark.parametrize(
    ("cell", "share"),
    [("★★★½☆", 1.5 / 5), ("7/10", 0.3), ("8 / 10", 0.2), ("5", 0.0), ("3+", 5 / 3 / 5), ("2-3", 0.5)],
)
def test_marks_as_people_write_them(cell, share):
    """Stars, shares and marks with a sign lie where arithmetic puts them on a scale whose high end is best."""
    assert EvenScale(0, 5, reversed=True).read(cell, ".", "f.csv") == pytest.approx(5 * share)


def test_letters_lie_between_their_neighbours():
    """B/C is half-way between B and C, B+ between A and B; what is no word of the scale is refused."""
    scale = ListScale(("A", "B", "C", "D", "E"))
    assert [scale.read(mark, ".", "") for mark in ("A", "B+", "B", "b/c", "E")] == [0, 0.625, 1.25, 1.875, 5]
    with pytest.raises(BadInput, match="words of the map's scale: A, B, C, D, E"):
        scale.read("F", ".", "f.csv")


@pytest.mark.parametrize(
    ("fill", "name"),
    [("92D050", "green"), ("FFC000", "yellow"), ("FF0000", "red"), ("C00000", "red"), ("theme 0 -0.25", "grey"),
     ("BFBFBF", "grey"), ("0070C0", "blue")],
)  # fmt: skip
def test_fill_colours_have_names(fill, name):
    """The usual fills of a traffic light are called as people call them."""
    assert colour_name(fill) == name
