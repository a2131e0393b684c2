"""A proposed map writes every guess out, and is a map once its question marks are decided."""

import re

import pytest

from qcledger.errors import BadInput
from qcledger.exchange import carry_out, plan_mapped, propose
from qcledger.exchange.columnmap import parse
from qcledger.exchange.scales import EvenScale
from qcledger.ledger import Ledger
from qcledger.records import Specimen
from qcledger.settings import Settings, own_rubrics, shipped
from tests.exchange.test_mapped import GOOD, HEADER, MAKERS, MAP, rows_of_five_hundred, sheet
from tests.hostile import HOSTILE


def guessed(tmp_path, header, *rows, **settings):
    """Return the map proposed for a spreadsheet, every question mark decided as 0."""
    text = propose(sheet(tmp_path, *rows, header=header), Settings(**settings))
    return parse(text.replace('"?"', "0"), "map.yaml")


def test_a_proposal_is_a_map_after_a_few_decisions(tmp_path):
    """For the spreadsheet of 500 rows only words and the day of the tests are left open, and then it comes in."""
    path = sheet(tmp_path, *rows_of_five_hundred())
    text = propose(path, Settings())
    assert text.count('"?"') == 5  # fine, meh, never, "-" and the day the tests were made on
    decided = {'"fine": "?"': '"fine": 0', '"meh": "?"': '"meh": 2', '"never": "?"': '"never": 5'}
    decided |= {', "-": "?"': "", 'tested_on: "?"': "tested_on: 2024-12-31", "new_makers: false": "new_makers: true"}
    for old, new in decided.items():
        text = re.sub(re.escape(old), new, text)
    text = 'empty: ["-"]\n' + text
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane") as ledger:
        plan = plan_mapped(ledger, path, parse(text, "map.yaml"), settings=Settings())
        assert plan.new_rows == 500
        assert plan.counts()["maker"] == len(MAKERS)
        carry_out(ledger, plan)


def test_an_undecided_proposal_is_refused(tmp_path):
    """A question mark that nobody decided is named with its line."""
    with pytest.raises(BadInput, match="put your decision where the \\? stands"):
        parse(propose(sheet(tmp_path, GOOD), Settings()), "map.yaml")


def test_each_column_is_guessed(tmp_path):
    """Columns are known by what people write over them, and old words by what people write in them."""
    found = guessed(tmp_path, HEADER, GOOD, ["2", *GOOD[1:3], "Tube", "", "30.4.2024", *GOOD[6:]])
    assert {name: target.field or target.criterion for name, target in found.columns.items()} == {
        "Brand": "maker",
        "Colour": "paint",
        "Pan/tube": "format",
        "Batch": "lot",
        "Bought": "bought_on",
        "From": "seller",
        "Price": "price",
        "rewets?": "rewetting_in_fives",
        "Froth 1-10": "froth_amount",
        "Remarks": "note",
    }
    assert found.left_out == {"No"}
    assert found.row_key == ("No",)
    assert found.columns["Pan/tube"].words == {"hp": "half pan", "tube": "tube"}
    assert found.columns["Bought"].dates == "day month year"
    assert found.columns["Froth 1-10"].scale == EvenScale(1, 10)
    assert found.constants == {"tested_on": "0"}


@pytest.mark.parametrize(
    ("days", "dates", "order"),
    [
        (["13.4.2024", "31.2.2024"], "iso", "day month year"),
        (["4/13/2024", "1/2/2024"], "day first", "month day year"),
        (["1/2/2024"], "month first", "month day year"),
        (["1/2/2024"], "day first", "day month year"),
        (["2024-02-01"], "day first", "day month year"),
        (["soon"], "iso", "year month day"),
    ],
)
def test_the_order_of_days_is_the_one_that_fits(tmp_path, days, dates, order):
    """The order in which most days can be read; where several fit, the one of the settings."""
    rows = [["x", day] for day in days]
    assert guessed(tmp_path, ["Brand", "Bought"], *rows, dates=dates).columns["Bought"].dates == order


@pytest.mark.parametrize(
    ("header", "marks", "scale"),
    [
        ("Froth", ["0", "2", "5"], None),
        ("Froth", ["0", "2.3"], EvenScale(0, 5)),
        ("Froth", ["3", "7"], EvenScale(1, 10)),
        ("Froth", ["0", "7"], EvenScale(0, 10)),
        ("Froth", ["55"], EvenScale(0, 100)),
        ("Froth", ["250"], EvenScale(0, 250)),
        ("Froth (1 to 5)", ["2", "3"], EvenScale(1, 5)),
        ("Froth 1-3", ["2", "7"], EvenScale(1, 10)),
    ],
)
def test_scales_are_guessed_from_header_and_marks(tmp_path, header, marks, scale):
    """Marks that are our grades need no scale; others get the one in the header or the narrowest usual one."""
    target = guessed(tmp_path, ["Brand", header], *(["x", mark] for mark in marks)).columns[header]
    assert (target.criterion, target.scale) == ("froth_amount", scale)


