"""The pages in a real terminal: started, left, stopped by signals, put aside, and refused where there is none."""

import os
import signal
import subprocess
import sys

import pytest

from qcledger.records import Observation
from tests.screens.terminal import terminal
from tests.small import small_ledger


@pytest.fixture
def small(home, tmp_path):
    return small_ledger(tmp_path)


def left_behind(home):
    """Return what windows that are gone have left, as it stands in their files."""
    return "".join(path.read_text(encoding="utf-8") for path in (home / "windows").glob("*/*.json"))


def open_bench(term, small, before=""):
    """Start the pages and go to the bench."""
    term.program("--ledger", str(small.place), before=before)
    term.until(lambda drawn: "all keys" in drawn)
    term.press(",", "b")
    term.until(lambda drawn: "Turns" in drawn and "all keys" in drawn)


@pytest.mark.parametrize("args", [[], ["--ledger", "nowhere.sqlite"]], ids=["own", "named"])
def test_without_a_terminal_there_is_one_line_and_code_2(args, home):
    """No escape is written into a file or pipe, nothing hangs."""
    run = subprocess.run(
        [sys.executable, "-m", "qcledger", *args],
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        timeout=60,
    )
    assert run.returncode == 2
    assert run.stdout == ""
    assert run.stderr.splitlines() == [
        "The pages need a terminal; what they show is also printed by commands, see qcledger --help."
    ]


def test_a_grade_is_on_disk_when_the_terminal_shows_it_as_saved(small, tmp_path):
    """Graded in a real terminal; what is shown as saved is found by another process while the pages are open."""
    with terminal(tmp_path) as term:
        open_bench(term, small)
        term.press("3")
        term.sees("saved ")
        with small.open() as ledger:
            assert [seen.grade for seen in ledger.rows(Observation)] == [3.0]
        term.press("C-q")
        term.sees("code=0")


def test_a_missing_ledger_says_how_to_begin_one(tmp_path):
    """One line, code 2, and the terminal as it was."""
    with terminal(tmp_path) as term:
        term.program()
        drawn = term.sees("code=2")
        assert "There is no ledger yet at" in drawn
        assert "qcledger start" in drawn.replace("\n", "")


def test_a_ledger_that_cannot_be_opened_is_told_on_the_page(tmp_path):
    """The pages stay usable, and say the one line."""
    (tmp_path / "text.sqlite").write_text("no ledger")
    with terminal(tmp_path) as term:
        term.program("--ledger", str(tmp_path / "text.sqlite"))
        term.until(lambda drawn: "is not a ledger file" in " ".join(drawn.split()))
        term.press("C-q")
        term.sees("code=0")


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP"])
def test_a_signal_ends_cleanly(name, small, tmp_path):
    """The grade just pressed is kept, the terminal is restored, and the code says which signal it was."""
    number = getattr(signal, name)
    with terminal(tmp_path) as term:
        open_bench(term, small)
        term.press("4")
        os.kill(term.pid(), number)
        drawn = term.sees(f"code={128 + number}")
        assert "Traceback" not in drawn
        term.type("stty -a | grep -c ' echo '")
        term.until(lambda drawn: drawn.rstrip().endswith("1\nready>"))
        with small.open() as ledger:
            assert len(ledger.rows(Observation)) <= 1


def test_a_terminal_that_goes_away_ends_the_program(small, tmp_path):
    """When the window is closed the program does not run on."""
    with terminal(tmp_path) as term:
        open_bench(term, small)
        process = term.pid()
        term.ask("kill-pane")
        for _ in range(200):
            state = subprocess.run(["ps", "-o", "stat=", "-p", str(process)], capture_output=True, text=True)
            if not state.stdout.strip() or state.stdout.startswith("Z"):
                break
            subprocess.run(["sleep", "0.1"], check=True)
        else:
            os.kill(process, signal.SIGKILL)
            pytest.fail("the program ran on without its terminal")


