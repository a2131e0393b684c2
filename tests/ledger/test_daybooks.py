"""Identity: who continues which daybook, and when a new one begins."""

import errno
import json
import multiprocessing
import os
import re
import shutil
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from qcledger.errors import BadInput, LedgerUnavailable, NotConfirmed
from qcledger.ledger import Ledger, machine, restore
from qcledger.ledger.daybooks import Remembered, remember, remembered
from qcledger.records import Daybook, Maker, Specimen
from qcledger.settings import config_folder
from tests.ledger.given import NOON, basics, graded, numbers, steady


def test_opening_again_continues_the_daybook(places):
    """The same machine goes on in its own daybook, whatever letters it is opened with."""
    where = places.new("mine")
    with Ledger.create(where, letters="OV", tester="Oda Vane") as ledger:
        mine = ledger.daybook
    for _ in range(3):
        with Ledger.open(where, write=True, letters="XX", tester="X") as ledger:
            ledger.append([Maker(id=f"m{len(ledger.rows(Maker))}", name="x")])
            assert ledger.daybook == mine
    with Ledger.open(where) as ledger:
        assert ledger.closing_hashes()[mine.id][0] == 4


def test_reading_begins_nothing(file, home):
    """A ledger opened for reading only is not written to, nor is anything remembered of it."""
    before = file.read_bytes()
    shutil.rmtree(home / "daybooks")
    with Ledger.open(file) as ledger:
        assert ledger.tested_rows()
        assert (ledger.daybook.letters, ledger.daybook.tester) == ("OV", "Oda Vane")
    assert file.read_bytes() == before
    assert list(home.iterdir()) == []


def test_a_copied_ledger_begins_a_new_daybook(file, tmp_path):
    """Two copies never write different entries under one number; and they merge afterwards."""
    copy = tmp_path / "copy" / "ledger.sqlite"
    copy.parent.mkdir()
    shutil.copyfile(file, copy)
    with Ledger.open(file, write=True) as one, Ledger.open(copy, write=True) as other:
        one.append([Maker(id="a", name="a")])
        other.append([Maker(id="b", name="b")])
        assert one.daybook.id != other.daybook.id
        assert (other.daybook.letters, other.daybook.tester) == ("OV", "Oda Vane")
        one.adopt(other.entries(), {})
        assert len(one.rows(Maker)) == 3
        assert one.verify() == []


def test_a_new_daybook_takes_the_letters_it_is_given(file, tmp_path):
    """Another tester who opens a copy says who they are."""
    copy = tmp_path / "theirs.sqlite"
    shutil.copyfile(file, copy)
    with Ledger.open(copy, write=True, letters="BO", tester="Bo Tarnfell") as ledger:
        assert (ledger.daybook.letters, ledger.daybook.tester) == ("BO", "Bo Tarnfell")
        assert len(ledger.rows(Daybook)) == 2
    shutil.copyfile(file, tmp_path / "third.sqlite")
    with pytest.raises(BadInput, match="letters"):
        Ledger.open(tmp_path / "third.sqlite", write=True, letters="TOO LONG")


def test_a_ledger_put_back_from_an_older_copy_begins_a_new_daybook(file, tmp_path):
    """When the last entry this machine saw is not there any more, its number is not given a second time."""
    shutil.copyfile(file, tmp_path / "old")
    with Ledger.open(file, write=True) as ledger:
        mine = ledger.daybook.id
        ledger.append([graded("lost", criterion="opacity")])
        lost = dict(numbers(ledger))[mine]
    shutil.copyfile(tmp_path / "old", file)
    with Ledger.open(file, write=True) as ledger:
        assert ledger.daybook.id != mine
        ledger.append([graded("new", criterion="opacity")])
        assert ledger.closing_hashes()[mine][0] == lost - 1
        assert ledger.verify() == []


