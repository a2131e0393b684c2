"""``qcledger import`` brings rows in, or says in one line a bad row why none came in."""

import sys

import pytest
from PIL import Image

from qcledger.ledger import Ledger
from qcledger.records import Import, Maker, Specimen
from tests.exchange.test_folder import STUDIO, write
from tests.exchange.test_mapped import GOOD, MAKERS, MAP, changed, rows_of_five_hundred, sheet


@pytest.fixture
def place(tmp_path):
    """Give a ledger that knows four makers."""
    with Ledger.create(tmp_path / "mine.sqlite", letters="OV", tester="Oda Vane", zone="Etc/UTC") as made:
        made.append([Maker(id=f"m-{name}", name=name) for name in MAKERS])
    return tmp_path / "mine.sqlite"


@pytest.fixture
def run(cli, place, tmp_path):
    """Return a function that imports a spreadsheet with the map, or a folder."""
    (tmp_path / "map.yaml").write_text(MAP, encoding="utf-8")

    def run(source, *options):
        mapped = () if source.is_dir() else ("--map", tmp_path / "map.yaml")
        return cli("import", source, *mapped, "--ledger", place, *options)

    return run


def test_five_hundred_rows_then_none(run, tmp_path):
    """The first run says 500 new, the second 500 already here, and leaves the file as it is."""
    path = sheet(tmp_path, *rows_of_five_hundred())
    first = run(path)
    assert (first.code, first.err) == (0, "")
    assert first.out.splitlines()[-1] == "500 new rows, 0 already here"
    assert "specimen           500 new" in first.out
    before = (tmp_path / "mine.sqlite").read_bytes()
    second = run(path)
    assert (second.code, second.err) == (0, "")
    assert second.out.splitlines()[-1] == "0 new rows, 500 already here"
    assert (tmp_path / "mine.sqlite").read_bytes() == before


def test_a_dry_run_shows_and_changes_nothing(run, place, tmp_path):
    """A dry run prints counts, what is taken for granted and the first rows; the ledger is the same byte for byte."""
    before = place.read_bytes()
    outcome = run(sheet(tmp_path, GOOD, ["2", *GOOD[1:]]), "--dry-run")
    assert (outcome.code, outcome.err) == (0, "")
    lines = outcome.out.splitlines()
    assert lines[0] == "Taken for granted: old.csv: cells are divided by semicolon"
    assert "Taken for granted: Froth 1-10: 7 is taken as grade 3 (2 rows)" in lines
    assert "specimen             2 new" in lines
    assert "first specimen: sticker OV 0001, format half pan, price 9.80 EUR, note" in outcome.out
    assert "rubric_text          1 new" in lines
    assert [word for word in ("first rubric_text", "advised", "censored", "retail") if word in outcome.out] == []
    assert lines[-1] == "2 new rows, 0 already here; dry run, nothing changed"
    assert place.read_bytes() == before


def test_a_dry_run_of_a_copy_begins_no_daybook(cli, run, place, tmp_path):
    """Not even a daybook is begun in a ledger this machine has not written to."""
    copy = tmp_path / "copy.sqlite"
    copy.write_bytes(place.read_bytes())
    sheet(tmp_path, GOOD)
    for options in (["--dry-run"], []):
        source = "old.csv" if options else "bad.csv"
        (tmp_path / "bad.csv").write_text("Brand\nx\n")
        cli("import", tmp_path / source, "--map", tmp_path / "map.yaml", "--ledger", copy, *options)
        assert copy.read_bytes() == place.read_bytes()


def test_a_guess_is_printed_and_changes_nothing(cli, tmp_path, place):
    """With --guess, or without a map, a map is printed with the line that says how to go on."""
    before = place.read_bytes()
    sheet(tmp_path, GOOD)
    guess = cli("import", tmp_path / "old.csv", "--guess", "--ledger", place)
    assert (guess.code, guess.err) == (0, "")
    assert "  \"Brand\": maker  # sure; such as 'Drumlaw'" in guess.out.splitlines()
    assert guess.out.splitlines()[-1].endswith("qcledger import old.csv --map FILE --dry-run")
    assert cli("import", tmp_path / "old.csv").out == guess.out
    assert place.read_bytes() == before


