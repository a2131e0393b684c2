"""Files made to fill the memory are refused before they are read, in one line and in little memory."""

import io
import os
import sys
import zipfile
from pathlib import Path

import pytest

from qcledger.errors import BadInput
from qcledger.exchange import csvfile, load_map, merge_folder, to_folder, xlsxsize
from qcledger.exchange.spreadsheet import read
from qcledger.ledger import Ledger, photos
from qcledger.records import Maker, Photo
from qcledger.rubric import load
from tests.exchange.made import full, picture

MB = 1_000_000
MOST = 300 * MB
BEGIN = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
END = b"</sheetData></worksheet>"


def sheet_of(*parts):
    """Return a function that writes an XLSX file with these parts of a sheet, each a pair of bytes and a count."""

    def write(folder):
        path = folder / "old.xlsx"
        with (
            zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
            archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as sheet,
        ):
            for content, times in ((BEGIN, 1), *parts, (END, 1)):
                for _ in range(times):
                    sheet.write(content)
        return path

    return write


def table_of(content, times, begin=b""):
    """Return a function that writes a CSV file."""

    def write(folder):
        path = folder / "old.csv"
        with path.open("wb") as table:
            table.write(begin)
            for _ in range(times):
                table.write(content)
        return path

    return write


def many_files(folder):
    """Write an archive of empty files."""
    path = folder / "old.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        for number in range(xlsxsize.MOST_PARTS + 1):
            archive.writestr(f"{number}.xml", b"")
    return path


BLANKS = b" " * MB
BOMBS = {
    "500 MB of blanks": (sheet_of((BLANKS, 500)), "500 MB when unpacked"),
    "100 MB of blanks": (sheet_of((BLANKS, 100)), "a longer text"),
    "blanks between rows": (sheet_of((BLANKS[:-9] + b"<row/>", 100)), "a longer text"),
    "a cell of 100 MB": (sheet_of((b'<row><c t="inlineStr"><is><t>', 1), (b"x" * MB, 100)), "a longer text"),
    "two million cells in a row": (sheet_of((b"<row>", 1), (b"<c><v>1</v></c>" * 1000, 2000)), "a longer row"),
    "a tag of 100 MB": (sheet_of((b'<row a="', 1), (b"x" * MB, 100)), "a longer tag"),
    "a comment of 100 MB": (sheet_of((b"<!--", 1), (b"x" * MB, 100)), "a longer tag"),
    "tags of no meaning": (sheet_of((b"<x/>" * 10_000, 2000)), "more markup"),
    "tags in rows": (sheet_of((b"<row>" + b"<x/>" * 40_000 + b"</row>", 200)), "more markup"),
    "rows": (sheet_of((b"<row/>" * 10_000, 21)), "more rows"),
    "files in the archive": (many_files, "an archive of more files"),
    "100 MB of line ends": (table_of(b"\n" * MB, 100), "more than 64 MB"),
    "60 MB of line ends": (table_of(b"\n" * MB, 60), "another empty line"),
    "60 MB of returns": (table_of(b"\r" * MB, 60), "a longer line"),
    "60 MB of commas": (table_of(b"," * MB, 60), "a longer line"),
    "commas in lines": (table_of(b"x" + b"," * 20_000 + b"\n", 3000), "20001 cells"),
    "a quote that does not end": (table_of(b"x\n" * 10_000, 3000, b'"'), "field larger than field limit"),
    "rows of a table": (table_of(b"x\n", 300_000), "another row"),
    "cells of a table": (table_of(b"x" + b",x" * 400 + b"\n", 4000), "another cell"),
}


@pytest.mark.skipif(sys.platform == "win32", reason="Windows does not say how much memory a process took")
@pytest.mark.parametrize("name", BOMBS)
def test_a_bomb_is_refused_in_little_memory(tmp_path, name):
    """Whatever a spreadsheet is blown up with: one line says what, and the process stays below 300 MB."""
    from tests.exchange.measured import reading  # here, because Windows has no such processes

    write, says = BOMBS[name]
    (told,), peak = reading(write(tmp_path))
    assert told.startswith("old.")
    assert says in told
    assert peak < MOST


