"""Backup and restore: a verified copy or none, between both kinds of database."""

import errno
import shutil
from pathlib import Path

import pytest

from qcledger.errors import ChainBroken, LedgerUnavailable, NotConfirmed
from qcledger.ledger import Ledger, clean, connect, migrate, restore
from qcledger.ledger import backup as backups_of
from qcledger.ledger.sqlite import SqliteFile
from qcledger.records import Photo
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


@pytest.mark.parametrize("places", ["sqlite"], indirect=True)  # on a server what counts is the table
def test_a_copy_that_does_not_verify_is_no_backup(ledger, photo, tmp_path):
    """A backup of a spoilt ledger is refused with what is wrong; nothing is left of it."""
    ledger.photo_path(photo).write_bytes(b"spoilt")
    before = sorted(tmp_path.iterdir())
    with pytest.raises(ChainBroken, match="The copy does not verify: photo"):
        ledger.backup(tmp_path / "kept")
    assert sorted(tmp_path.iterdir()) == before


def test_a_full_disk_leaves_no_half_backup(ledger, photo, tmp_path, monkeypatch):
    """A backup that could not be finished is not there."""

    def full(*_, **__):
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
    with Ledger.open(where, write=True, letters="OV", tester="Oda Vane") as again:
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


@pytest.fixture
def kept(file, tmp_path):
    """Return the folder of a backup with two photos."""
    for name, size in (("p.jpg", (40, 30)), ("q.jpg", (30, 40))):
        (tmp_path / name).write_bytes(picture(size))
    with Ledger.open(file, write=True) as ledger:
        for name in ("p.jpg", "q.jpg"):
            ledger.add_photo(tmp_path / name, specimen="specimen")
        ledger.backup(tmp_path / "kept")
    return tmp_path / "kept"


class Killed(BaseException):
    """Stands for the end of the process: what was begun stays as it is."""


@pytest.mark.parametrize(
    "moment", ["copying", "checking", "before the photos", "between the photos", "before the name"]
)
def test_a_restore_that_was_cut_short_is_known_and_finished(kept, tmp_path, monkeypatch, moment):
    """Killed at any moment no ledger stands there; that is said, and the restore can be finished or cleared away."""
    place = tmp_path / "new" / "l.sqlite"
    place.parent.mkdir()
    (place.parent / "photos").mkdir()
    (place.parent / "photos" / "other.jpg").write_bytes(b"another ledger's")

    def kill(*_, **__):
        raise Killed

    replaced = iter(range(100))

    def move(source, target):
        if "restoring" in str(source) and next(replaced):
            raise Killed
        Path(source).rename(target)

    for end in ("finish", "clean"):
        with monkeypatch.context() as cut:
            cut.setattr(backups_of, "_take_away", lambda _: None)  # nobody is left to do it
            at, what = {
                "copying": ((backups_of.shutil, "copyfile"), kill),
                "checking": ((backups_of, "_check"), kill),
                "before the photos": ((backups_of, "_bring_photos"), kill),
                "between the photos": ((backups_of.os, "replace"), move),
                "before the name": ((SqliteFile, "take"), kill),
            }[moment]
            cut.setattr(*at, what)
            replaced = iter(range(100))
            with pytest.raises(Killed):
                restore(kept, place)
        assert not place.exists()
        for again in (lambda: restore(kept, place), lambda: Ledger.open(place), lambda: create(place)):
            with pytest.raises(LedgerUnavailable, match=r"begun and is not done.*--finish or --clean"):
                again()
        if end == "clean":
            assert clean(place)
            assert not clean(place)
            create(place).close()
        else:
            restore(kept, place, finish=True)
            with Ledger.open(place) as again:
                assert again.verify() == []
                assert all(again.photo_path(photo).is_file() for photo in again.rows(Photo))
            shutil.rmtree(place.parent / "photos")
            (place.parent / "photos").mkdir()
            (place.parent / "photos" / "other.jpg").write_bytes(b"another ledger's")
        place.unlink()
        assert [path.name for path in place.parent.rglob("*")] == ["photos", "other.jpg"]


def create(place):
    """Make a ledger at a place."""
    return Ledger.create(place, letters="OV", tester="Oda Vane")


def test_a_restore_that_fails_leaves_nothing(kept, places, tmp_path, monkeypatch, home):
    """On a full disk nothing is left of a restore, on either kind of database, and the next one works."""
    where = places.new("again")

    def full(*_, **__):
        raise OSError(errno.ENOSPC, "No space left on device")

    before = sorted([*tmp_path.rglob("*"), *home.rglob("*")])
    copy, calls = shutil.copyfile, iter(range(100))
    for at in range(4):
        calls = iter(range(100))
        with monkeypatch.context() as broken:
            broken.setattr(shutil, "copyfile", lambda *a, **k: copy(*a, **k) if next(calls) < at else full())  # noqa: B023
            if at < (2 if places.url is None else 4):
                with pytest.raises(NotConfirmed, match="Disk full"):
                    restore(kept, where)
                assert sorted([*tmp_path.rglob("*"), *home.rglob("*")]) == before
    restore(kept, where)
    with Ledger.open(where) as again:
        assert again.verify() == []


def test_an_older_backup_is_restored_and_stays_as_it_is(kept, tmp_path, monkeypatch):
    """A backup of an older version becomes a ledger of this one; the backup's own file is not touched."""
    before = sorted((path.name, path.is_file() and path.read_bytes()) for path in kept.rglob("*"))
    monkeypatch.setattr(connect, "VERSION", connect.VERSION + 1)
    monkeypatch.setattr(migrate, "STEPS", {connect.VERSION - 1: lambda _: None})
    restore(kept, tmp_path / "again.sqlite")
    assert sorted((path.name, path.is_file() and path.read_bytes()) for path in kept.rglob("*")) == before
    with Ledger.open(tmp_path / "again.sqlite") as again:
        assert again.verify() == []


def test_a_backup_holds_its_own_photos_alone(ledger, photo, tmp_path):
    """Of a photo folder that other ledgers share, only what this ledger names is copied."""
    (ledger.photos / "stray.jpg").write_bytes(b"another ledger's")
    ledger.backup(tmp_path / "kept")
    assert [path.name for path in (tmp_path / "kept" / "photos").iterdir()] == [ledger.photo_path(photo).name]
