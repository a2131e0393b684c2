"""Other people's CSV, XLSX and XLS files are read as they stand, or refused with their line."""

import random
import zipfile
from contextlib import suppress
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest

from qcledger.errors import BadInput
from qcledger.exchange import xls, xlsxsize
from qcledger.exchange.layout import Layout
from qcledger.exchange.spreadsheet import read
from qcledger.exchange.table import unread_line


def saved(tmp_path, text, name="old.csv"):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def book(tmp_path, rows, **more):
    """Save rows as an XLSX file; `more` are further sheets by name."""
    made = openpyxl.Workbook()
    for title, content in {"Tests": rows, **more}.items():
        sheet = made.active if title == "Tests" else made.create_sheet(title)
        sheet.title = title
        for row in content:
            sheet.append(row)
    made.save(tmp_path / "old.xlsx")
    return tmp_path / "old.xlsx"


def cells(sheet):
    return [(row.number, dict(row.cells)) for row in sheet.rows]


@pytest.mark.parametrize(("mark", "name"), [(",", "comma"), (";", "semicolon"), ("\t", "tab")])
def test_the_delimiter_is_guessed_and_said(tmp_path, mark, name):
    """The mark that stands most often in the header outside quotes divides cells, and the guess is told."""
    sheet = read(saved(tmp_path, f'Brand{mark}"a,b;c"{mark}Note\nQuernlow{mark}1{mark}\n'))
    assert sheet.header == ("Brand", "a,b;c", "Note")
    assert cells(sheet) == [(2, {"Brand": "Quernlow", "a,b;c": "1"})]
    assert sheet.guesses == (f"old.csv: cells are divided by {name}",)


def test_a_map_may_say_the_delimiter_and_header(tmp_path):
    """With the delimiter and the header's line told, nothing is guessed; what stands above is told as left out."""
    path = saved(tmp_path, "My tests, all of them\n\nBrand;Note\nQuernlow;a,b\n")
    sheet = read(path, delimiter="semicolon", header_line=3)
    assert cells(sheet) == [(4, {"Brand": "Quernlow", "Note": "a,b"})]
    assert sheet.guesses == ("left out of row 1: it stands above the headings (1 cell)",)


def test_texts_stay_as_they_are(tmp_path):
    """007 stays, NA is a text, quotes may hold line ends, and a byte order mark is no part of the header."""
    text = '\ufeffLot,Note\r\n007,NA\r\n1e5,"two\r\nlines"\r\n,\r\nnull,=1+1\r\n'
    assert cells(read(saved(tmp_path, text))) == [
        (2, {"Lot": "007", "Note": "NA"}),
        (3, {"Lot": "1e5", "Note": "two\nlines"}),
        (6, {"Lot": "null", "Note": "=1+1"}),
    ]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "line 1: found nothing; allowed: a header"),
        ("\n,,\n", "line 1: found nothing; allowed: a header"),
        ("Brand,Brand\nx,y\n", "line 1: found 2 columns named 'Brand'; allowed: each name once"),
        ("Brand\nx,y\n", "line 2: found 'y' under no header"),
        ("Brand,\nx,y\n", "line 2: found 'y' under no header"),
        ('Brand,Note\nx,"y\n', "line 2: found 'unexpected end of data'"),
        ('Brand,Note\n"x"z,y\n', "line 2: found "),
        (f"Brand,{'x' * 201}", "line 1: found a header of 201 characters; allowed: at most 200"),
        (",".join(f"c{n}" for n in range(501)), "line 1: found 501 columns; allowed: at most 500"),
    ],
)
def test_a_csv_that_is_unclear_is_refused(tmp_path, text, says):
    """Missing or doubled headers and broken quotes are refused with their line."""
    with pytest.raises(BadInput) as refused:
        read(saved(tmp_path, text), delimiter="comma")
    assert f"old.csv {says}" in str(refused.value)


