"""A terminal that sends anything and goes away at any moment: what was typed is kept, and the program ends."""

import fcntl
import json
import os
import pty
import signal
import sqlite3
import struct
import subprocess
import sys
import termios
import threading
import time
from contextlib import contextmanager

import pytest

from qcledger.records import Observation
from qcledger.settings import HOME_VARIABLE
from tests.screens.terminal import PATIENCE_S
from tests.small import small_ledger

FAST = """
import fcntl, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
from qcledger.screens import app, desk
desk.LEAVE_S = 1.0
desk.Desk.close.__defaults__ = (1.0,)
app.FAREWELL_S = 2.0
from qcledger.ledger import sqlite
sqlite._SECONDS_TO_WAIT = {wait}
from qcledger.cli import main
main()
"""
"""Starts the program as the one of its terminal, with shorter waits: a test has less time than a tester."""


class Raw:
    """The program in a terminal whose every byte a test gives; what is drawn is gathered."""

    def __init__(self, place, home, wait=30):
        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.before = termios.tcgetattr(slave)
        self.slave = slave
        env = {**os.environ, HOME_VARIABLE: str(home), "TERM": "xterm-256color"}
        for told in ("COLUMNS", "LINES"):
            env.pop(told, None)
        self.process = subprocess.Popen(
            [sys.executable, "-c", FAST.format(wait=wait), "--ledger", str(place)],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            env=env,
            start_new_session=True,
        )
        self.drawn = b""
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self):
        while True:
            try:
                part = os.read(self.master, 65536)
            except OSError:
                return
            if not part:
                return
            self.drawn += part

    def sees(self, *words, after=0):
        """Wait until all these words were drawn, from a place in what was drawn on."""
        self.until(lambda: all(word.encode() in self.drawn[after:] for word in words))

    def until(self, true):
        """Wait until something is so."""
        end = time.monotonic() + 3 * PATIENCE_S
        while time.monotonic() < end:
            if true():
                return
            time.sleep(0.05)
        raise AssertionError(self.drawn[-3000:])

    def type(self, typed):
        """Type bytes, as a terminal sends them."""
        os.write(self.master, typed)

    def hang_up(self):
        """Close the terminal; the kernel tells the program."""
        os.close(self.slave)
        self.slave = -1
        os.close(self.master)
        self.master = -1

    def ends(self):
        """Return the exit code, once the program has ended."""
        return self.process.wait(timeout=3 * PATIENCE_S)


@contextmanager
def raw(place, home, **kwargs):
    """Give a terminal with the program in it, which ends with the test."""
    term = Raw(place, home, **kwargs)
    try:
        yield term
    finally:
        if term.process.poll() is None:
            term.process.kill()
            term.process.wait()
        for handle in (term.slave, term.master):
            if handle >= 0:
                os.close(handle)


@contextmanager
def locked(place):
    """Hold the ledger as another program does in the middle of a long save."""
    other = sqlite3.connect(place, isolation_level=None, timeout=30)
    other.execute("BEGIN EXCLUSIVE")
    try:
        yield
    finally:
        other.rollback()
        other.close()


@pytest.fixture
def small(home, tmp_path):
    return small_ledger(tmp_path)


def at_bench(term):
    """Open the sheet at work."""
    term.sees("Loose ends", "all keys")
    term.until(lambda: b"to do" in term.drawn or b"nothing is due" in term.drawn.lower())
    term.type(b",b")
    term.sees("Turns")


def grades(small):
    """Return the grades on disk."""
    with small.open() as ledger:
        return [seen.grade for seen in ledger.rows(Observation)]


def kept(home):
    """Return what windows that are gone have left."""
    return [json.loads(path.read_text(encoding="utf-8")) for path in (home / "windows").glob("*/*.json")]


BAD = {
    "a byte that is never UTF-8": b"\xff",
    "an accent of Latin-1": b"caf\xe9 ",
    "half a character": b"\xe2\x82 ",
    "a surrogate": b"\xed\xa0\x80",
    "a broken paste": b"\x1b[200~from \xc3\x28 paste \xfe\x1b[201~",
    "half a character by its number": b"\x1b[55296;1;55296u",
    "a number beyond all characters": b"\x1b[97;1;99999999u",
}


