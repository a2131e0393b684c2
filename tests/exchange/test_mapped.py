"""Somebody else's spreadsheet comes in through a map: marked as older notes, once, whole or not at all."""

import csv
import random
import re
import shutil
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest

from qcledger.errors import BadInput
from qcledger.exchange import carry_out, plan_mapped
from qcledger.exchange.columnmap import parse
from qcledger.ledger import Ledger
from qcledger.records import LabelVersion, Lot, Maker, Observation, Paint, Parcel, RubricText, Specimen, Trial
from qcledger.settings import Settings
from qcledger.vocab import Censored, Format, Occasion, Source
from tests.ledger.given import NOON, basics, graded

HEADER = ["No", "Brand", "Colour", "Pan/tube", "Batch", "Bought", "From", "Price", "rewets?", "Froth 1-10", "Remarks"]
MAP = """\
row_key: [No]
empty: ["-"]
constants: {tested_on: 2026-03-08}
columns:
  No: leave out
  Brand: maker
  Colour: paint
  Pan/tube: {field: format, words: {hp: half pan, t: tube}}
  Batch: lot
  Bought: {field: bought_on, dates: day month year}
  From: seller
  Price: {field: price, currency: EUR}
  rewets?: {criterion: rewetting_in_fives, words: {fine: 0, meh: 2, never: 5}}
  Froth 1-10: {criterion: froth_amount, scale: {from: [1, 10]}}
  Remarks: note
"""
MAKERS = ("Drumlaw", "Halcyre", "Maslenne", "Trellmere")
GOOD = ["1", "Drumlaw", "Quay Rose", "hp", "007", "12.3.2024", "Seller one", "9.80", "meh", "7", "=1+1"]


def rows_of_five_hundred() -> list[list[str]]:
    """Return 500 rows of somebody's spreadsheet, the same each time."""
    chance = random.Random(500)
    return [
        [
            str(number),
            chance.choice(MAKERS),
            f"Colour {chance.randrange(12)}",
            chance.choice(["hp", "HP", "t"]),
            chance.choice(["", "-", f"{chance.randrange(40):03d}"]),
            f"{chance.randrange(1, 29)}.{chance.randrange(1, 13)}.202{chance.randrange(5)}",
            f"Seller {chance.randrange(3)}",
            chance.choice(["", f"{chance.randrange(3, 14)}.{chance.randrange(100):02d}"]),
            chance.choice(["fine", "meh", "never", "-"]),
            chance.choice(["", *map(str, range(1, 11))]),
            chance.choice(["", "=1+1", "a note", "007", "NA"]),
        ]
        for number in range(1, 501)
    ]


@pytest.fixture
def ledger(tmp_path):
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane") as made:
        made.append([Maker(id=f"m-{name}", name=name) for name in MAKERS])
        yield made


def sheet(tmp_path, *rows, header=HEADER, name="old.csv"):
    with (tmp_path / name).open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, delimiter=";").writerows([header, *rows])
    return tmp_path / name


def bring_in(ledger, path, text=MAP, **settings):
    plan = plan_mapped(ledger, path, parse(text, "map.yaml"), settings=Settings(**settings))
    carry_out(ledger, plan)
    return plan


def refused(ledger, path, text=MAP, **settings):
    before = ledger.closing_hashes()
    with pytest.raises(BadInput) as error:
        bring_in(ledger, path, text, **settings)
    assert ledger.closing_hashes() == before
    return [str(problem) for problem in error.value.problems]


@pytest.fixture(params=["csv", "xlsx"])
def five_hundred(request, tmp_path):
    """Give the 500 rows as a CSV file, then as an XLSX file with typed days and numbers."""
    rows = rows_of_five_hundred()
    if request.param == "csv":
        return sheet(tmp_path, *rows)
    book = openpyxl.Workbook()
    book.active.append(HEADER)
    for row in rows:
        day, month, year = map(int, row[5].split("."))
        typed = [int(row[0]), *row[1:5], date(year, month, day), row[6], float(row[7]) if row[7] else None, *row[8:]]
        book.active.append([None if cell == "" else cell for cell in typed])
        for cell in book.active[book.active.max_row]:
            cell.data_type = "s" if cell.data_type == "f" else cell.data_type
    book.save(tmp_path / "old.xlsx")
    return tmp_path / "old.xlsx"


