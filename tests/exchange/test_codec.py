"""A cell and a value are two spellings of one thing."""

import csv
import io
import re
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qcledger.errors import BadInput
from qcledger.exchange import codec, csvfile
from qcledger.records import TABLES, Entry, LabelVersion, Maker, Observation, Parcel, Specimen, columns
from qcledger.text import clean
from qcledger.vocab import Censored
from tests.exchange.strategies import RAW, rows_of
from tests.hostile import FORMULAS, HOSTILE

# What makes a spreadsheet run a cell: OWASP, "CSV Injection", read from memory: = + - @, tab, carriage return, line
# feed, and the full-width forms of the first four.
LIVE = "=+-@\t\r\n\uff1d\uff0b\uff0d\uff20"
KINDS = [*TABLES.values(), Entry]


def named(kind):
    return [column.name for column in columns(kind)]


def reread(row):
    """Return the row that its cells say."""
    kind = type(row)
    return kind(**codec.values(kind, dict(zip(named(kind), codec.cells(row), strict=True)), "f.csv line 2"))


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
@given(data=st.data())
@settings(max_examples=25)
def test_every_row_survives_its_cells(kind, data):
    """A row of any table is the same after it was written to cells and read again."""
    row = data.draw(rows_of(kind))
    assert reread(row) == row


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
@given(data=st.data())
@settings(max_examples=10)
def test_every_row_survives_a_file(kind, data):
    """Rows are the same after they were written to a CSV file and read again, whatever their texts hold."""
    rows = data.draw(st.lists(rows_of(kind), max_size=3))
    text = "".join(csvfile.line(cells) for cells in [named(kind), *map(codec.cells, rows)])
    found = list(csvfile.named_rows(csvfile.text_lines(io.BytesIO(text.encode()), "f.csv"), "f.csv", named(kind)))
    assert [kind(**codec.values(kind, cells, "f.csv")) for _, cells in found] == rows


@given(st.lists(RAW, min_size=2, max_size=5))
def test_other_readers_agree_on_the_cells(cells):
    """Python's csv module, an independent reader of RFC 4180, reads the cells that were written."""
    assert list(csv.reader(io.StringIO(csvfile.line(cells), newline=""))) == [cells]


def test_pandas_agrees_on_the_cells():
    """pandas, asked for plain texts, reads the cells that were written; 007 and NA stay what they are."""
    import pandas as pd

    rows = [["id", "name", "note"], ["007", "NA", 'a "b", c'], ["1e5", "null", "two\nlines"]]
    text = "".join(csvfile.line(cells) for cells in rows)
    read = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False)
    assert [list(read.columns), *read.to_numpy().tolist()] == rows


@given(RAW)
def test_a_guard_can_be_taken_off(text):
    """Whatever a text is, guarding and unguarding gives it back, and a guarded cell is never live."""
    cell = codec.guard(text)
    assert codec.unguard(cell) == text
    assert cell[:1] == "" or cell[0] not in LIVE


@pytest.mark.parametrize("text", FORMULAS)
def test_formulas_stay_text(text):
    """A text that a spreadsheet would run is written with a quote in front and read back as it was."""
    maker = Maker(id="m", name="Quernlow", note=text)
    cell = codec.cells(maker)[2]
    assert cell.startswith("'")
    assert not re.match(f"[{re.escape(LIVE)}]", cell)
    assert reread(maker).note == text.strip()


@pytest.mark.parametrize("text", [text for text in HOSTILE if "\ud800" not in text])
def test_hostile_texts_in_lists_stay_apart(text):
    """Texts in a list keep their bounds, even with the list's own marks in them."""
    parts = (text, f"{text} | x", f"{text}\\", "|", "\\|")
    texts = tuple(kept for kept in map(clean, parts) if kept)
    assert reread(LabelVersion(id="l", paint="p", seen_on=date(2026, 1, 5), claims=texts)).claims == texts


