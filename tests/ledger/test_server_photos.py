"""Photos of a ledger on a server: one folder, by whatever address the ledger is reached."""

import shutil

import pytest

from qcledger.bench import filing
from qcledger.bench.newest import PictureFile
from qcledger.exchange import to_folder
from qcledger.ledger import Ledger, restore
from qcledger.ledger.chain import sha256
from qcledger.settings import data_folder
from tests.ledger.given import basics, steady
from tests.ledger.test_photos import picture


@pytest.fixture
def named(tmp_path):
    """Return the paths of two different pictures."""
    paths = []
    for name, size in (("one.jpg", (40, 30)), ("two.jpg", (30, 40))):
        paths.append(tmp_path / name)
        paths[-1].write_bytes(picture(size))
    return paths


def by_other_address(url):
    """Return the same ledger's URL with one parameter more."""
    return f"{url}&application_name=bench"


def older_folder(url):
    """Return the folder an older version filed photos in."""
    with Ledger.open(url) as ledger:
        return data_folder() / "photos" / sha256(ledger.where.encode())[:16]


def test_one_ledger_has_one_folder(server, named, tmp_path):
    """Reached by another address, the ledger has its photos, verifies, and can be exported and backed up."""
    with Ledger.create(server, letters="OV", tester="Oda Vane", sources=steady()) as ledger:
        ledger.append(basics())
        photo = ledger.add_photo(named[0], specimen="specimen")
    with Ledger.open(by_other_address(server)) as other:
        assert other.photo_path(photo).read_bytes() == named[0].read_bytes()
        assert other.verify() == []
        to_folder(other, tmp_path / "out")
        other.backup(tmp_path / "kept")
    assert len(list((data_folder() / "photos").iterdir())) == 1


def test_folders_of_older_versions_are_still_found(server, named, tmp_path):
    """Photos filed under two addresses are all there: those of the address in use move, the others are found."""
    with Ledger.create(server, letters="OV", tester="Oda Vane", sources=steady()) as ledger:
        ledger.append(basics())
        photos = [ledger.add_photo(path, specimen="specimen") for path in named]
        own = ledger.photos
    other = by_other_address(server)
    for url, photo in zip((server, other), photos, strict=True):
        older_folder(url).mkdir()
        (own / f"{photo.sha256}.jpg").rename(older_folder(url) / f"{photo.sha256}.jpg")
    own.rmdir()
    with Ledger.open(server) as ledger:
        assert ledger.verify() == []
        assert [path.name for path in own.iterdir()] == [f"{photos[0].sha256}.jpg"]
        ledger.backup(tmp_path / "kept")
        assert len(list((tmp_path / "kept" / "photos").iterdir())) == 2
    with Ledger.open(other) as ledger:
        assert ledger.verify() == []
        assert len(list(own.iterdir())) == 2
    assert [path.name for path in (data_folder() / "photos").iterdir()] == [own.name]


def test_a_ledger_without_an_id_keeps_the_older_folder(server, named):
    """One whose tables an older version made is read as before."""
    import psycopg

    with Ledger.create(server, letters="OV", tester="Oda Vane", sources=steady()) as ledger:
        ledger.append(basics())
    with psycopg.connect(server) as raw:
        raw.execute("DELETE FROM meta WHERE key = 'ledger'")
    with Ledger.open(server, write=True) as ledger:
        photo = ledger.add_photo(named[0], specimen="specimen")
        assert ledger.photo_path(photo).parent == older_folder(server)
        assert ledger.verify() == []


def test_a_restore_to_a_server_names_no_password(cli, places, file, tmp_path):
    """The place is printed as findings print it; the photos are there before the ledger is."""
    with Ledger.open(file) as ledger:
        ledger.backup(tmp_path / "kept")
    where = places.new("again")
    told = cli("restore", tmp_path / "kept", "--ledger", where)
    assert (told.code, told.err) == (0, "")
    with Ledger.open(where) as again:
        assert told.out == f"Restored: {again.where}\n"
    if places.url:
        assert places.url.split(":")[2].split("@")[0] not in told.out


def test_a_restored_copy_has_photos_of_its_own(server, places_of_two, named, tmp_path):
    """Two ledgers made from one backup share no folder: what one redacts the other keeps."""
    with Ledger.create(server, letters="OV", tester="Oda Vane", sources=steady()) as ledger:
        ledger.append(basics())
        photo = ledger.add_photo(named[0], specimen="specimen")
        ledger.backup(tmp_path / "kept")
        restore(tmp_path / "kept", places_of_two)
        ledger.redact(photo=photo.sha256, reason="a face in it")
    with Ledger.open(places_of_two) as again:
        assert again.photo_path(photo).is_file()
        assert again.verify() == []
    shutil.rmtree(tmp_path / "kept")


@pytest.fixture
def places_of_two(server):
    """Return the place for a second ledger on the same server."""
    import psycopg

    base, schema = server.split("?")[0], server.rsplit("%3D", 1)[1]
    with psycopg.connect(base, autocommit=True) as raw:
        raw.execute(f"CREATE SCHEMA {schema}_two")
    yield f"{base}?options=-csearch_path%3D{schema}_two"
    with psycopg.connect(base, autocommit=True) as raw:
        raw.execute(f"DROP SCHEMA IF EXISTS {schema}_two CASCADE")


def test_a_picture_that_was_taken_out_is_filed_again_for_everybody(server, named):
    """Its bytes are in the table again with the row that says so; before, they were gone from there and from here."""
    with Ledger.create(server, letters="OV", tester="Oda Vane", sources=steady(), zone="Etc/UTC") as ledger:
        ledger.append(basics())
        shot = PictureFile(0, 0, named[0])
        photo = filing.file_picture(ledger, shot, specimen="specimen", observation=None)
        ledger.redact(photo=photo.sha256, reason="a face in it")
        assert ledger.verify() == []
        again = filing.file_picture(ledger, shot, specimen="specimen", observation=None, caption="the pan alone")
        assert (again.id, ledger.verify()) == (photo.id, [])
        shutil.rmtree(ledger.photos)  # as on another tester's machine
        assert ledger.photo_path(again).read_bytes() == named[0].read_bytes()
        ledger.redact(photo=photo.sha256, reason="a face after all")
        assert not ledger.photo_path(again).exists()
        assert ledger.verify() == []