def test_five_hundred_rows_come_in_once(ledger, five_hundred):
    """Every row becomes a specimen with its results, counted here independently; a second run changes nothing."""
    rows = rows_of_five_hundred()
    plan = bring_in(ledger, five_hundred)
    assert (plan.new_rows, plan.rows_here) == (500, 0)
    graded_rewets = [row for row in rows if row[8] != "-"]
    graded_froth = [row for row in rows if row[9]]
    assert plan.counts() == {
        "paint": len({(row[1], row[2]) for row in rows}),
        "lot": len({(row[1], row[2], row[3].lower(), row[4]) for row in rows if row[4] not in ("", "-")}),
        "parcel": len({(row[5], row[6]) for row in rows}),
        "specimen": 500,
        "rubric_text": 1,
        "trial": sum(row[8] != "-" or row[9] != "" for row in rows),
        "observation": len(graded_rewets) + len(graded_froth),
    }
    tested = ledger.tested_rows()
    assert {row.occasion for row in tested} == {Occasion.OLDER_NOTES}
    rewets = [row.grade for row in tested if row.criterion == "rewetting_in_fives"]
    assert sorted(rewets) == sorted({"fine": 0.0, "meh": 2.0, "never": 5.0}[row[8]] for row in graded_rewets)
    prices = sorted(row.price_minor for row in ledger.rows(Specimen) if row.price_minor is not None)
    assert prices == sorted(int(row[7].replace(".", "")) for row in rows if row[7])
    assert sorted(row.note for row in ledger.rows(Specimen)) == sorted(row[10] for row in rows)
    before = ledger.closing_hashes()
    plan = bring_in(ledger, five_hundred)
    assert (plan.new_rows, plan.rows_here, plan.records) == (0, 500, ())
    assert ledger.closing_hashes() == before
    assert ledger.verify() == []


def test_csv_and_xlsx_of_one_table_are_the_same_rows(ledger, tmp_path):
    """What came in as CSV is here already when it comes as XLSX: a row is known by its key, not by its file."""
    bring_in(ledger, sheet(tmp_path, GOOD))
    book = openpyxl.Workbook()
    for row in (HEADER, GOOD):
        book.active.append(row)
    book.active["K2"].data_type = "s"
    book.save(tmp_path / "old.xlsx")
    assert bring_in(ledger, tmp_path / "old.xlsx").rows_here == 1


def test_one_row_says_all_of_this(ledger, tmp_path):
    """Each cell of a row is where it belongs, texts as they stand, and nothing runs."""
    bring_in(ledger, sheet(tmp_path, GOOD))
    (specimen,), (paint,), (lot,), (parcel,), (trial,) = map(ledger.rows, (Specimen, Paint, Lot, Parcel, Trial))
    assert (paint.maker, paint.name) == ("m-Drumlaw", "Quay Rose")
    assert (lot.code, lot.format, lot.paint) == ("007", Format.HALF_PAN, paint.id)
    assert (parcel.bought_on, parcel.seller, parcel.currency) == (date(2024, 3, 12), "Seller one", "EUR")
    assert (specimen.sticker, specimen.price_minor, specimen.note) == ("OV 0001", 980, "=1+1")
    assert (specimen.paint, specimen.lot, specimen.parcel) == (paint.id, lot.id, parcel.id)
    assert (trial.occasion, trial.at) == (Occasion.OLDER_NOTES, datetime(2026, 3, 8, 12, tzinfo=UTC))
    assert {row.criterion: row.grade for row in ledger.rows(Observation)} == {
        "rewetting_in_fives": 2,
        "froth_amount": 3,
    }
    assert {row.tester for row in ledger.rows(Observation)} == {"Oda Vane"}


def test_what_was_calculated_or_assumed_is_told(ledger, tmp_path):
    """Grades from a scale, columns left out, and the mark between cells are told with the plan."""
    path = sheet(tmp_path, GOOD, ["2", *GOOD[1:]])
    plan = plan_mapped(ledger, path, parse(MAP.replace("  Remarks: note\n", ""), "map.yaml"), settings=Settings())
    assert plan.guesses == (
        "old.csv: cells are divided by semicolon",
        "column Remarks is not in the map and is left out",
        "Froth 1-10: 7 is taken as grade 3 (2 rows)",
    )
    text = MAP.replace(", currency: EUR", "")
    plan = plan_mapped(ledger, path, parse(text, "map.yaml"), settings=Settings(currency="GBP"))
    assert plan.guesses[-1] == "prices without a currency are in GBP, the currency of your settings"


