"""What an import says: money as money, times by the tester's clock, the column's own heading, and never a bare id."""

import csv
import re
from dataclasses import replace

import openpyxl
import pytest

from qcledger.exchange import to_folder
from qcledger.ledger import Ledger
from qcledger.records import Maker, Observation, Parcel, Specimen
from tests.exchange.test_folder import STUDIO, write
from tests.exchange.test_mapped import GOOD, HEADER, MAKERS, MAP, changed, sheet
from tests.ledger.given import basics, graded

UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-|[0-9a-f]{16}")


SEEN, PARCEL = "0190c1a2-0000-7000-8000-000000000001", "0190c1a2-0000-7000-8000-000000000002"


@pytest.fixture
def place(home, tmp_path):
    """Give a ledger of a tester nine hours ahead of UTC, who knows four makers."""
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane", zone="Asia/Tokyo") as made:
        made.append([Maker(id=f"m-{name}", name=name) for name in MAKERS])
    return tmp_path / "mine.sqlite"


@pytest.fixture
def run(cli, place, tmp_path):
    """Return a function that imports a spreadsheet through a map, or a folder."""

    def run(source, *options, text=MAP):
        (tmp_path / "map.yaml").write_text(text, encoding="utf-8")
        mapped = () if source.is_dir() else ("--map", tmp_path / "map.yaml")
        return cli("import", source, *mapped, "--ledger", place, *options)

    return run


def refused(outcome):
    """Return the one line of a refusal, which holds no id."""
    (line,) = outcome.error_lines
    assert (outcome.code, outcome.out) == (2, "")
    assert not UUID.search(line)
    assert len(line) <= 200
    return line


def test_a_dry_run_speaks_of_money_and_of_days(run, tmp_path):
    """The price with its currency, of older notes the day alone, and no name of a field of the ledger."""
    told = " ".join(run(sheet(tmp_path, GOOD), "--dry-run").out.split())
    assert "first specimen: sticker OV 0001, format half pan, price 9.80 EUR" in told
    assert "first trial: occasion older notes, at 2026-03-08 " in f"{told} "
    assert "first observation: criterion rewetting_in_fives, tester Oda Vane, at 2026-03-08, grade 2" in told
    assert "first parcel: bought on 2024-03-12, seller Seller one, currency EUR" in told
    assert "price_minor" not in told
    assert "Z" not in told.replace("OZ", "")
    assert "Froth 1-10: 7 is taken as grade 3 (1 row)" in told


def test_a_dry_run_with_a_decimal_comma_shows_one(run, home, tmp_path):
    """A price is shown with the mark of the settings."""
    (home / "settings.toml").write_text('decimal_mark = ","\n', encoding="utf-8")
    assert "price 9,80 EUR" in run(sheet(tmp_path, changed(Price="9,80")), "--dry-run").out


def test_a_time_of_a_folder_is_told_by_the_testers_clock(run, tmp_path):
    """Noon in UTC is 21:00 in Tokyo, and the clock is named."""
    trial = "id,specimen,occasion,at\nt1,OV 0001,unpacking,2026-03-02T12:00:00Z\n"
    folder = write(tmp_path / "in", STUDIO | {"trial": trial, "observation": "", "decision": ""})
    for name in ("observation.csv", "decision.csv"):
        (folder / name).unlink()
    assert "first trial: occasion unpacking, at 2026-03-02 21:00 JST" in run(folder, "--dry-run").out


@pytest.mark.parametrize(
    ("row", "says"),
    [
        (changed(rewets="fine"), "rewets?: found 'fine'; allowed: '2', as it stands already for "),
        (changed(Price="10"), "Price: found '10'; allowed: '9.80 EUR', as it stands already for "),
        (changed(Bought="1.3.2024"), "Bought: found '1.3.2024'; allowed: '2024-03-12', as it stands already for "),
    ],
    ids=["grade", "price", "day"],
)  # fmt: skip
def test_a_changed_row_names_its_column_and_its_piece(run, tmp_path, row, says):
    """What stands is told in the sheet's own words, with the paint and the sticker."""
    assert run(sheet(tmp_path, GOOD)).code == 0
    line = refused(run(sheet(tmp_path, row)))
    assert line.startswith(f"old.csv line 2, {says}Drumlaw Quay Rose (OV 0001); ")


def test_a_grade_not_offered_names_the_column_as_it_is_headed(run, tmp_path):
    """Found is what stands in the cell; allowed what the criterion or the map offers."""
    plain = MAP.replace(
        "{criterion: rewetting_in_fives, words: {fine: 0, meh: 2, never: 5}}", "{criterion: rewetting_in_fives}"
    )
    line = refused(run(sheet(tmp_path, changed(rewets="7")), text=plain))
    assert line.startswith("old.csv line 2, rewets?: found 'grade 7'; allowed: 0, 1, 2, 3, 4, 5")
    line = refused(run(sheet(tmp_path, changed(rewets="often"))))
    assert line == "old.csv line 2, rewets?: found 'often'; allowed: words of the map: fine, meh, never"