def test_what_is_no_text_is_left_out_and_the_rest_stands(small, tmp_path):
    """Typed or pasted into notes one after another: the program says so, goes on, and keeps every other letter."""
    with raw(small.place, tmp_path) as term:
        at_bench(term)
        term.type(b"3")
        term.sees("saved ")
        for number, typed in enumerate(BAD.values()):
            begun = len(term.drawn)
            term.type(b"<n")
            term.sees("Esc keeps the note", after=begun)
            term.type(f"before{number} ".encode())
            term.sees(f"before{number}")
            begun = len(term.drawn)
            term.type(typed)
            term.sees("left out", after=begun)
            term.type(f"after{number} ".encode())
            term.sees(f"after{number}")
            term.type(b"\x1b")
            term.until(lambda count=number + 2: len(grades(small)) == count)
        term.type(b"\x11")
        assert term.ends() == 0
    with small.open() as ledger:
        notes = " ".join(seen.note for seen in ledger.rows(Observation) if seen.note)
    for number in range(len(BAD)):
        assert f"before{number}" in notes
        assert f"after{number}" in notes


def test_a_closed_terminal_ends_the_program_while_the_ledger_is_locked(small, tmp_path):
    """It does not run on; the grades pressed meanwhile are kept, and the next start saves them."""
    with raw(small.place, tmp_path) as term:
        at_bench(term)
        with locked(small.place):
            before = len(term.drawn)
            term.type(b"3")
            term.sees("...", after=before)
            term.hang_up()
            assert term.ends() == 128 + signal.SIGHUP
    assert grades(small) == []
    with raw(small.place, tmp_path) as term:
        term.sees("Not in the ledger", "turns 3", "Enter saves them")
        term.type(b"\r")
        term.sees("1 of 1 saved")
        assert grades(small) == [3.0]
        term.type(b"\x11")
        assert term.ends() == 0
    assert kept(tmp_path) == []


def test_a_second_signal_changes_nothing(small, tmp_path):
    """A hang-up, then a terminate, while the ledger is locked: the first one's code, and the terminal as it was."""
    with raw(small.place, tmp_path) as term:
        at_bench(term)
        with locked(small.place):
            before = len(term.drawn)
            term.type(b"3")
            term.sees("...", after=before)
            os.kill(term.process.pid, signal.SIGHUP)
            time.sleep(0.2)
            os.kill(term.process.pid, signal.SIGTERM)
            assert term.ends() == 128 + signal.SIGHUP
        assert termios.tcgetattr(term.slave)[:4] == term.before[:4]
        assert b"\x1b[?1049l" in term.drawn
    assert len(kept(tmp_path)[0]["saves"]) == 1


def test_leaving_counts_what_is_not_saved(small, tmp_path):
    """Ctrl+Q right behind a digit whose save fails: one line, code 2, and the grade is kept for the next start."""
    with raw(small.place, tmp_path, wait=0.2) as term:
        at_bench(term)
        with locked(small.place):
            term.type(b"3\x11")
            assert term.ends() == 2
        term.sees("1 save did not reach the ledger: In use by another terminal")
        term.sees("1 save is kept; the next start asks about it.")
    assert grades(small) == []
    assert len(kept(tmp_path)[0]["saves"]) == 1


def test_a_killed_program_leaves_the_note_that_was_being_typed(small, tmp_path):
    """Killed without warning in the middle of a word: the next start has the note in its place."""
    with raw(small.place, tmp_path) as term:
        at_bench(term)
        term.type(b"3")
        term.sees("saved ")
        term.type(b"<n")
        term.sees("Esc keeps the note")
        for letter in b"stiff brush, cold wat":
            term.type(bytes([letter]))
            time.sleep(0.05)  # the hand never rests as long as a pause would have to be
        term.until(lambda: any("stiff" in str(one["drafts"]) for one in kept(tmp_path)))
        term.process.kill()
    with raw(small.place, tmp_path) as term:
        at_bench(term)
        term.type(b"<n")
        term.sees("Esc keeps the note", "stiff")
        term.process.kill()


def test_a_killed_program_leaves_the_grade_that_a_locked_ledger_holds_up(small, tmp_path):
    """Killed without warning while a save waits: the next start asks about it."""
    with raw(small.place, tmp_path) as term:
        at_bench(term)
        with locked(small.place):
            term.type(b"4")
            term.until(lambda: any(one["saves"] for one in kept(tmp_path)))
            term.process.kill()
            term.process.wait()
    with raw(small.place, tmp_path) as term:
        term.sees("Not in the ledger", "turns 4")
        term.process.kill()