def test_a_scale_lands_on_offered_grades(ledger, tmp_path):
    """The nearest grade that is offered is taken; packaging offers 0, 1, 3 and 5 only."""
    text = MAP.replace(
        "{criterion: froth_amount, scale: {from: [1, 10]}}", "{criterion: cracked, scale: {from: [1, 5]}}"
    )
    rows = [[str(n), *GOOD[1:9], str(n), ""] for n in range(1, 6)]
    bring_in(ledger, sheet(tmp_path, *rows), text)
    grades = sorted(row.grade for row in ledger.rows(Observation) if row.criterion == "cracked")
    assert grades == [0, 1, 3, 3, 5]  # 1 to 5 are 0, 1.25, 2.5, 3.75 and 5 on ours
    (line,) = refused(ledger, sheet(tmp_path, [*GOOD[:9], "6", ""]), text)
    assert "found '6'; allowed: 1 to 5, as the map's scale says" in line
    plan = bring_in(ledger, sheet(tmp_path, ["9", *GOOD[1:8], "-", "4", ""]), text.replace("[1, 5]", "[0, 10]"))
    assert plan.guesses[-1] == "Froth 1-10: 4 is taken as grade 1 (1 row)"  # 2 on ours, as near to 3 as to 1


def test_readings_stay_readings(ledger, tmp_path):
    """A measured value is kept with its limit, and the grade that follows from it is told."""
    text = MAP.replace("words: {fine: 0, meh: 2, never: 5}", "reading: true")
    rows = [["1", *GOOD[1:8], "12", "", ""], ["2", *GOOD[1:8], "> 60", "", ""]]
    plan = bring_in(ledger, sheet(tmp_path, *rows), text)
    found = sorted((row.reading, row.censored, row.grade) for row in ledger.rows(Observation))
    # 11 to 20 turns are grade 2, not reached at 60 is grade 5: the rubric's rewetting scale.
    assert found == [(12, Censored.EXACT, 2), (60, Censored.ABOVE, 5)]
    assert "rewets?: > 60 is taken as grade 5 (1 row)" in plan.guesses


def test_rows_that_stand_are_found_by_name(ledger, tmp_path):
    """Makers, paints, lots, parcels and labels that the ledger has are not made a second time."""
    ledger.append(basics())
    row = ["1", "quernlow", "VIRIDIAN", "hp", "q4471", "1.2.2026", "seller one", "", "fine", "", ""]
    header = [*HEADER, "Pigment"]
    text = MAP.replace("  Remarks: note\n", "  Pigment: pigments\n")
    plan = bring_in(ledger, sheet(tmp_path, [*row, "PG18"], header=header), text)
    assert plan.counts() == {"specimen": 1, "trial": 1, "observation": 1}
    new = next(row for row in ledger.rows(Specimen) if row.id != "specimen")
    assert (new.paint, new.lot, new.parcel, new.label_version) == ("paint", "lot", "parcel", "label")
    assert new.sticker == "OV 0002"


def test_a_sticker_leads_to_its_specimen(ledger, tmp_path):
    """Results for a sticker that the ledger has are of that specimen; a row that says another paint is refused."""
    ledger.append(basics())
    text = (
        "constants: {tested_on: 2026-03-08}\n"
        "columns:\n  Sticker: sticker\n  Brand: maker\n  Colour: paint\n  Batch: lot\n"
        "  Rewets: {criterion: rewetting_in_fives}\n"
    )
    header = ["Sticker", "Brand", "Colour", "Batch", "Rewets"]
    bring_in(ledger, sheet(tmp_path, ["ov 0001", "", "", "", "4"], header=header), text)
    assert [row.specimen for row in ledger.rows(Trial)] == ["specimen"] * 2
    assert refused(ledger, sheet(tmp_path, ["OV 0001", "Drumlaw", "Viridian", "", "4"], header=header), text) == [
        "old.csv line 2, Brand: found 'Drumlaw'; allowed: 'Quernlow', as specimen OV 0001 has"
    ]
    assert (
        "Batch: found 'X1'"
        in refused(ledger, sheet(tmp_path, ["OV 0001", "", "", "X1", "4"], header=header), text)[0]
    )
    (line,) = refused(ledger, sheet(tmp_path, ["OV 9999", "Drumlaw", "Rose", "", "4"], header=header), text)
    assert line == "old.csv line 2: found nothing; allowed: a format in each row, or among the constants of the map"