def test_after_a_restore_writing_begins_a_new_daybook(file, tmp_path):
    """A restored backup is a copy, wherever it is restored to; also where the ledger was."""
    with Ledger.open(file, write=True) as ledger:
        mine = ledger.daybook.id
        ledger.backup(tmp_path / "kept")
    file.unlink()
    restore(tmp_path / "kept", file)
    with Ledger.open(file, write=True) as ledger:
        assert ledger.daybook.id != mine


def test_a_crash_does_not_end_a_daybook(file):
    """A machine that never closed the ledger still finds its daybook: what it saw last is in the chain."""
    ledger = Ledger.open(file, write=True)
    ledger.append([graded("a", criterion="opacity")])
    mine = ledger.daybook.id
    ledger._database.close()  # as a crash does: nothing is remembered
    with Ledger.open(file, write=True) as again:
        assert again.daybook.id == mine


def test_two_terminals_write_one_daybook(file):
    """Two terminals of one tester share the daybook, without a number given twice."""
    with Ledger.open(file, write=True) as one, Ledger.open(file, write=True) as two:
        for number in range(5):
            one.append([Maker(id=f"one-{number}", name="x")])
            two.append([Maker(id=f"two-{number}", name="x")])
        assert one.daybook == two.daybook
        assert one.verify() == []
        assert one.closing_hashes() == two.closing_hashes()


def test_what_is_remembered_holds_no_password(places):
    """The settings folder names the ledger's place, but never a password."""
    where = places.new("mine")
    with Ledger.create(where, letters="OV", tester="Oda") as ledger:
        (kept,) = (config_folder() / "daybooks").iterdir()
        assert json.loads(kept.read_bytes())["place"] == ledger.where
    if places.url:
        password = places.url.split(":")[2].split("@")[0]
        assert password not in kept.read_text("utf-8")
        assert password not in ledger.where


def test_several_ledgers_are_remembered_apart(tmp_path):
    """Each place has its own daybook; forgetting one leaves the others."""
    for name in "abc":
        remember(name, Remembered(f"book-{name}", 1, "hash"))
    remember("b", None)
    assert [remembered(name) for name in "abc"] == [
        Remembered("book-a", 1, "hash"),
        None,
        Remembered("book-c", 1, "hash"),
    ]


@pytest.mark.parametrize("content", ["", "[]", "{", '{"place": "a", "stars": 5}', '{"a": null}', "5"])
def test_a_spoilt_memory_is_told_and_not_overwritten(file, home, content):
    """A memory file this program did not write is left as it is, and named in one line."""
    (kept,) = (home / "daybooks").iterdir()
    kept.write_text(content)
    with pytest.raises(BadInput, match="daybooks/"):
        Ledger.open(file, write=True)
    assert kept.read_text() == content


@pytest.mark.parametrize("content", ["", "[]", "{", '{"a": 5}', '{"a": {"stars": 5}}', '{"a": null}'])
def test_a_spoilt_memory_of_an_older_version_is_told(file, home, content):
    """The same holds of the one file that older versions wrote."""
    shutil.rmtree(home / "daybooks")
    (home / "daybooks.json").write_text(content)
    with pytest.raises(BadInput, match=r"daybooks\.json"):
        Ledger.open(file, write=True)
    assert (home / "daybooks.json").read_text() == content


def as_older_version(home, file):
    """Let the settings remember of a ledger what an older version did, as it did."""
    known = remembered(str(file))
    shutil.rmtree(home / "daybooks")
    old = {str(file): {"daybook": known.daybook, "seq": known.seq, "hash": known.hash}}
    (home / "daybooks.json").write_text(json.dumps(old))
    return known


def test_a_daybook_of_an_older_version_goes_on(file, home):
    """What older versions remembered is still read, is left as it stands, and is this machine's own from then on."""
    known = as_older_version(home, file)
    before = (home / "daybooks.json").read_bytes()
    for count in range(2):
        with Ledger.open(file, write=True) as ledger:
            assert ledger.daybook.id == known.daybook
            ledger.append([Maker(id=f"m{count}", name="x")])
    assert remembered(str(file)).seq == known.seq + 2
    assert (home / "daybooks.json").read_bytes() == before