def test_each_row_is_told_before_it_is_made(cli, tmp_path, place):
    """With --rows a dry run says of each row what it becomes, and of each cell what is left out and why."""
    sheet(tmp_path, changed(Batch="-"))
    (tmp_path / "map.yaml").write_text("new_makers: true\n" + MAP, encoding="utf-8")
    files = (tmp_path / "old.csv", "--map", tmp_path / "map.yaml", "--ledger", place)
    told = cli("import", *files, "--dry-run", "--rows")
    assert (told.code, told.err) == (0, "")
    assert "row 2: new, Drumlaw Quay Rose half pan" in told.out.splitlines()
    assert "rewets? 'meh': rewetting in fives grade 2" in " ".join(told.out.split())
    assert "E2 '-' is left out: '-' says nothing, as the map has it" in " ".join(told.out.split())
    assert cli("import", *files, "--rows").code == 2


def test_refused_rows_are_told_beside_the_others(cli, tmp_path, place):
    """A row that cannot be read, or says something else than last time, is told with cell, value and paint."""
    (tmp_path / "map.yaml").write_text(MAP, encoding="utf-8")
    files = ("--map", tmp_path / "map.yaml", "--ledger", place)
    assert cli("import", sheet(tmp_path, GOOD, ["2", *GOOD[1:]]), *files).code == 0
    rows = [
        changed(Price="8.00"),
        ["2", *GOOD[1:]],
        ["3", *changed(Bought="soon", rewets="so so")[1:]],
        ["4", *GOOD[1:]],
    ]
    told = cli("import", sheet(tmp_path, *rows), *files, "--dry-run", "--rows")
    assert told.code == 2
    lines = told.out.splitlines()
    assert [line for line in lines if line.startswith("row")] == [
        "row 2: changed, Drumlaw Quay Rose half pan 007",
        "row 3: already here, Drumlaw Quay Rose half pan 007",
        "row 4: refused, Drumlaw Quay Rose hp 007",
        "row 5: new, Drumlaw Quay Rose half pan 007",
    ]
    said = " ".join(told.out.split())
    assert "H2 '8.00' is refused: allowed: '9.80 EUR', as it stands already for Drumlaw Quay Rose" in said
    assert "F4 'soon' is refused: allowed: a day" in said
    assert "I4 'so so' is refused: allowed: words of the map: fine, meh, never" in said
    assert told.error_lines[0].startswith("old.csv line 2, Price: found '8.00'")


def test_a_guess_goes_on_from_a_map(cli, tmp_path):
    """--guess with --map keeps what the map says of the layout, and guesses the columns below it."""
    (tmp_path / "old.csv").write_text("My list\n\nA;B\nBrand;Froth\nDrumlaw;2\n", encoding="utf-8")
    (tmp_path / "map.yaml").write_text("header_line: 4\ncolumns: {}\n", encoding="utf-8")
    told = cli("import", tmp_path / "old.csv", "--guess", "--map", tmp_path / "map.yaml")
    assert (told.code, told.err) == (0, "")
    assert "header_line: 4" in told.out
    assert '"Brand": maker' in told.out


def test_a_folder_comes_in(run, place, tmp_path):
    """Hand-made tables and their picture come in, and the second time nothing."""
    folder = write(tmp_path / "in", STUDIO)
    assert run(folder).out.splitlines()[-1] == "14 new rows, 2 already here"  # its makers are known
    assert run(folder).out == "0 new rows, 16 already here\n"
    with Ledger.open(place) as ledger:
        assert len(ledger.rows(Specimen)) == 2


def lines_of(outcome):
    assert (outcome.code, outcome.out) == (2, "")
    return outcome.error_lines


def unknown_maker(tmp_path):
    return sheet(tmp_path, changed(Brand="Drumlow")), "old.csv line 2, Brand: found 'Drumlow'; allowed: makers of"


def decimal_comma(tmp_path):
    return sheet(
        tmp_path, changed(Price="9,80")
    ), "old.csv line 2, Price: found '9,80'; allowed: a number such as 12.5, with '.'"


def negative_price(tmp_path):
    return sheet(tmp_path, changed(Price="-1")), "old.csv line 2, Price: found '-1'; allowed: 0 or more"


def unknown_currency(tmp_path):
    return sheet(tmp_path, changed(Price="9.80 XYZ")), "old.csv line 2, Price: found 'XYZ'; allowed: one of AUD"


def no_such_day(tmp_path):
    return sheet(tmp_path, changed(Bought="31.2.2024")), "old.csv line 2, Bought: found '31.2.2024'; allowed: a day"


def header_missing(tmp_path):
    return sheet(tmp_path, GOOD, header=GOOD), "old.csv, header: found 'no column Brand'; allowed: the columns"


def in_folder(tmp_path, **tables):
    return write(tmp_path / "in", STUDIO | tables)


def grade_seven(tmp_path):
    rows = STUDIO["observation"].replace(",3,o1", ",7,o1")
    return in_folder(tmp_path, observation=rows), "observation.csv line 2, grade: found '7'; allowed: a number"