@pytest.mark.parametrize("typed", ["OV 1", "ov1", "OV0001", "ov 001"])
def test_a_sticker_in_a_sheet_is_read_as_everywhere(ledger, tmp_path, typed):
    """Case, the blank and the zeros of a count do not matter; brought in once more, nothing is new."""
    ledger.append(basics())
    columns = "  Sticker: sticker\n  Rewets: {criterion: rewetting_in_fives}\n"
    text = f"constants: {{tested_on: 2026-03-08}}\ncolumns:\n{columns}"
    path = sheet(tmp_path, [typed, "4"], header=["Sticker", "Rewets"])
    bring_in(ledger, path, text)
    assert [row.specimen for row in ledger.rows(Trial)] == ["specimen"] * 2
    assert {row.sticker for row in ledger.rows(Specimen)} == {"OV 0001"}
    assert bring_in(ledger, path, text).records == ()


def test_several_tests_of_one_sticker_are_one_specimen(ledger, tmp_path):
    """A sticker on several rows is one specimen tested several times; a row that contradicts another is refused."""
    text = MAP.replace("  No: leave out", "  No: sticker").replace("row_key: [No]\n", "")
    rows = [["OV 0301", *GOOD[1:]], ["OV 0301", *GOOD[1:8], "never", "", ""]]
    plan = bring_in(ledger, sheet(tmp_path, *rows), text)
    assert (plan.counts()["specimen"], plan.counts()["trial"]) == (1, 2)
    assert bring_in(ledger, sheet(tmp_path, *rows), text).records == ()
    rows = [["OV 0302", *GOOD[1:]], ["OV 0302", *GOOD[1:3], "t", *GOOD[4:]]]
    (line,) = refused(ledger, sheet(tmp_path, *rows), text)
    assert line == (
        "old.csv line 3, Pan/tube: found 't'; allowed: 'half pan', as it stands already for Drumlaw Quay Rose "
        "(OV 0302)"
    )


@pytest.mark.parametrize(("first", "second"), [("K 1", "K 01"), ("KA 0012", "KA 12")])
def test_two_ways_of_writing_a_sticker_in_one_sheet_are_refused(ledger, tmp_path, first, second):
    """They may be one piece or two: both rows are named and nothing comes in; in another case they are one."""
    text = MAP.replace("  No: leave out", "  No: sticker").replace("row_key: [No]\n", "")
    rows = [[first, *GOOD[1:]], [second, *GOOD[1:8], "never", "2", ""]]
    (line,) = refused(ledger, sheet(tmp_path, *rows), text)
    assert line == (
        f"old.csv line 3, No: found '{second}'; allowed: '{first}', as old.csv line 2 has it, "
        "if it is that specimen; two specimens have two stickers"
    )
    assert ledger.rows(Specimen) == []
    rows[1][0] = first.lower()
    assert bring_in(ledger, sheet(tmp_path, *rows), text).counts()["specimen"] == 1


def test_a_larger_map_adds_only_what_is_new(ledger, tmp_path):
    """A column that the map had left out brings its results, and no specimen a second time."""
    path = sheet(tmp_path, GOOD)
    bring_in(ledger, path, MAP.replace("  Froth 1-10: {criterion: froth_amount, scale: {from: [1, 10]}}\n", ""))
    plan = bring_in(ledger, path)
    assert (plan.counts(), plan.new_rows) == ({"observation": 1}, 1)