def test_a_machine_takes_what_an_older_version_remembered_once(file, home, monkeypatch):
    """Settings that one machine has gone on from are not gone on from by another they are copied to."""
    known = as_older_version(home, file)
    with Ledger.open(file, write=True) as ledger:
        ledger.append([Maker(id="m", name="x")])
    monkeypatch.setattr(machine, "mark", lambda: "another")
    with Ledger.open(file, write=True) as ledger:
        assert ledger.daybook.id != known.daybook


def test_settings_and_ledger_copied_to_another_machine_fork_nothing(file, home, tmp_path, monkeypatch):
    """Both machines write on, each in a daybook of its own, from the same folders; and all of it can be merged."""
    with Ledger.open(file, write=True) as ledger:
        mine = ledger.daybook.id
    shutil.copytree(home, tmp_path / "their home")
    kept = file.read_bytes()
    with Ledger.open(file, write=True) as ledger:
        ledger.append([Maker(id="a", name="a")])
        entries = list(ledger.entries())
    file.write_bytes(kept)  # the other machine's: the same place there
    monkeypatch.setenv("QCLEDGER_HOME", str(tmp_path / "their home"))
    monkeypatch.setattr(machine, "mark", lambda: "another")
    for _ in range(2):  # and it goes on in it
        with Ledger.open(file, write=True) as ledger:
            theirs = ledger.daybook.id
            ledger.append([Maker(id=f"b{len(ledger.rows(Maker))}", name="b")])
    assert theirs != mine
    with Ledger.open(file, write=True) as ledger:
        assert ledger.daybook.id == theirs
        assert ledger.adopt(entries, {}) == 1
        assert len(ledger.rows(Maker)) == 4
        assert ledger.verify() == []


def test_settings_that_two_machines_share_keep_a_daybook_for_each(file, monkeypatch):
    """With one home on a server, each machine goes on in its own daybook, however they take turns."""
    written = []
    for turn in range(6):
        monkeypatch.setattr(machine, "mark", lambda turn=turn: f"machine-{turn % 2}")
        with Ledger.open(file, write=True) as ledger:
            ledger.append([Maker(id=f"m{turn}", name="x")])
            written.append(ledger.daybook.id)
    assert len(set(written)) == 2
    assert written[::2] == [written[0]] * 3


def test_an_older_file_put_back_after_a_kill_begins_a_new_daybook(file, tmp_path):
    """What was saved last is known at once, not only when the ledger is closed: its number is not given twice."""
    old = shutil.copyfile(file, tmp_path / "old")
    ledger = Ledger.open(file, write=True)
    mine = ledger.daybook.id
    ledger.append([graded("lost", criterion="opacity")])
    ledger._database.close()  # as a kill does
    shutil.copyfile(old, file)
    with Ledger.open(file, write=True) as again:
        assert again.daybook.id != mine


def test_a_save_is_remembered_without_making_the_file_anew(file, home):
    """What is remembered at each save is written over in place: the file stays as long, and the same file."""
    (kept,) = (home / "daybooks").iterdir()
    before = kept.stat()
    with Ledger.open(file, write=True) as ledger:
        for count in range(12):
            ledger.append([Maker(id=f"m{count}", name="x")])
            ((_, (seq, last)),) = ledger.closing_hashes().items()
            assert remembered(str(file)) == Remembered(ledger.daybook.id, seq, last)
    assert (kept.stat().st_ino, kept.stat().st_size) == (before.st_ino, before.st_size)


def _remember_many(home: str, name: str) -> None:
    os.environ["QCLEDGER_HOME"] = home
    for number in range(100):
        remember(f"{name}-{number}", Remembered(f"book-{name}-{number}", 1, "hash"))


def test_two_programs_lose_nothing_of_what_is_remembered(home):
    """Two programs that remember a hundred ledgers each at the same time remember two hundred."""
    context = multiprocessing.get_context("forkserver")
    programs = [context.Process(target=_remember_many, args=(str(home), name)) for name in "ab"]
    for program in programs:
        program.start()
    for program in programs:
        program.join()
    known = [remembered(f"{name}-{number}") for name in "ab" for number in range(100)]
    assert [one and one.daybook for one in known] == [f"book-{n}-{m}" for n in "ab" for m in range(100)]