def grade_two_not_offered(tmp_path):
    rows = "trial,criterion,rubric,tester,at,grade\nt1,cracked,packaging,Oda Vane,2026-03-02T12:00:00Z,2\n"
    return in_folder(tmp_path, observation=rows), "observation.csv line 2: found 'grade 2'; allowed: 0, 1, 3, 5"


def folder_maker(tmp_path):
    rows = "maker,name\nDrumlow,Rose\n"
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "paint.csv").write_text(rows)
    return (
        folder,
        "paint.csv line 2, maker: found 'Drumlow'; allowed: an id or label in maker.csv, an id",
    )


def folder_price(tmp_path):
    rows = STUDIO["specimen"].replace(",475", ",-475")
    return in_folder(tmp_path, specimen=rows), "specimen.csv line 2, price_minor: found '-475'; allowed: a whole"


def folder_day(tmp_path):
    rows = STUDIO["parcel"].replace("02-01", "02-31")
    return in_folder(tmp_path, parcel=rows), "parcel.csv line 2, bought_on: found '2026-02-31'; allowed: a day of the"


def folder_currency(tmp_path):
    rows = STUDIO["parcel"].replace("EUR", "XYZ")
    return in_folder(tmp_path, parcel=rows), "parcel.csv line 2, currency: found 'XYZ'; allowed: one of AUD"


def folder_header(tmp_path):
    return in_folder(tmp_path, lot="l1,p1,half pan,D7\n"), "lot.csv line 1: found 'column l1'; allowed: a header"


def folder_latin_1(tmp_path):
    folder = in_folder(tmp_path)
    (folder / "maker.csv").write_bytes("id,name\nm1,Drumläw\n".encode("latin-1"))
    return folder, "maker.csv line 2: found 'byte 0xE4'; allowed: UTF-8 text"


def no_image(tmp_path):
    folder = in_folder(tmp_path)
    (folder / "photos" / "front.png").write_text("not a picture")
    return folder, "photo.csv line 2, front.png: found"


def two_hundred_megapixels(tmp_path):
    folder = in_folder(tmp_path)
    Image.new("1", (20_000, 10_000)).save(folder / "photos" / "front.png")
    return folder, "photo.csv line 2, front.png: found"


@pytest.mark.parametrize(
    "case",
    [unknown_maker, folder_maker, grade_seven, grade_two_not_offered, no_image, two_hundred_megapixels,
     folder_latin_1, header_missing, folder_header, no_such_day, folder_day, negative_price, folder_price,
     unknown_currency, folder_currency, decimal_comma],
    ids=lambda case: case.__name__,
)  # fmt: skip
def test_bad_input_is_one_line_and_changes_nothing(run, place, tmp_path, case):
    """Each kind of bad input is one clear line of at most 200 characters on stderr, exit code 2, nothing stored."""
    source, says = case(tmp_path)
    before = place.read_bytes()
    (line,) = lines_of(run(source))
    assert line.startswith(says)
    assert "; allowed: " in line
    assert len(line) <= 200
    assert place.read_bytes() == before
    assert not (tmp_path / "photos").exists()


def test_every_bad_row_is_a_line(run, place, tmp_path):
    """Of 500 rows with three bad ones, stderr has exactly those three, in order, and nothing is stored."""
    rows = rows_of_five_hundred()
    rows[16][1], rows[99][5], rows[400][7] = "Drumlow", "31.2.2024", "9,80"
    before = place.read_bytes()
    lines = lines_of(run(sheet(tmp_path, *rows)))
    assert [line.split(":")[0] for line in lines] == [
        "old.csv line 18, Brand",
        "old.csv line 101, Bought",
        "old.csv line 402, Price",
    ]
    assert place.read_bytes() == before


@pytest.mark.parametrize(
    "args",
    [
        ("in", "--map", "map.yaml"),
        ("in", "--guess"),
        ("absent.csv",),
        ("absent.csv", "--map", "map.yaml"),
        ("old.csv", "--map", "absent.yaml"),
    ],
)
def test_arguments_that_do_not_fit_are_one_line(cli, place, tmp_path, monkeypatch, args):
    """A folder with a map, a file that is not there, a map that is not there: one line each."""
    monkeypatch.chdir(tmp_path)
    write(tmp_path / "in", {})
    sheet(tmp_path, GOOD)
    (tmp_path / "map.yaml").write_text(MAP, encoding="utf-8")
    outcome = cli("import", *args, "--ledger", place)
    assert len(lines_of(outcome)) == 1