@pytest.mark.parametrize(
    ("encoding", "named"), [("cp1252", "cp1252"), ("utf-16", "utf-16"), ("utf-16-le", "utf-16-le"), ("utf-8", None)]
)
def test_encodings_are_guessed_and_said(tmp_path, encoding, named):
    """UTF-16 shows itself, what is not UTF-8 is taken as cp1252, and each but UTF-8 is told."""
    sheet = read(saved(tmp_path, "Brand,Notiz\nDrumläw,„Honig“\n".encode(encoding)))
    assert cells(sheet) == [(2, {"Brand": "Drumläw", "Notiz": "„Honig“"})]
    assert [one for one in sheet.guesses if "read as" in one] == ([f"old.csv: read as {named}"] if named else [])


def test_the_first_line_may_name_the_delimiter(tmp_path):
    """A line `sep=;`, which spreadsheet programs write and swallow, is no row."""
    sheet = read(saved(tmp_path, "sep=;\nBrand;Note\nDrumlaw;a,b,c,d\n"))
    assert [row.cells for row in sheet.rows] == [{"Brand": "Drumlaw", "Note": "a,b,c,d"}]


def test_an_xlsx_keeps_its_types(tmp_path):
    """Days come as days, numbers as the decimals that are shown, texts as texts; empty rows do not count."""
    rows = [
        ["Bought", "Lot", "Price", "n", "Yes"],
        [datetime.fromisoformat("2024-03-12"), "007", 9.8, 3.0, True],
        [],
        [None, 12, 0.1],
    ]
    sheet = read(book(tmp_path, rows))
    assert cells(sheet) == [
        (2, {"Bought": date(2024, 3, 12), "Lot": "007", "Price": Decimal("9.8"), "n": Decimal(3), "Yes": "True"}),
        (4, {"Lot": Decimal(12), "Price": Decimal("0.1")}),
    ]
    assert sheet.guesses == ()


def test_leading_zeros_that_are_shown_are_kept(tmp_path):
    """A number formatted with leading zeros is the text that is shown."""
    path = book(tmp_path, [["Lot"], [7]])
    made = openpyxl.load_workbook(path)
    made.active["A2"].number_format = "000"
    made.save(path)
    assert cells(read(path)) == [(2, {"Lot": "007"})]


def test_the_first_sheet_is_guessed_and_said(tmp_path):
    """Of several sheets the first is read, which is told; another can be named, an absent one is refused."""
    path = book(tmp_path, [["Brand"], ["Drumlaw"]], Prices=[["Brand"], ["Halcyre"]])
    seen = read(path)
    assert seen.guesses == ("old.xlsx: sheet Tests, the first of 2",)
    assert list(unread_line(seen.name, seen.unread)) == ["old.xlsx: not read: sheet Prices"]
    assert cells(read(path, sheet="Prices")) == [(2, {"Brand": "Halcyre"})]
    with pytest.raises(BadInput, match="found 'no sheet Papers'; allowed: a sheet of cells: Tests, Prices"):
        read(path, sheet="Papers")


def test_a_formula_without_its_value_is_refused(tmp_path):
    """A formula whose value was never saved is not taken for an empty cell."""
    with pytest.raises(BadInput, match=r"old\.xlsx line 2: found 'a formula in B2 without its value'"):
        read(book(tmp_path, [["Brand", "Sum"], ["Drumlaw", "=1+1"]]))


def test_what_is_no_xlsx_is_refused(tmp_path, monkeypatch):
    """A text, a ZIP archive of something else and one that unpacks to too much are each one line."""
    with pytest.raises(BadInput, match="found 'a file that is not XLSX'"):
        read(saved(tmp_path, "Brand\n", "old.xlsx"))
    with zipfile.ZipFile(tmp_path / "zip.xlsx", "w") as archive:
        archive.writestr("a.txt", "x")
    with pytest.raises(BadInput, match="allowed: an XLSX file"):
        read(tmp_path / "zip.xlsx")
    monkeypatch.setattr(xlsxsize, "MAX_UNPACKED", 1000)
    with pytest.raises(BadInput, match="kB when unpacked"):
        read(book(tmp_path, [["Brand"]]))