def test_a_newer_rubric_does_not_make_old_rows_new(ledger, tmp_path):
    """Rows that came in under an older version of a rubric stay graded by it."""
    from qcledger.settings import shipped

    path = sheet(tmp_path, GOOD)
    older = (shipped("rubrics") / "watercolour.yaml").read_text(encoding="utf-8") + "# older\n"
    (tmp_path / "own.yaml").write_text(older, encoding="utf-8")
    bring_in(ledger, path, MAP + "rubrics: [own.yaml]\n")
    (tmp_path / "own.yaml").write_text(older + "# newer\n", encoding="utf-8")
    plan = bring_in(ledger, path, MAP + "rubrics: [own.yaml]\n")
    assert plan.records == ()
    assert len(ledger.rows(RubricText)) == 1


def test_rows_amended_since_are_still_here(ledger, tmp_path):
    """A specimen opened, or a grade amended, after it came in is here already."""
    from dataclasses import replace

    path = sheet(tmp_path, GOOD)
    bring_in(ledger, path)
    (specimen,) = ledger.rows(Specimen)
    ledger.append([replace(specimen, note="opened", state="opened")], reason="opened")
    first = ledger.rows(Observation)[0]
    ledger.append([replace(first, id="amended", grade=1.0, supersedes=first.id, reason="misread")])
    assert bring_in(ledger, path).rows_here == 1


def test_a_changed_row_is_refused(ledger, tmp_path):
    """With a row key, a row whose grade was changed in the spreadsheet is named; nothing is amended silently."""
    bring_in(ledger, sheet(tmp_path, GOOD))
    (line,) = refused(ledger, sheet(tmp_path, [*GOOD[:8], "never", *GOOD[9:]]))
    assert line == (
        "old.csv line 2, rewets?: found 'never'; allowed: '2', as it stands already for Drumlaw Quay Rose (OV 0001); "
        "another sheet: --called NAME; corrected: qcledger imports NAME --take-back"
    )


def test_equal_rows_without_a_key_are_as_many_rows(ledger, tmp_path):
    """Without a row key, two equal rows are two pieces, and stay two."""
    text = MAP.replace("row_key: [No]\n", "")
    path = sheet(tmp_path, GOOD, GOOD)
    assert bring_in(ledger, path, text).counts()["specimen"] == 2
    assert bring_in(ledger, path, text).records == ()


def test_without_a_key_a_corrected_cell_is_told_as_a_second_piece(ledger, tmp_path):
    """A sheet that comes in again without a row_key says that what was corrected in it makes second pieces."""
    text = MAP.replace("row_key: [No]\n", "")
    first = bring_in(ledger, sheet(tmp_path, GOOD, ["2", *GOOD[1:]]), text)
    assert not [line for line in first.guesses if "row_key" in line]
    again = plan_mapped(
        ledger, sheet(tmp_path, changed(Price="8.80"), ["2", *GOOD[1:]]), parse(text, "map.yaml"), settings=Settings()
    )
    (told,) = [line for line in again.guesses if "row_key" in line]
    assert "a second piece (1 of 2 rows are new)" in told
    keyed = plan_mapped(
        ledger, sheet(tmp_path, GOOD, ["3", *GOOD[1:]]), parse(MAP, "map.yaml"), settings=Settings(), called="other"
    )
    assert not [line for line in keyed.guesses if "row_key" in line]


def changed(**cells):
    """Return a good row with some cells changed, by column."""
    names = {name.replace("/", "_").replace("?", "").replace(" 1-10", ""): place for place, name in enumerate(HEADER)}
    row = list(GOOD)
    for name, cell in cells.items():
        row[names[name]] = cell
    return row