def test_the_pages_can_be_put_aside(small, tmp_path):
    r"""Ctrl+\ gives the shell back, fg the pages; Ctrl+Z undoes."""
    with terminal(tmp_path) as term:
        term.type("set -m")
        open_bench(term, small)
        term.press("C-\\")
        term.until(lambda drawn: "1 of 10" not in drawn and "ready>" in drawn)
        term.type("fg")
        term.sees("OV 0001", "1 of 10")
        term.press("3")
        term.sees("saved ")
        term.press("C-q")
        term.until(lambda drawn: "1 of 10" not in drawn)


def test_an_unexpected_error_restores_the_terminal(small, tmp_path):
    """One line says where the details are; the log has them; code 70."""
    broken = tmp_path / "sitecustomize.py"
    broken.write_text(
        "import sys\n"
        "def break_it():\n"
        "    from qcledger.screens.bench.page import Bench\n"
        "    def boom(self): raise RuntimeError('boom [/]')\n"
        "    Bench.action_cautions = boom\n"
        "import threading\n"
        "threading.Timer(3, break_it).start()\n"
    )
    with terminal(tmp_path) as term:
        open_bench(term, small, f"PYTHONPATH={tmp_path}")
        subprocess.run(["sleep", "3.5"], check=True)
        term.press("!")
        drawn = term.sees("code=70")
        assert "Traceback" not in drawn
        assert "qcledger met an error it does not know (RuntimeError)" in drawn.replace("\n", "")
        assert "boom [/]" in (tmp_path / "qcledger.log").read_text(encoding="utf-8")


def test_without_colours_everything_is_still_told(small, tmp_path):
    """With NO_COLOR no hue is written, and place, marks and save are there."""
    with terminal(tmp_path) as term:
        open_bench(term, small, "NO_COLOR=1")
        term.press("3")
        term.sees("> ", "saved ")
        hues = [part for part in term.colours.split("\x1b[")[1:] if part.startswith(("38;2;", "48;2;"))]
        values = [part.split("m")[0].split(";")[2:5] for part in hues]
        assert all(len(set(value)) == 1 for value in values)
        term.press("C-q")
        term.sees("code=0")


@pytest.mark.parametrize("size", [(120, 40), (60, 20), (20, 5)], ids=str)
def test_real_windows_of_any_size(size, small, tmp_path):
    """Grading works in each; a window that changes its size is drawn anew."""
    with terminal(tmp_path, size) as term:
        open_bench(term, small)
        term.press("3")
        term.sees("saved ")
        term.ask("resize-window", "-x", "80", "-y", "24")
        term.sees("specimen 1 of 3", "Turns 3")
        term.press("C-q")
        term.sees("code=0")


def test_the_first_paint_imports_nothing_heavy():
    """What is painted first needs no database, numbers, YAML or pictures, and no page; they come after it."""
    heavy = {"numpy", "scipy", "pandas", "sqlmodel", "sqlalchemy", "pydantic", "yaml", "PIL", "openpyxl"}
    code = (
        "import sys; import qcledger.cli.demo, qcledger.cli.pages, qcledger.screens.app, qcledger.door;"
        "print(*sorted(sys.modules))"
    )
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert {name.partition(".")[0] for name in loaded} & heavy == set()
    assert not {name for name in loaded if name.startswith(("qcledger.records", "qcledger.bench", "qcledger.ledger"))}
    assert "qcledger.screens.bench" not in loaded


def test_a_note_being_written_survives_the_end_of_the_program(small, tmp_path):
    """Stopped in the middle of a note, the next start offers the draft again; once saved it is gone."""
    with terminal(tmp_path) as term:
        open_bench(term, small)
        term.press("3")
        term.sees("saved ")
        term.press("<", "n")
        term.sees("Esc keeps the note")
        term.ask("send-keys", "-l", "stiff brush")
        term.sees("stiff brush")
        os.kill(term.pid(), signal.SIGTERM)
        term.sees(f"code={128 + signal.SIGTERM}")
        term.type("clear")
        open_bench(term, small)
        term.press("<", "n")
        term.sees("stiff brush", "Esc keeps the note")
        term.press("Escape")
        term.sees("note: stiff brush", "saved ")
        term.press("C-q")
        term.sees("code=0")
    assert left_behind(tmp_path) == ""
    with small.open() as ledger:
        assert sorted(seen.note for seen in ledger.rows(Observation)) == ["", "stiff brush"]