def test_cells_look_as_documented():
    """Each kind of value has the one spelling that the module's table promises."""
    specimen = Specimen(
        id="s", sticker="OV 0147", paint="p", format="half pan", parcel="q", nominal_ml=Decimal("1E+1"), price_minor=5
    )
    said = dict(zip(named(Specimen), codec.cells(specimen), strict=True))
    assert (said["format"], said["nominal_ml"], said["price_minor"], said["lot"]) == ("half pan", "10", "5", "")
    parcel = Parcel(id="q", bought_on=date(2026, 3, 9), seller="x", currency="EUR", tax_included=False)
    said = dict(zip(named(Parcel), codec.cells(parcel), strict=True))
    assert (said["bought_on"], said["tax_included"]) == ("2026-03-09", "no")
    east = datetime(2026, 3, 9, 15, 5, tzinfo=timezone(timedelta(hours=1)))
    graded = Observation(
        id="o", trial="t", criterion="c", rubric="r", tester="x", at=east, grade=3.0, reading=-5.5, censored="above"
    )
    said = dict(zip(named(Observation), codec.cells(graded), strict=True))
    assert (said["at"], said["grade"], said["reading"]) == ("2026-03-09T14:05:00Z", "3", "-5.5")
    assert reread(graded).at == east.astimezone(UTC)
    assert reread(graded).censored is Censored.ABOVE
    label = LabelVersion(id="l", paint="p", seen_on=date(2026, 1, 5), index_names=("PY42", "a|b"))
    assert codec.cells(label)[3] == r"PY42 | a\|b"


@pytest.mark.parametrize(
    ("kind", "name", "cell", "allowed"),
    [
        (Parcel, "bought_on", "2026-02-31", "a day of the calendar, as 2026-03-09"),  # no such day: ISO 8601
        (Parcel, "bought_on", "20260309", "a day of the calendar, as 2026-03-09"),
        (Parcel, "bought_on", "2026-W11-1", "a day of the calendar, as 2026-03-09"),
        (Parcel, "shipping_minor", "1_000", "a whole number from 0 to 1000000000000, or nothing"),
        (Parcel, "shipping_minor", "٣", "a whole number from 0 to 1000000000000, or nothing"),
        (Parcel, "shipping_minor", "4.50", "a whole number from 0 to 1000000000000, or nothing"),
        (Parcel, "tax_included", "true", "yes or no"),
        (Specimen, "nominal_ml", "1,5", "digits, with '.' before the decimals"),
        (Specimen, "nominal_ml", "NaN", "digits, with '.' before the decimals"),
        (Observation, "grade", "1,5", "a number from 0 to 5 in steps of 0.5, or nothing"),
        (Observation, "reading", "inf", "a number, or nothing"),
        (Observation, "at", "2026-03-09 14:05", "a time in UTC, as 2026-03-09T14:05:00Z"),
        (Observation, "at", "2026-03-09T14:05:00+01:00", "a time in UTC, as 2026-03-09T14:05:00Z"),
    ],
)
def test_a_cell_that_is_not_allowed_is_named(kind, name, cell, allowed):
    """What Python's own readers would take, or take for something else, is refused with place, found and allowed."""
    column = next(column for column in columns(kind) if column.name == name)
    with pytest.raises(BadInput) as refused:
        codec.value(kind, column, cell, "f.csv line 7")
    assert str(refused.value) == f"f.csv line 7, {name}: found '{cell}'; allowed: {allowed}"


def test_an_empty_cell_leaves_the_default():
    """Cells and columns that are not there leave a field to its default; needed ones are asked for, each of them."""
    assert codec.values(Maker, {"id": "m", "name": "Quernlow", "note": ""}, "f.csv line 2") == {
        "id": "m",
        "name": "Quernlow",
    }
    with pytest.raises(BadInput) as refused:
        codec.values(Parcel, {"id": "q", "seller": ""}, "f.csv line 2")
    assert [str(problem).split(";")[0] for problem in refused.value.problems] == [
        "f.csv line 2, bought_on: found nothing",
        "f.csv line 2, seller: found nothing",
        "f.csv line 2, currency: found nothing",
    ]


def test_what_is_no_number_is_not_written():
    """A float that CSV cannot hold is refused when it is written, not when somebody reads it."""
    at = datetime(2026, 3, 9, tzinfo=UTC)
    graded = Observation(id="o", trial="t", criterion="c", rubric="r", tester="x", at=at, reading=float("nan"))
    with pytest.raises(ValueError, match="nan"):
        codec.cells(graded)