@pytest.mark.parametrize(
    ("row", "says"),
    [
        (
            changed(Brand="Drumlow"),
            "Brand: found 'Drumlow'; allowed: makers of this ledger (Drumlaw), or new_makers: true",
        ),
        (
            changed(Brand="Zzz"),
            "Brand: found 'Zzz'; allowed: makers of this ledger (Drumlaw, Halcyre, Maslenne, Trellmere)",
        ),
        (changed(Brand=""), "Brand: found nothing; allowed: a maker in each row"),
        (changed(Pan_tube="pan"), "Pan/tube: found 'pan'; allowed: one of tube, half pan, full pan"),
        (changed(Bought="31.2.2024"), "Bought: found '31.2.2024'; allowed: a day such as 2026-03-09 or 9.3.2026"),
        (changed(Bought="3/2024"), "Bought: found '3/2024'; allowed: a day such as 2026-03-09 or 9.3.2026"),
        (changed(Price="9,80"), "Price: found '9,80'; allowed: a number such as 12.5, with '.' before decimals"),
        (changed(Price="-9.80"), "Price: found '-9.80'; allowed: 0 or more"),
        (changed(Price="9.80 XYZ"), "Price: found 'XYZ'; allowed: one of AUD"),
        (changed(rewets="often"), "rewets?: found 'often'; allowed: words of the map: fine, meh, never"),
        (changed(Froth="11"), "Froth 1-10: found '11'; allowed: 1 to 10, as the map's scale says"),
        (changed(Froth="3,5"), "Froth 1-10: found '3,5'; allowed: a number such as 12.5, with '.' before decimals"),
        (changed(Colour="x" * 201), "Colour: found 'xxx"),
        (changed(No=""), "found 'No='; allowed: each row_key once and filled"),
    ],
)
def test_a_bad_row_is_named(ledger, tmp_path, row, says):
    """A row that is not allowed is one line with file, line, column, what was found and what is allowed."""
    (line,) = refused(ledger, sheet(tmp_path, ["2", *GOOD[1:]], row))
    assert line.startswith("old.csv line 3")
    assert says in line


def test_every_bad_row_is_named_in_order(ledger, tmp_path):
    """All rows are checked before any is refused: each bad one has one line, with how much more is wrong in it."""
    rows = [
        changed(No="1", Brand="Drumlow"),
        changed(No="2"),
        changed(No="3", Price="9,80", Bought="31.2.2024"),
        changed(No="4", rewets="often"),
        changed(No="2"),
    ]
    lines = refused(ledger, sheet(tmp_path, *rows))
    assert [line.split(":")[0] for line in lines] == [
        "old.csv line 2, Brand",
        "old.csv line 4, Bought",
        "old.csv line 5, rewets?",
        "old.csv line 6",
    ]
    assert lines[1].endswith("(and 1 more in this row)")


@pytest.mark.parametrize("column", ["tested_on", "Tested"])
def test_a_day_to_come_is_refused_by_the_name_the_map_has_for_it(ledger, tmp_path, column):
    """Constant or column: the refusal says tested_on or the header, and days alone; only the day was ever known."""
    if column == "tested_on":
        text, given = MAP.replace("2026-03-08", "2031-06-01"), sheet(tmp_path, GOOD)
    else:
        text = MAP.replace("constants: {tested_on: 2026-03-08}\n", "") + "  Tested: tested_on\n"
        given = sheet(tmp_path, [*GOOD, "2031-06-01"], header=[*HEADER, column])
    (line,) = refused(ledger, given, text)
    assert re.fullmatch(
        rf"old\.csv line 2, {column}: found '2031-06-01'; allowed: nothing later than now, \d{{4}}-\d\d-\d\d"
        r"( \(and \d more in this row\))?",
        line,
    )


def test_grades_of_our_own_are_checked_by_the_rubric(ledger, tmp_path):
    """Without words or scale, cells are our grades: 7 is refused, and 2 where the rubric offers 0, 1, 3 and 5."""
    seven = MAP.replace("{criterion: froth_amount, scale: {from: [1, 10]}}", "{criterion: froth_amount}")
    two = MAP.replace("{criterion: froth_amount, scale: {from: [1, 10]}}", "{criterion: cracked}")
    (line,) = refused(ledger, sheet(tmp_path, GOOD), seven)
    assert line.startswith("old.csv line 2, Froth 1-10: found 'grade 7'; allowed: 0, ")
    (line,) = refused(ledger, sheet(tmp_path, changed(Froth="2")), two)
    assert line == "old.csv line 2, Froth 1-10: found 'grade 2'; allowed: 0, 1, 3, 5 for Cracked or crumbling"