def test_what_spreadsheet_programs_write_is_taken(tmp_path):
    """Pretty-printed markup, prefixes, as many cells in a row as there are columns: none of it is too much."""
    row = '<x:row r="1">' + "".join(f'<x:c r="A{n}"><x:v>{n}</x:v></x:c>' for n in range(16_384)) + "</x:row>"
    blanks = "\n        " * 1000
    space = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    sheet = f'<x:worksheet xmlns:x="{space}"><x:sheetData>{blanks}{row}{blanks}</x:sheetData></x:worksheet>'
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w") as archive:
        archive.writestr("xl/worksheets/sheet1.xml", sheet)
    xlsxsize.refuse_oversized("old.xlsx", content.getvalue())
    with zipfile.ZipFile(content, "w") as archive:
        archive.writestr("xl/worksheets/sheet1.xml", sheet.replace("</x:row>", "<x:c/></x:row>"))
    with pytest.raises(BadInput, match="a longer row"):
        xlsxsize.refuse_oversized("old.xlsx", content.getvalue())


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize(
    ("name", "reads"),
    [
        ("old.csv", read),
        ("old.xlsx", read),
        ("map.yaml", load_map),
        ("rubric.yaml", load),
        ("photo.jpg", photos.read_picture),
    ],
)
def test_a_named_pipe_is_not_waited_for(tmp_path, name, reads):
    """A pipe that nobody writes to is refused as one, wherever a file is asked for."""
    os.mkfifo(tmp_path / name)
    with pytest.raises(BadInput, match="found 'a pipe'"):
        reads(tmp_path / name)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("name", ["maker.csv", "manifest.json", "entries.csv"])
def test_a_folder_with_a_pipe_is_refused(tmp_path, name):
    """A pipe in place of a folder's file is named."""
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane") as mine:
        mine.append([Maker(id="m", name="Drumlaw")])
        to_folder(mine, tmp_path / "out")
        (tmp_path / "out" / name).unlink()
        os.mkfifo(tmp_path / "out" / name)
        with pytest.raises(BadInput, match=r"a pipe|no manifest\.json"):
            merge_folder(mine, tmp_path / "out")


def sparse(path: Path, size: int) -> Path:
    """Make a file of this size that takes no room."""
    with path.open("wb") as stream:
        stream.truncate(size)
    return path


def test_a_photo_of_six_gigabytes_is_not_read(tmp_path):
    """A file that large in place of a picture is refused; in place of a filed photo, each check says so."""
    with full(tmp_path / "mine.sqlite") as mine:
        with pytest.raises(BadInput, match="more than 40 MB"):
            mine.add_photo(sparse(tmp_path / "large.jpg", 6 * 10**9))
        kept = mine.add_photo(picture(tmp_path / "face.png", "#402010"))
        sparse(mine.photo_path(kept), 6 * 10**9)
        assert any("found more than 40 MB" in str(problem) for problem in mine.verify())
        with pytest.raises(Exception, match="more than 40 MB, not a plain file"):
            to_folder(mine, tmp_path / "out")
        with pytest.raises(Exception, match="larger than a photo may be"):
            mine.backup(tmp_path / "copy")
        photos.file_picture(photos.read_picture(tmp_path / "face.png"), mine.photos)
        assert mine.photo_path(kept).read_bytes() == (tmp_path / "face.png").read_bytes()


def test_a_link_in_place_of_a_photo_is_not_followed(tmp_path):
    """The same bytes elsewhere are not the photo: verify, export and backup name the link."""
    with full(tmp_path / "mine.sqlite") as mine:
        (path,) = {mine.photo_path(photo) for photo in mine.rows(Photo) if mine.photo_path(photo).exists()}
        path.rename(tmp_path / "elsewhere.png")
        path.symlink_to(tmp_path / "elsewhere.png")
        assert any("found a link" in str(problem) for problem in mine.verify())
        with pytest.raises(Exception, match="is a link, not a plain file"):
            to_folder(mine, tmp_path / "out")
        with pytest.raises(Exception, match="is a link; photos are plain files"):
            mine.backup(tmp_path / "copy")


def test_a_large_table_of_an_exchange_folder_is_read_line_by_line(tmp_path, monkeypatch):
    """An export larger than the largest spreadsheet that may come in is merged again."""
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane") as mine:
        mine.append([Maker(id=f"m{n}", name=f"Maker {n}", note="x" * 300) for n in range(200)])
        to_folder(mine, tmp_path / "out")
        monkeypatch.setattr(csvfile, "MAX_BYTES", 30_000)
        assert (tmp_path / "out" / "entries.csv").stat().st_size > csvfile.MAX_BYTES
        with Ledger.create(tmp_path / "other.sqlite", letters="TL", tester="Tam Lark") as other:
            assert merge_folder(other, tmp_path / "out") == 201