def test_readings_are_guessed_from_their_sign(tmp_path):
    """A column with values beyond a limit holds readings."""
    target = guessed(tmp_path, ["Brand", "Rewetting turns"], ["x", "12"], ["x", "> 60"]).columns["Rewetting turns"]
    assert (target.criterion, target.reading) == ("rewetting_in_fives", True)


def test_no_field_is_given_to_two_columns(tmp_path):
    """The second column that looks like a maker is left out; a second column of froth is kept in words."""
    found = guessed(tmp_path, ["Brand", "Maker", "Froth", "Work-up froth"], ["x", "y", "1", "1"])
    assert set(found.columns) == {"Brand", "Froth", "Work-up froth"}
    assert found.columns["Work-up froth"].field == "test_note"
    assert found.left_out == {"Maker"}


@pytest.mark.parametrize("text", [text for text in HOSTILE if len(text) < 100])
def test_hostile_headers_and_cells_make_no_other_map(tmp_path, text):
    """Whatever stands in a spreadsheet, the proposal is still a map of its columns."""
    from qcledger.text import one_line

    name = one_line(text) or "plain"
    header = ["Brand", f"rewets {text}", f"{name} x"]
    found = guessed(tmp_path, header, ["x", text, text])
    assert {"Brand", one_line(header[1]), one_line(header[2])} == set(found.columns) | found.left_out


@pytest.mark.parametrize(
    ("own", "price", "turns", "line", "mark"),
    [
        (".", "9,80", "12", 'decimal_mark: ","  # as in 9,80 in line 2, Price; your settings say "."', ","),
        (",", "EUR 9.80", "12", 'decimal_mark: "."  # as in EUR 9.80 in line 2, Price; your settings say ","', "."),
        (",", "9,80", "12", None, None),
        (".", "1,234", "12.3.2024", None, None),
        (
            ".",
            "9",
            "> 7,5",
            'decimal_mark: ","  # as in > 7,5 in line 2, Rewetting turns; your settings say "."',
            ",",
        ),
    ],
)
def test_the_mark_before_decimals_is_noticed(tmp_path, own, price, turns, line, mark):
    """A file with another mark than the settings says so in its map; what may be thousands says nothing."""
    path = sheet(tmp_path, ["x", price, turns], header=["Brand", "Price", "Rewetting turns"])
    text = propose(path, Settings(decimal_mark=own))
    assert [one for one in text.splitlines() if "decimal_mark" in one] == ([line] if line else [])
    assert parse(text.replace('"?"', "0"), "map.yaml").decimal_mark == mark


def test_two_marks_are_left_to_their_owner(tmp_path):
    """Where both stand before decimals, each is shown once with its line, and nobody guesses."""
    path = sheet(tmp_path, ["x", "9,80"], ["x", "7.20"], header=["Brand", "Price"])
    text = propose(path, Settings())
    assert "# Two marks stand before decimals: 9,80 in line 2, Price and 7.20 in line 3, Price." in text
    with pytest.raises(BadInput, match="put your decision where"):
        parse(text, "map.yaml")


def test_a_map_says_the_mark_of_its_file(tmp_path):
    """What the map says of its file comes before the settings."""
    path = sheet(tmp_path, [*GOOD[:7], "9,80", *GOOD[8:]])
    column_map = parse('decimal_mark: ","\nnew_makers: true\n' + MAP, "map.yaml")
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane") as ledger:
        carry_out(ledger, plan_mapped(ledger, path, column_map, settings=Settings()))
        assert [row.price_minor for row in ledger.rows(Specimen)] == [980]


def test_the_rubric_whose_tests_most_headings_name_is_proposed(tmp_path):
    """Pencils are known by their tests, one's own rubric by the words that it gives its columns."""
    header = ["Maker", "Name", "Form", "Core breaks on sharpening", "Bloom of wax"]
    pencils = sheet(tmp_path, ["Ost", "Sand", "pencil", "0", "1"], header=header)
    assert "rubrics: [pencil, packaging, label]" in propose(pencils, Settings())
    own = own_rubrics() / "mine.yaml"
    own.parent.mkdir(parents=True, exist_ok=True)
    text = (shipped("rubrics") / "pencil.yaml").read_text(encoding="utf-8")
    added = "title: Core breaks on sharpening\n    column_words: [Minenbruch, Knacks]"
    own.write_text(text.replace("title: Core breaks on sharpening", added, 1), encoding="utf-8")
    snapped = sheet(tmp_path, ["Ost", "Sand", "pencil", "0"], header=["Hersteller", "Farbe", "Form", "Minenbruch"])
    told = propose(snapped, Settings())
    assert "rubrics: [mine, packaging, label]" in told
    assert "criterion: core_breaks" in told
