"""Several terminals at once, and terminals that die: no save is lost, none fails, no number is given twice."""

import itertools
import random
import subprocess
import sys
import time
from collections import Counter

import pytest

from qcledger.errors import LedgerUnavailable
from qcledger.ledger import Ledger
from qcledger.records import Observation
from tests.ledger.given import basics, graded, numbers, tried
from tests.ledger.writer import Terminal


@pytest.fixture
def shared(places):
    """Return the place of a ledger that every process may open."""
    where = places.new("shared")
    with Ledger.create(where, letters="OV", tester="Oda Vane") as ledger:
        ledger.append(basics())
    return where


def test_several_terminals_lose_nothing_and_give_no_number_twice(shared):
    """Four processes save 25 each at the same time: none fails, nothing is lost, each number is given once."""
    writers = [Terminal(shared, f"w{number}", 25) for number in range(4)]
    confirmed = [saved for writer in writers for saved in writer.confirmed()]
    assert [writer.end() for writer in writers] == [0] * 4
    with Ledger.open(shared) as ledger:
        assert sorted(row.id for row in ledger.rows(Observation)) == sorted(confirmed)
        assert len(confirmed) == 100
        assert max(Counter(numbers(ledger)).values()) == 1
        assert ledger.verify() == []


def test_a_reader_sees_whole_saves_only(shared):
    """While another process saves, whatever a reader sees is one state: every row has its entry."""
    seen = []
    with Terminal(shared, "w", 40) as writer, Ledger.open(shared) as ledger:
        while writer.running:
            seen.append(len(ledger.tested_rows()))
            assert ledger.verify() == []
        assert len(ledger.tested_rows()) == 40 == len(list(writer.confirmed()))
    assert seen == sorted(seen)


def test_backups_of_a_busy_ledger_are_sound(shared, tmp_path):
    """Copies made while another process saves verify, and hold everything confirmed before they were begun."""
    with Terminal(shared, "w"), Ledger.open(shared) as ledger:
        for number in range(5):
            before = len(ledger.rows(Observation))
            copy = ledger.backup(tmp_path / f"copy-{number}")
            with Ledger.open(copy) as kept:
                assert kept.verify() == []
                assert len(kept.rows(Observation)) >= before


def test_a_killed_terminal_loses_no_confirmed_save(shared):
    """Killed at 20 random moments, the ledger holds all that was confirmed, at most one save more, and verifies."""
    chance = random.Random(20261125)
    known = set()
    for number in range(20):
        with Terminal(shared, f"k{number:02d}") as writer:
            told = set(itertools.islice(writer.confirmed(), chance.randint(0, 4)))
            time.sleep(chance.uniform(0, 0.02))  # anywhere in the next save or the one after it
            writer.kill()
            confirmed = known | told | set(writer.confirmed())
        with Ledger.open(shared) as ledger:
            known = {row.id for row in ledger.rows(Observation)}
        assert confirmed <= known
        assert len(known - confirmed) <= 1
    assert len(known) > 20
    with Ledger.open(shared, write=True) as ledger:
        assert ledger.verify() == []
        assert max(Counter(numbers(ledger)).values()) == 1
        assert len(ledger.closing_hashes()) == 1
        ledger.append(tried("after"))


def test_a_journal_left_by_a_crash_is_rolled_back_by_a_reader(file, tmp_path):
    """A ledger whose writer died within a commit is whole again for whoever opens it next, also for reading."""
    script = (
        "import os, sqlite3, sys\n"
        "raw = sqlite3.connect(sys.argv[1], isolation_level=None)\n"
        "raw.execute('PRAGMA cache_size = 1'); raw.execute('BEGIN IMMEDIATE')\n"
        "raw.execute('UPDATE entry SET salt = randomblob(900)')\n"
        "os.kill(os.getpid(), 9)\n"
    )
    before = file.read_bytes()
    subprocess.run([sys.executable, "-c", script, str(file)], check=False)
    assert file.with_name("ledger.sqlite-journal").exists()
    assert file.read_bytes() != before
    with Ledger.open(file) as ledger:
        assert ledger.verify() == []
    assert file.read_bytes() == before
    assert not file.with_name("ledger.sqlite-journal").exists()


def test_a_save_that_meets_an_unfinished_one_waits_for_it(file):
    """A second writer in the same process waits its turn instead of failing."""
    from concurrent.futures import ThreadPoolExecutor

    with Ledger.open(file, write=True) as ledger, ThreadPoolExecutor(8) as pool:
        saves = [pool.submit(ledger.append, tried(f"t{number}")) for number in range(40)]
        assert [len(save.result()) for save in saves] == [2] * 40
        assert max(Counter(numbers(ledger)).values()) == 1
        assert ledger.verify() == []


@pytest.mark.parametrize("stop", ["at the entry", "at the row", "at the commit"])
def test_a_save_that_fails_anywhere_leaves_nothing(ledger, monkeypatch, stop):
    """When a statement or the commit fails, neither entry nor row is there, and the same save works again."""
    import sqlite3

    from sqlalchemy import event
    from sqlalchemy.exc import OperationalError

    engine = ledger._database._write
    before = ledger.closing_hashes()
    failure = OperationalError("save", {}, sqlite3.OperationalError("disk I/O error"))

    def fail(*args):
        if (
            stop == "at the commit"
            or f"INSERT INTO {'entry' if stop == 'at the entry' else 'observation'}" in args[2]
        ):
            raise failure

    name = "commit" if stop == "at the commit" else "before_cursor_execute"
    event.listen(engine, name, fail)
    with pytest.raises(LedgerUnavailable):
        ledger.append([graded("a")])
    event.remove(engine, name, fail)
    assert ledger.closing_hashes() == before
    assert ledger.get(Observation, "a") is None
    assert len(ledger.append([graded("a")])) == 1
    assert ledger.verify() == []