@pytest.mark.parametrize(
    ("header", "text", "says"),
    [
        (
            HEADER[:-1],
            MAP,
            "old.csv, header: found 'no column Remarks'; allowed: the columns of the map: Brand, Colour",
        ),
        (GOOD, MAP, "old.csv, header: found 'no column Brand'"),
        (HEADER, MAP.replace("[No]", "[Number]"), "old.csv, header: found 'no column Number'"),
        (
            HEADER,
            MAP.replace("  Brand: maker\n", ""),
            "map.yaml: found 'no maker'; allowed: a column or constant for each",
        ),
        (
            HEADER,
            MAP.replace("tested_on: 2026-03-08", "tested_on: 2024-02-31"),
            "map.yaml, constants, tested_on: found",
        ),
        (
            HEADER,
            MAP.replace("constants: {", "constants: {price: 9, ").replace(
                "  Price: {field: price, currency: EUR}\n", ""
            ),
            "map.yaml, constants: found 'price'",
        ),
    ],
)
def test_file_and_map_must_fit(ledger, tmp_path, header, text, says):
    """A header or map without what the other needs is one line, however many rows there are."""
    row = [*GOOD, *[""] * len(header)][: len(header)]
    (line,) = refused(ledger, sheet(tmp_path, row, row, header=header), text)
    assert line.startswith(says)


def test_the_settings_say_the_decimal_mark(ledger, tmp_path):
    """With a decimal comma in the settings 9,80 is a price, and 9.80 is refused."""
    bring_in(ledger, sheet(tmp_path, changed(Price="9,80")), decimal_mark=",")
    assert ledger.rows(Specimen)[0].price_minor == 980
    assert (
        "allowed: a number such as 12,5, with ',' before decimals"
        in refused(ledger, sheet(tmp_path, GOOD), decimal_mark=",")[0]
    )


def test_new_makers_come_in_when_the_map_says_so(ledger, tmp_path):
    """An unknown maker is added on request, once, and one that looks like a known one is pointed out."""
    text = MAP + "new_makers: true\n"
    plan = bring_in(ledger, sheet(tmp_path, changed(Brand="Drumlow"), changed(No="2", Brand="DRUMLOW")), text)
    assert plan.counts()["maker"] == 1
    command = 'qcledger same-as maker "Drumlow" "Drumlaw"'
    assert f"Drumlow is new, and not the same as Drumlaw; if it is, once it is in: {command}" in plan.guesses


def test_everything_a_column_may_hold_has_its_place(ledger, tmp_path):
    """The fields that the other tests leave out come in, too."""
    header = ["B", "C", "Art", "Pig", "F", "S", "On", "Who", "Cur", "P", "ml", "g", "T", "By", "N", "TN", "R"]
    row = ["Drumlaw", "Rose", "231", "PY42, PR101", "tube", "gift", "2024-03-12", "x", "gbp", "4.75", "1.5", "3.1",
           "2024-04-01", "Tam Lark", "a", "b", "3"]  # fmt: skip
    fields = ["maker", "paint", "number", "pigments", "format", "source", "bought_on", "seller", "currency", "price",
              "nominal_ml", "weight_g", "tested_on", "tester", "note", "test_note"]  # fmt: skip
    text = "columns:\n" + "".join(f"  {h}: {f}\n" for h, f in zip(header, fields, strict=False))
    bring_in(
        ledger,
        sheet(tmp_path, row, header=header),
        text.replace("y: x", "") + "  R: {criterion: rewetting_in_fives}\n",
    )
    (specimen,), (trial,), (label,), (observation,) = map(ledger.rows, (Specimen, Trial, LabelVersion, Observation))
    assert (specimen.source, specimen.nominal_ml, specimen.weight_g) == (Source.GIFT, Decimal("1.5"), Decimal("3.1"))
    assert (specimen.note, trial.note, observation.tester) == ("a", "b", "Tam Lark")
    assert (label.index_names, label.seen_on) == (("PY42", "PR101"), date(2024, 3, 12))
    assert specimen.label_version == label.id
    assert ledger.rows(Parcel)[0].currency == "GBP"
    assert ledger.rows(Paint)[0].number == "231"
    assert trial.at == datetime(2024, 4, 1, 12, tzinfo=UTC)
    wrong = [*row[:9], "EUR 4.75", *row[10:]]
    (line,) = refused(ledger, sheet(tmp_path, wrong, header=header), text + "  R: {criterion: rewetting_in_fives}\n")
    assert line == "old.csv line 2, P: found 'EUR 4.75'; allowed: a price in GBP, as the row says"


