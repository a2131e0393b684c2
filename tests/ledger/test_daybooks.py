"""Identity: who continues which daybook, and when a new one begins."""

import json
import shutil

import pytest

from qcledger.errors import BadInput, LedgerUnavailable
from qcledger.ledger import Ledger, restore
from qcledger.ledger.daybooks import Remembered, remember, remembered
from qcledger.records import Daybook, Maker
from qcledger.settings import config_folder
from tests.ledger.given import graded, numbers, steady


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
    (home / "daybooks.json").unlink()
    with Ledger.open(file) as ledger:
        assert ledger.tested_rows()
    assert file.read_bytes() == before
    assert not (home / "daybooks.json").exists()


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
    with Ledger.open(copy, write=True, letters="BO", tester="Ben Orr") as ledger:
        assert (ledger.daybook.letters, ledger.daybook.tester) == ("BO", "Ben Orr")
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
        assert ledger.where in json.loads((config_folder() / "daybooks.json").read_text("utf-8"))
    if places.url:
        password = places.url.split(":")[2].split("@")[0]
        assert password not in (config_folder() / "daybooks.json").read_text("utf-8")
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


@pytest.mark.parametrize("content", ["", "[]", "{", '{"a": 5}', '{"a": {"stars": 5}}', '{"a": null}'])
def test_a_spoilt_memory_is_told_and_not_overwritten(file, home, content):
    """A memory file this program did not write is left as it is, and named in one line."""
    (home / "daybooks.json").write_text(content)
    with pytest.raises(BadInput, match=r"daybooks\.json"):
        Ledger.open(file, write=True)
    assert (home / "daybooks.json").read_text() == content


def test_a_memory_that_cannot_be_written_stops_a_new_daybook(file, home):
    """Where nothing can be remembered no daybook begins: its numbers could be given twice."""
    shutil.rmtree(home)
    home.write_text("a file where the folder should be")
    before = file.read_bytes()
    with pytest.raises(LedgerUnavailable, match=r"Cannot (read|write) .*daybooks\.json"):
        Ledger.open(file, write=True)
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