def test_the_decimal_mark_of_the_settings_counts(run, home, tmp_path, place):
    """With a decimal comma in settings.toml, 9,80 is read as it is meant."""
    (home / "settings.toml").write_text('decimal_mark = ","\n', encoding="utf-8")
    assert run(sheet(tmp_path, changed(Price="9,80"))).code == 0
    with Ledger.open(place) as ledger:
        assert ledger.rows(Specimen)[0].price_minor == 980


def test_a_stopped_import_stores_nothing(run, place, tmp_path, monkeypatch):
    """Ctrl-C while rows are checked, or while they are written, is one line; ledger and photos stay as they are."""
    from qcledger.exchange import draft
    from qcledger.ledger import writing

    folder = write(tmp_path / "in", STUDIO)
    before = place.read_bytes()

    def stop(*args, **kwargs):
        raise KeyboardInterrupt

    for module, name in ((draft, "tidy"), (writing, "write_rows")):
        with monkeypatch.context() as patch:
            patch.setattr(module, name, stop)
            outcome = run(folder)
        assert (outcome.code, outcome.out, outcome.err.strip()) == (130, "", "Stopped; nothing was stored.")
        assert place.read_bytes() == before
        assert not list((tmp_path / "photos").glob("*"))


def test_hostile_names_are_printed_as_text(cli, place, tmp_path):
    """A cell that would steer the terminal is shown without what steers it."""
    row = changed(Brand="\x1b[31mDrum\x1b]0;x\x07")
    (tmp_path / "map.yaml").write_text(MAP, encoding="utf-8")
    outcome = cli("import", sheet(tmp_path, row), "--map", tmp_path / "map.yaml", "--ledger", place)
    (line,) = lines_of(outcome)
    assert line.isprintable()


@pytest.mark.parametrize("is_terminal", [True, False])
def test_a_bar_appears_on_a_terminal_only(monkeypatch, capsys, is_terminal):
    """Work that takes longer than the patience of a second shows a bar on a terminal's stderr; else nothing."""
    from qcledger.cli import progress

    monkeypatch.setattr(progress, "PATIENCE", -1)
    monkeypatch.setattr(sys.stderr, "isatty", lambda: is_terminal, raising=False)
    assert list(progress.shown("Reading rows", [1, 2, 3])) == [1, 2, 3]
    assert list(progress.shown("Reading rows", [])) == []
    printed = capsys.readouterr()
    assert printed.out == ""
    assert ("Reading rows" in printed.err) is is_terminal


def test_quick_work_shows_no_bar(monkeypatch, capsys):
    """Work that is done within a second shows no bar, even on a terminal."""
    from qcledger.cli import progress

    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    assert list(progress.shown("Reading rows", [1, 2, 3])) == [1, 2, 3]
    assert capsys.readouterr().err == ""


def test_older_notes_are_shown_where_nothing_counts_yet(cli, tmp_path):
    """After a first import the findings say what the older notes hold, and do not say that no fault was seen."""
    cli("start", "--letters", "AB", "--tester", "Ada Binder")
    (tmp_path / "mine.csv").write_text("Brand,Colour,Wets,Tested\nNimwell,Rust,hard,2025-03-02\n", encoding="utf-8")
    (tmp_path / "map.yaml").write_text(
        "new_makers: true\nconstants: {format: half pan, seller: not noted, bought_on: 2025-01-02}\n"
        "columns:\n  Brand: maker\n  Colour: paint\n  Tested: {field: tested_on, dates: year month day}\n"
        "  Wets: {criterion: rewetting_in_fives, words: {hard: 5}}\n",
        encoding="utf-8",
    )
    brought = cli("import", tmp_path / "mine.csv", "--map", tmp_path / "map.yaml")
    assert (brought.code, brought.err) == (0, "")
    told = cli("findings").out
    assert "nothing that counts yet" in told
    assert "1 in older notes, 1 faulty" in told
    assert "No fault seen" not in told


def test_a_sheet_is_called_what_the_command_says(run, place, tmp_path):
    """Another sheet under the same file name is refused with the way out, and comes in with it."""
    assert run(sheet(tmp_path, GOOD)).code == 0
    path = sheet(tmp_path, changed(Bought="3.2.2025"))
    (line,) = lines_of(run(path))
    assert line.endswith("another sheet: --called NAME; corrected: qcledger imports NAME --take-back")
    assert run(path, "--called", "stock 2025").out.splitlines()[-1] == "1 new row, 0 already here"
    (line,) = lines_of(run(path, "--called", " "))
    assert line == "--called: found nothing; allowed: a name of 1 to 200 characters"
    with Ledger.open(place) as ledger:
        assert [row.name for row in ledger.rows(Import)] == ["old.csv", "stock 2025"]