def test_a_commit_that_fails_begins_no_daybook(file, tmp_path, monkeypatch):
    """When the disk refuses a copy's first save, the next one begins its daybook, and nothing is amiss."""
    copy = Path(shutil.copyfile(file, tmp_path / "copy.sqlite"))
    with Ledger.open(copy, write=True, begin=False) as ledger:
        with monkeypatch.context() as broken:
            broken.setattr("sqlalchemy.engine.default.DefaultDialect.do_commit", _refuse)
            with pytest.raises(NotConfirmed):
                ledger.append([Maker(id="a", name="a")])
        assert ledger.verify() == []
        ledger.append([Maker(id="a", name="a")])
        assert ledger.verify() == []
        assert len(ledger.rows(Daybook)) == 2


def _refuse(*_):
    raise OSError(errno.EIO, "I/O error")


def test_the_mark_is_this_machines_and_does_not_tell_its_id(monkeypatch, tmp_path):
    """It is the same each time, another one on another machine, and there also where a system has no id."""
    found = []
    for content in ("a" * 32, "a" * 32 + "\n", "b" * 32, "uninitialized\n"):
        (tmp_path / "machine-id").write_text(content)
        monkeypatch.setattr(machine, "_PLACES", (tmp_path / "machine-id",))
        found.append(machine.mark.__wrapped__())
    assert found[0] == found[1]
    assert len(set(found)) == 3
    assert all(re.fullmatch("[0-9a-f]{16}", mark) for mark in found)
    assert machine.mark() == machine.mark()


def test_a_memory_that_cannot_be_written_stops_a_new_daybook(file, home):
    """Where nothing can be remembered no daybook begins: its numbers could be given twice."""
    shutil.rmtree(home)
    home.write_text("a file where the folder should be")
    before = file.read_bytes()
    with pytest.raises(LedgerUnavailable, match=r"Cannot write .*daybooks.*; nothing was saved"):
        Ledger.open(file, write=True)
    assert file.read_bytes() == before
    with Ledger.open(file, write=True, begin=False) as ledger:
        assert ledger.daybook.tester == "Oda Vane"
        with pytest.raises(LedgerUnavailable, match="nothing was saved"):
            ledger.append([Maker(id="a", name="a")])
        assert ledger.verify() == []
    assert file.read_bytes() == before


def test_a_ledger_made_where_one_was_has_its_own_daybook(tmp_path):
    """A ledger made anew at an old place does not continue the old one's daybook."""
    path = tmp_path / "l.sqlite"
    for _ in range(2):
        with Ledger.create(path, letters="OV", tester="Oda", sources=steady()) as ledger:
            assert ledger.verify() == []
        path.unlink()
    with Ledger.create(path, letters="OV", tester="Oda") as ledger:
        made = ledger.daybook.id
    assert made != "id-000001"
    with Ledger.open(path, write=True) as ledger:
        assert ledger.daybook.id == made


def test_a_new_daybook_is_not_begun_in_a_guests_name(tmp_path):
    """A copy whose last entries are a merged guest's goes on as the tester who wrote most of it."""
    place = tmp_path / "mine.sqlite"
    with Ledger.create(place, letters="OV", tester="Oda Vane", sources=steady()) as mine:
        mine.append([*basics(), graded("a")])
        with Ledger.create(
            tmp_path / "guest.sqlite", letters="TL", tester="Tilo", sources=steady(NOON + timedelta(days=9), "tl")
        ) as guest:
            guest.append([Maker(id="m", name="Halcyre")])
            mine.adopt(guest.entries(), {})
    remember(str(place), None)
    with Ledger.open(place, write=True) as again:
        assert again.daybook.letters == "OV"
        again.append([replace(again.get(Specimen, "specimen"), note="chipped")], reason="seen")