def test_older_notes_are_left_out_of_sessions(ledger, tmp_path):
    """What comes in has no session and no blinding, so that it is shown and never pooled."""
    ledger.append([*basics(), graded("first")])
    bring_in(ledger, sheet(tmp_path, GOOD))
    rows = {row.occasion: row for row in ledger.tested_rows()}
    assert (rows[Occasion.OLDER_NOTES].session, rows[Occasion.OLDER_NOTES].blinding) == (None, None)
    assert rows[Occasion.BENCH].at == NOON


def test_stickers_the_program_gives_are_free_when_they_are_written(ledger, tmp_path):
    """Another terminal may take the next number between plan and writing; the rows then get those after it."""
    plan = plan_mapped(ledger, sheet(tmp_path, GOOD, ["2", *GOOD[1:]]), parse(MAP, "map.yaml"), settings=Settings())
    ledger.append([*basics()])  # has OV 0001, as the plan has
    carry_out(ledger, plan)
    assert sorted(row.sticker for row in ledger.rows(Specimen)) == ["OV 0001", "OV 0002", "OV 0003"]
    assert ledger.doubts() == []
    assert bring_in(ledger, tmp_path / "old.csv").records == ()


def test_what_steers_a_terminal_is_said_with_its_line(ledger, tmp_path):
    """One character is one line of the plan, with the row it stood in; nothing is said of clean files."""
    plan = bring_in(ledger, sheet(tmp_path, GOOD, ["2", *GOOD[1:10], "\x9bhard"]))
    assert "a character that steers a terminal was left out, U+009B in old.csv line 3" in plan.guesses
    plan = bring_in(ledger, sheet(tmp_path, ["3", *GOOD[1:]], name="clean.csv"))
    assert not any("steer" in guess for guess in plan.guesses)


@pytest.mark.parametrize("name", ["Pacific/Auckland", "America/Los_Angeles", "Asia/Kolkata", "Europe/Berlin"])
def test_a_day_stays_that_day_where_the_tester_works(ledger, tmp_path, name):
    """Of a test only the day is known; it is that day to its daybook, though bought on it, and after a move."""
    old, new, newer = (sheet(tmp_path, [str(n), *GOOD[1:]], name=f"{n}.csv") for n in (1, 2, 3))
    bring_in(ledger, old, MAP.replace("2026-03-08", "2024-03-12"))
    ledger.set_zone(name)
    bring_in(ledger, new, MAP.replace("2026-03-08", "2024-03-12"))
    ledger.set_zone("Asia/Tokyo" if name != "Asia/Tokyo" else "Etc/UTC")
    bring_in(ledger, newer, MAP.replace("2026-03-08", "2024-03-12"))
    rows = ledger.tested_rows()
    assert {(row.day, row.bought_on, row.doubt) for row in rows} == {(date(2024, 3, 12), date(2024, 3, 12), None)}
    assert len({row.trial_at for row in rows}) == 3
    before = ledger.closing_hashes()
    for path in (old, new, newer):
        bring_in(ledger, path, MAP.replace("2026-03-08", "2024-03-12"))
    assert ledger.closing_hashes() == before
    with pytest.raises(BadInput, match="as it stands already"):
        bring_in(ledger, new, MAP.replace("2026-03-08", "2024-03-13"))


def test_a_day_stays_that_day_after_a_zone_was_corrected(ledger, tmp_path):
    """What was brought in while a wrong zone was recorded is found again once another one holds in its place."""
    ledger.set_zone("Europe/Berlin")
    old = sheet(tmp_path, GOOD)
    bring_in(ledger, old)
    ledger.set_zone("Asia/Kolkata", corrects=True)
    before = ledger.closing_hashes()
    bring_in(ledger, old)
    assert ledger.closing_hashes() == before
    assert {row.day for row in ledger.tested_rows()} == {date(2026, 3, 8)}


def test_a_copy_plans_as_it_will_write(ledger, tmp_path):
    """A day that a piece was bought and tested on is one day also where the daybook begins with the import itself."""
    ledger.close()
    place = Path(shutil.copyfile(ledger.where, tmp_path / "copy.sqlite"))
    with Ledger.open(place, write=True, begin=False, zone="Pacific/Auckland") as copy:
        bring_in(copy, sheet(tmp_path, GOOD), MAP.replace("2026-03-08", "2024-03-12"))
        assert {(row.day, row.doubt) for row in copy.tested_rows()} == {(date(2024, 3, 12), None)}
