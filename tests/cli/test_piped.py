"""A spreadsheet from another program, the ledger that the environment names, and what the shell completes."""

import io
import sys
from pathlib import Path

import pytest

from qcledger.cli import COMMANDS
from qcledger.exchange import readme
from qcledger.ledger import Ledger
from qcledger.records import Import, Specimen

ROWS = "Brand,Colour,Format,Bought,Seller\nDrumlaw,Ochre,tube,2024-03-12,Lindeveld\n"
MAP = """new_makers: true
columns: {Brand: maker, Colour: paint, Format: format, Bought: bought_on, Seller: seller}
"""


@pytest.fixture
def mine(tmp_path, monkeypatch):
    """Return a new ledger that the environment names."""
    place = tmp_path / "mine.sqlite"
    Ledger.create(place, letters="OV", tester="Oda Vane").close()
    monkeypatch.setenv("QCLEDGER_LEDGER", str(place))
    return place


@pytest.fixture
def piped(monkeypatch):
    """Return a function that lays bytes on stdin."""

    def lay(content: bytes) -> None:
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(content), encoding="utf-8"))

    return lay


def test_rows_come_from_stdin(cli, mine, piped, tmp_path):
    """They come in under the name they are given, and once more bring nothing; a map is guessed from them, too."""
    (tmp_path / "map.yaml").write_text(MAP)
    piped(ROWS.encode())
    assert "Brand" in cli("import", "-").out
    for told in ("1 new row, 0 already here", "0 new rows, 1 already here"):
        piped(ROWS.encode())
        run = cli("import", "-", "--map", tmp_path / "map.yaml", "--called", "stock 2024")
        assert (run.code, run.out.splitlines()[-1]) == (0, told)
    with Ledger.open(mine) as ledger:
        assert [row.name for row in ledger.rows(Import)] == ["stock 2024"]
        assert len(ledger.rows(Specimen)) == 1


@pytest.mark.parametrize("file", ["sheets/07-stars.ods", "exchange/sample.xls"])
def test_other_kinds_come_from_stdin(cli, mine, piped, file):
    """What begins as an OpenDocument spreadsheet or an XLS file does is read as one."""
    path = Path(__file__).parent.parent / file
    piped(path.read_bytes())
    told = cli("import", "-")
    assert (told.code, told.err) == (0, "")
    assert f"# What the columns of stdin{path.suffix} hold." in told.out.splitlines()


def test_a_workbook_comes_from_stdin(cli, mine, piped, tmp_path):
    """What begins as a workbook does is read as one."""
    import openpyxl

    book, content = openpyxl.Workbook(), io.BytesIO()
    for line in ROWS.splitlines():
        book.active.append(line.split(","))
    book.save(content)
    (tmp_path / "map.yaml").write_text(MAP + "called: stock 2024\n")
    piped(content.getvalue())
    assert cli("import", "-", "--map", tmp_path / "map.yaml").out.splitlines()[-1] == "1 new row, 0 already here"


def test_rows_from_stdin_want_a_name(cli, mine, piped, tmp_path):
    """Without one two sheets would pass for one sheet; nothing is stored."""
    (tmp_path / "map.yaml").write_text(MAP)
    piped(ROWS.encode())
    run = cli("import", "-", "--map", tmp_path / "map.yaml")
    assert (run.code, run.out, len(run.error_lines)) == (2, "", 1)
    assert "--called NAME" in run.err
    with Ledger.open(mine) as ledger:
        assert ledger.rows(Import) == []


MADE = (
    "export -",
    "backup -",
    "scorecard --to -",
    "publish -",
    "stickers -",
    "sheet S01 --print -",
    "card --print -",
)


@pytest.mark.parametrize("command", [*MADE, "merge -", "restore -", "import rows.csv --map -", "notes -"])
def test_a_path_is_no_stream(cli, mine, tmp_path, monkeypatch, command):
    """`-` is refused in one line wherever a file or folder is asked for, and nothing of that name is made."""
    monkeypatch.chdir(tmp_path)
    run = cli(*command.split())
    assert (run.code, run.out, len(run.error_lines)) == (2, "", 1)
    assert "'-'; allowed: a path" in run.err
    assert not (tmp_path / "-").exists()


def test_the_environment_names_the_ledger(cli, mine, tmp_path):
    """A command without --ledger works on it; --ledger comes first."""
    assert cli("export", tmp_path / "out").code == 0
    assert (tmp_path / "out" / readme.NAME).exists()
    refused = cli("export", tmp_path / "other", "--ledger", tmp_path / "none.sqlite")
    assert (refused.code, (tmp_path / "other").exists()) == (2, False)


def test_a_mistyped_command_is_answered_with_one_name(cli):
    """The nearest command is named; where none is near, none."""
    assert "; did you mean export? (--help" in cli("exprt").err
    told = cli("zzzz").err
    assert "There is no command 'zzzz'. (--help" in told
    assert not any(f" {name}," in told for name in COMMANDS)


def test_the_shell_completes_commands(cli, monkeypatch):
    """What the guide has a shell read gives it the commands that begin so."""
    monkeypatch.setenv("_QCLEDGER_COMPLETE", "bash_complete")
    monkeypatch.setenv("COMP_WORDS", "qcledger ex")
    monkeypatch.setenv("COMP_CWORD", "1")
    assert cli().out.split() == ["plain,export"]
