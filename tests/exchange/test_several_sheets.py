"""One map for several sheets of a file: each its own part, or one map for all; all of them come in, or none."""

from pathlib import Path

import openpyxl
import pytest

from qcledger.bench import imported
from qcledger.errors import BadInput
from qcledger.exchange import carry_out, plan_mapped, propose
from qcledger.exchange.columnmap import parse
from qcledger.exchange.layout import Layout
from qcledger.ledger import Ledger
from qcledger.records import Import, Lot, Maker, Observation, Paint, Parcel, Specimen, Trial
from qcledger.settings import Settings

YEARS = Path(__file__).parent.parent / "sheets" / "10-two-years.ods"
SAME = """\
new_makers: true
row_key: [No]
constants: {format: tube, seller: One shop, tested_on: 2025-06-30}
sheets: ["2024", "2025"]
columns: {No: leave out, Maker: maker, Paint: paint, Bought: bought_on, Froth: {criterion: froth_amount}}
"""
OWN = """\
new_makers: true
row_key: [No]
constants: {format: tube, seller: One shop, tested_on: 2025-06-30}
columns: {No: leave out, Maker: maker, Paint: paint, Bought: bought_on, Froth: {criterion: froth_amount}}
sheets:
  "2024": {}
  "2025":
    constants: {format: half pan, seller: One shop, tested_on: 2025-12-31}
    columns: {Froth: not there, Foam: {criterion: froth_amount, scale: {from: [0, 10]}}}
"""
FIRST = [[1, "Drumlaw", "Rose", "2024-03-01", 4], [2, "Halcyre", "Ochre", "2024-03-01", 0]]
SECOND = [[1, "Drumlaw", "Rose", "2024-03-01", 2], [2, "Drumlaw", "Umber", "2025-04-01", 1]]


@pytest.fixture
def ledger(tmp_path):
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane", zone="Etc/UTC") as made:
        yield made


def book(tmp_path, froth="Froth", first=FIRST, second=SECOND):
    """Write a workbook with two sheets, each numbered from 1."""
    made = openpyxl.Workbook()
    for title, name, rows in (("2024", "Froth", first), ("2025", froth, second)):
        page = made.create_sheet(title)
        for row in (["No", "Maker", "Paint", "Bought", name], *rows):
            page.append(row)
    made.remove(made.worksheets[0])
    made.save(tmp_path / "years.xlsx")
    return tmp_path / "years.xlsx"


def planned(ledger, path, text, **how):
    return plan_mapped(ledger, path, parse(text, "map.yaml"), settings=Settings(), **how)


def stood(ledger):
    """Return what stands, in words that no id is in."""
    named = {
        kind: {row.id: row for row in ledger.rows(kind)} for kind in (Maker, Paint, Lot, Parcel, Specimen, Trial)
    }

    def piece(one):
        paint, parcel = named[Paint][one.paint], named[Parcel][one.parcel]
        lot = named[Lot][one.lot].code if one.lot else ""
        bought = parcel.bought_on, parcel.seller, parcel.currency
        return (
            named[Maker][paint.maker].name,
            paint.name,
            str(one.format),
            lot,
            one.nominal_ml,
            one.price_minor,
            *bought,
        )

    trials = {id_: piece(named[Specimen][one.specimen]) for id_, one in named[Trial].items()}
    seen = [
        (*trials[one.trial], one.criterion, one.grade, one.reading, one.tester) for one in ledger.rows(Observation)
    ]
    pieces = [(one.sticker, *piece(one)) for one in named[Specimen].values()]
    return sorted(map(str, seen)), sorted(map(str, pieces)), len(named[Parcel]), len(named[Lot])


def test_one_map_serves_several_sheets(ledger, tmp_path):
    """Two sheets numbered from 1 each come in by one map as two imports; a shared paint and parcel are one; once."""
    path = book(tmp_path)
    plan = planned(ledger, path, SAME)
    assert (plan.new_rows, plan.rows_here) == (4, 0)
    carry_out(ledger, plan)
    assert [one.name for one in ledger.rows(Import)] == ["years.xlsx, sheet 2024", "years.xlsx, sheet 2025"]
    assert len(ledger.rows(Maker)) == 2
    assert len(ledger.rows(Paint)) == 3
    assert len(ledger.rows(Parcel)) == 2
    assert sorted(one.sticker for one in ledger.rows(Specimen)) == ["OV 0001", "OV 0002", "OV 0003", "OV 0004"]
    again = planned(ledger, path, SAME)
    assert (again.new_rows, again.rows_here, list(again.records)) == (0, 4, [])
    assert ledger.verify() == []


