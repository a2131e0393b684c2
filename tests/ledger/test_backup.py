"""Backup and restore: a verified copy or none, between both kinds of database."""

import errno
import shutil
from pathlib import Path

import pytest

from qcledger.errors import ChainBroken, LedgerUnavailable, NotConfirmed
from qcledger.ledger import Ledger, restore
from tests.ledger.given import everything, graded
from tests.ledger.test_photos import picture
from tests.ledger.test_verify import edit


@pytest.fixture
def photo(ledger, tmp_path):
    """Return a photo filed in the ledger."""
    path = tmp_path / "p.jpg"
    path.write_bytes(picture())
    return ledger.add_photo(path, specimen="specimen")


def test_a_backup_says_the_same(ledger, photo, tmp_path):
    """The copy has the same entries, rows and photos, and says so without the original."""
    ledger.append([graded("a")])
    path = ledger.backup(tmp_path / "kept")
    assert path == tmp_path / "kept" / "ledger.sqlite"
    with Ledger.open(path) as copy:
        assert list(copy.entries()) == list(ledger.entries())
        assert everything(copy) == everything(ledger)
        assert copy.photo_path(photo).read_bytes() == ledger.photo_path(photo).read_bytes()
        assert copy.photos == tmp_path / "kept" / "photos"
        assert copy.verify() == []


def test_a_backup_replaces_nothing(ledger, tmp_path):
    """A backup is a new folder; what is there already stays."""
    (tmp_path / "kept").mkdir()
    (tmp_path / "kept" / "ledger.sqlite").write_text("older")
    with pytest.raises(LedgerUnavailable, match="There is already something at"):
        ledger.backup(tmp_path / "kept")
    assert (tmp_path / "kept" / "ledger.sqlite").read_text() == "older"
    with pytest.raises(LedgerUnavailable, match="No such file or directory"):
        ledger.backup(tmp_path / "no" / "kept")


def test_a_copy_that_does_not_verify_is_no_backup(ledger, photo, tmp_path):
    """A backup of a spoilt ledger is refused with what is wrong; nothing is left of it."""
    ledger.photo_path(photo).write_bytes(b"spoilt")
    before = sorted(tmp_path.iterdir())
    with pytest.raises(ChainBroken, match="The copy does not verify: photo"):
        ledger.backup(tmp_path / "kept")
    assert sorted(tmp_path.iterdir()) == before


def test_a_full_disk_leaves_no_half_backup(ledger, photo, tmp_path, monkeypatch):
    """A backup that could not be finished is not there."""

    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(shutil, "copyfile", full)
    before = sorted(tmp_path.iterdir())
    with pytest.raises(NotConfirmed, match="Disk full"):
        ledger.backup(tmp_path / "kept")
    assert sorted(tmp_path.iterdir()) == before


def test_a_restored_ledger_says_the_same(ledger, photo, places, tmp_path):
    """From a backup the ledger is made again, on either kind of database, with its photos."""
    ledger.append([graded("a")])
    before = everything(ledger), ledger.closing_hashes()
    where = places.new("again")
    ledger.backup(tmp_path / "kept")
    restore(tmp_path / "kept", where)
    with Ledger.open(where, write=True) as again:
        assert again.photo_path(photo).read_bytes() == ledger.photo_path(photo).read_bytes()
        assert again.verify() == []
        rows, closing = everything(again), again.closing_hashes()
        assert {book: closing[book] for book in before[1]} == before[1]
        assert set(closing) == {*before[1], again.daybook.id}
        assert {name: found for name, found in rows.items() if name != "daybook"} == {
            name: found for name, found in before[0].items() if name != "daybook"
        }


def test_a_restore_replaces_nothing_and_takes_no_spoilt_backup(file, tmp_path):
    """A restore needs a free place and a backup that verifies."""
    with Ledger.open(file) as ledger:
        kept = ledger.backup(tmp_path / "kept")
    with pytest.raises(LedgerUnavailable, match="There is already a file at"):
        restore(tmp_path / "kept", file)
    edit(kept, "UPDATE observation SET grade = 5.0")
    with pytest.raises(ChainBroken, match="The copy does not verify: observation first"):
        restore(tmp_path / "kept", tmp_path / "again.sqlite")
    assert not (tmp_path / "again.sqlite").exists()
    with pytest.raises(LedgerUnavailable, match="There is no ledger at"):
        restore(tmp_path / "nowhere", tmp_path / "again.sqlite")


def test_a_single_file_can_be_restored_too(file, tmp_path):
    """A ledger file that was copied by hand while nobody wrote is as good as a backup's."""
    copy = Path(shutil.copyfile(file, tmp_path / "by-hand.sqlite"))
    restore(copy, tmp_path / "again.sqlite")
    with Ledger.open(tmp_path / "again.sqlite") as again:
        assert len(again.tested_rows()) == 1