def with_sheet(path, content):
    """Replace the XML of the first sheet of an XLSX file."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    parts["xl/worksheets/sheet1.xml"] = content(parts["xl/worksheets/sheet1.xml"])
    with zipfile.ZipFile(path, "w") as archive:
        for name, part in parts.items():
            archive.writestr(name, part)
    return path


def multiplied(xml):
    entities = "".join(f'<!ENTITY e{n + 1} "{f"&e{n};" * 10}">' for n in range(12))
    cell = '<c t="inlineStr"><is><t>&e12;</t></is></c>'
    kinds = f'<!DOCTYPE x [<!ENTITY e0 "Drumlaw">{entities}]>'
    return f"{kinds}<worksheet><sheetData><row>{cell}</row></sheetData></worksheet>".encode()


@pytest.mark.parametrize("harm", [multiplied, lambda xml: xml[:-60], lambda xml: b"", lambda xml: b"<x/>"])
def test_a_broken_sheet_is_refused(tmp_path, harm):
    """A sheet whose XML multiplies entities, breaks off or is something else is one line and is not expanded."""
    path = with_sheet(book(tmp_path, [["Brand"], *[["Drumlaw"]] * 200]), harm)
    with pytest.raises(BadInput, match=r"old\.xlsx") as refused:
        read(path)
    assert len(refused.value.problems) == 1


@pytest.mark.parametrize("name", ["old.numbers", "old", "old.CSV.gz"])
def test_other_kinds_of_file_are_refused(tmp_path, name):
    """Only endings that say text, XLSX, ODS or XLS are read."""
    with pytest.raises(BadInput, match=r"allowed: \.csv, \.tsv, \.txt, \.xlsx"):
        read(saved(tmp_path, "x", name))


def test_a_missing_file_is_one_line(tmp_path):
    """A path without a file says so."""
    with pytest.raises(BadInput, match="no such file or directory"):
        read(tmp_path / "absent.csv")
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(BadInput, match="a folder"):
        read(tmp_path / "folder.csv")


XLS = Path(__file__).parent / "sample.xls"
"""Two sheets as an old program saved them: a title, padded numbers, days, pounds, a red cell, a hidden row."""


def test_an_xls_file_is_read_with_what_hands_did_to_it():
    """Texts, numbers as they are shown, days and the sheet's other name; fills and hidden rows count as in XLSX."""
    seen = read(XLS, header_line=3, layout=Layout(hidden=False, colours={"ff0000": "red"}))
    assert seen.guesses[0] == "sample.xls: sheet Pans, the first of 2"
    assert seen.unread == ("Shops",)
    first, second = seen.rows
    assert first.cells["No"] == "001"
    assert first.cells["Paint"] == "Grüne Erde"
    assert first.cells["Bought"] == date(2003, 3, 9)
    assert (first.cells["Price"], first.cells["Price"].currency) == (Decimal("3.4"), "GBP")
    assert first.cells["Froth 1-10"] == Decimal(7)
    assert first.cells["Remarks"] == "=1+1 as text"
    assert (second.cells["Bought"], second.cells["Mark"]) == (date(1999, 12, 31), "red")
    assert [one.value for one in seen.left if one.why == "the row is hidden"][:2] == ["003", "Hidden"]
    assert [row.cells for row in read(XLS, sheet="Shops").rows] == [{"Shop": "One"}]
    with pytest.raises(BadInput, match=r"no sheet Papers.*Pans, Shops"):
        read(XLS, sheet="Papers")


def test_a_damaged_xls_file_is_refused_in_one_line(tmp_path):
    """Whatever bytes are lost or wrong, it is read or refused as bad input; what is no XLS says how to save it."""
    content, chance = XLS.read_bytes(), random.Random(7)
    for number in range(150):
        damaged = bytearray(content)
        for _ in range(chance.randrange(1, 8)):
            damaged[chance.randrange(len(damaged))] = chance.randrange(256)
        path = tmp_path / f"{number}.xls"
        path.write_bytes(bytes(damaged[: chance.choice([len(damaged), len(damaged) // 2])]))
        with suppress(BadInput):
            read(path)
    (tmp_path / "large.xls").write_bytes(content + bytes(xls.MOST_BYTES))
    with pytest.raises(BadInput, match="at most 16 MB; save it as XLSX"):
        read(tmp_path / "large.xls")
    (tmp_path / "page.xls").write_text("<table><tr><td>x</td></tr></table>")
    with pytest.raises(BadInput, match="save it there as XLSX"):
        read(tmp_path / "page.xls")