def test_a_day_before_it_came_is_found_as_it_is_typed(run, tmp_path):
    """A day has no time of day in the refusal, and the cell stands there as it was written."""
    tested = MAP.replace("constants: {tested_on: 2026-03-08}\n", "").replace(
        "  Remarks: note", "  Remarks: {field: tested_on, dates: day month year}"
    )
    line = refused(run(sheet(tmp_path, [*GOOD[:-1], "1.2.2023"]), text=tested))
    assert line == "old.csv line 2, Remarks: found '1.2.2023'; allowed: 2024-03-12, when OV 0001 came, or later"


def test_a_sheet_of_several_is_named_with_its_row(run, tmp_path):
    """A workbook with more than one sheet: the file, the sheet, the row and the column."""
    book = openpyxl.Workbook()
    book.active.title = "2024"
    book.create_sheet("2025").append(["x"])
    for row in (HEADER, changed(Brand="Drumlow")):
        book["2024"].append([str(cell) for cell in row])
    for cell in book["2024"][2]:
        cell.data_type = "s"
    book.save(tmp_path / "book.xlsx")
    assert refused(run(tmp_path / "book.xlsx")).startswith("book.xlsx, sheet 2024 line 2, Brand: found 'Drumlow'")


def exported(tmp_path, place):
    """Bring a folder in, and return a copy of it as an export, whose cells hold ids."""
    with Ledger.create(tmp_path / "bench.sqlite", letters="OV", tester="Oda Vane", zone="Etc/UTC") as other:
        rows = [replace(row, id=PARCEL) if isinstance(row, Parcel) else row for row in basics()]
        rows = [replace(row, parcel=PARCEL) if isinstance(row, Specimen) else row for row in rows]
        other.append([*rows, graded(SEEN, grade=1.0)])
        to_folder(other, tmp_path / "out")
    return tmp_path / "out"


def rewritten(folder, table, **cells):
    """Write other values into the first row of a table."""
    path = folder / f"{table}.csv"
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    rows[0] |= cells
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


@pytest.mark.parametrize(
    ("table", "cells", "says"),
    [
        (
            "observation",
            {"grade": "4"},
            "grade: found '4'; allowed: '1', as it stands already for a place of session 4; ",
        ),
        ("specimen", {"nominal_ml": "9"}, "nominal_ml: found '9'; allowed: "),
        ("parcel", {"bought_on": "2026-01-02"}, "bought_on: found '2026-01-02'; allowed: '2026-02-01', as it stands"),
    ],
)
def test_a_row_of_a_folder_that_stands_names_the_way_to_change_it(run, place, tmp_path, table, cells, says):
    """Where there is a way it is named: Record, Stock, or the command; else that an import changes nothing."""
    folder = exported(tmp_path, place)
    assert run(folder).code == 0
    rewritten(folder, table, **cells)
    line = refused(run(folder))
    assert line.startswith(f"{table}.csv line 2, {says}")
    ways = {"observation": "a in Record or qcledger amend changes it", "specimen": "e in Stock changes it"}
    assert line.endswith(ways.get(table, "a row that stands is not changed here"))


def test_a_second_result_of_a_trial_names_the_way_to_change_the_first(run, place, tmp_path):
    """A row under a label of one's own about what was graded already."""
    folder = exported(tmp_path, place)
    assert run(folder).code == 0
    rewritten(folder, "observation", id="mine", grade="4")
    line = refused(run(folder))
    assert line == (
        "observation.csv line 2, criterion: found 'evenness'; allowed: one result in a trial; "
        "a in Record or qcledger amend changes the one that stands"
    )


def test_a_refused_time_of_a_folder_is_told_by_the_testers_clock(run, tmp_path):
    """What is found is the cell as it is typed; what is allowed has the tester's clock."""
    rows = STUDIO["observation"].replace("Oda Vane,2026-03-02T12:00:00Z,0", "Oda Vane,2093-03-02T12:00:00Z,0")
    line = refused(run(write(tmp_path / "in", STUDIO | {"observation": rows})))
    assert line.startswith(
        "observation.csv line 4, at: found '2093-03-02T12:00:00Z'; allowed: nothing later than now, "
    )
    assert line.endswith(" JST")


def test_nothing_came_in_of_what_was_refused(run, place, tmp_path):
    """A refused sheet leaves no row behind."""
    refused(run(sheet(tmp_path, changed(Price="-1"))))
    with Ledger.open(place) as ledger:
        assert ledger.rows(Specimen) == []
        assert ledger.rows(Observation) == []