def test_each_sheet_has_its_own_part(ledger, tmp_path):
    """A part takes the place of what the map says, its columns stand beside the map's, and one may be not there."""
    carry_out(ledger, planned(ledger, book(tmp_path, "Foam"), OWN))
    pieces = {str(one.format) for one in ledger.rows(Specimen)}
    assert pieces == {"tube", "half pan"}
    assert sorted(one.grade for one in ledger.rows(Observation)) == [0, 0, 1, 4]
    assert {ledger.day_of(one, one.at).isoformat() for one in ledger.rows(Trial)} == {"2025-06-30", "2025-12-31"}


def test_each_import_is_taken_back_by_itself(ledger, tmp_path):
    """What came with one sheet goes with it; the other sheet's rows stay."""
    carry_out(ledger, planned(ledger, book(tmp_path), SAME))
    later = imported.find(ledger, "years.xlsx, sheet 2025")
    assert sorted(one.split(":")[0] for one in imported.weigh(ledger, later).lines()[:1]) == ["goes"]
    imported.take_back(ledger, imported.weigh(ledger, later), "wrong sheet")
    standing = [row for row in ledger.tested_rows() if not row.not_testable]
    assert len(standing) == 2
    first = imported.find(ledger, "years.xlsx, sheet 2024")
    assert first.out is None


def test_a_bad_row_of_one_sheet_keeps_all_of_them_out(ledger, tmp_path):
    """Rows of both sheets are told, the bad one with its sheet, and nothing is stored."""
    path, told = book(tmp_path, second=[[1, "Drumlaw", "Rose", "2024-03-01", 77]]), []
    with pytest.raises(BadInput, match="sheet 2025 line 2, Froth"):
        planned(ledger, path, SAME, told=told)
    assert [row.line for row in told] == [
        "sheet 2024, row 2: new, Drumlaw Rose tube",
        "sheet 2024, row 3: new, Halcyre Ochre tube",
        "sheet 2025, row 2: refused, Drumlaw Rose",
    ]
    assert ledger.rows(Specimen) == []


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ('sheet: "2024"\nsheets: ["2025"]\ncolumns: {}\n', "line 1: found 'sheet'"),
        ('sheets: {"2024": {sheet: x}}\ncolumns: {}\n', "the sheet is 2024 already"),
        ('sheets: ["2024", "2024"]\ncolumns: {}\n', "each sheet once"),
        ("sheets: {}\ncolumns: {}\n", "the names of sheets"),
        ('sheets: ["2024"]\n', "no key columns"),
        ('sheets: {"2024": {colums: {}}}\ncolumns: {}\n', "key colums"),
    ],
)
def test_parts_that_are_none_are_refused(text, match):
    """A wrong part is refused with its line."""
    with pytest.raises(BadInput, match=match):
        parse(text, "map.yaml")


def test_what_several_sheets_are_called(ledger, tmp_path):
    """A name given to the file is that of each sheet of it, with the sheet's own behind it."""
    carry_out(ledger, planned(ledger, book(tmp_path), SAME, called="my years"))
    assert [one.name for one in ledger.rows(Import)] == ["my years, sheet 2024", "my years, sheet 2025"]


def test_two_years_come_in_by_one_proposed_map(tmp_path):
    """The map proposed for the whole file brings in what the maps of its sheets bring in one after the other."""
    stands = []
    for number, texts in enumerate(([propose(YEARS, Settings())], [by_sheet("2024"), by_sheet("2025")])):
        with Ledger.create(tmp_path / f"{number}.sqlite", letters="OV", tester="OV", zone="Etc/UTC") as made:
            for text in texts:
                carry_out(made, planned(made, YEARS, text))
            stands.append(stood(made))
            assert len(made.rows(Import)) == 2
            assert made.verify() == []
    assert len(stands[0][0]) > 80
    assert stands[0] == stands[1]


def by_sheet(name):
    return propose(YEARS, Settings(), Layout(sheet=name))
