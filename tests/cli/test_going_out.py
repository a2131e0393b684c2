"""Photos on their way out: no word of theirs goes with them, and an edition that is stopped was never there."""

import hashlib
import os
from io import BytesIO

import pytest
from PIL import Image

from qcledger.cli import findings
from qcledger.ledger import Ledger
from qcledger.public import photos, place
from qcledger.records import Publication, Statement
from qcledger.settings import photo_copies
from tests.cli.test_publish import WHOLE, rows
from tests.public.made import as_settled
from tests.public.test_photos import MARKS, segments
from tests.public.test_photos import photo as with_metadata
from tests.screens.findings.support import shelf_ledger

ALL_THE_SAME = (*WHOLE, "--captions-read", "--all-the-same", "The maker of this test cannot be asked.")
FAULTY = "ob1.0.0.0evenness"
"""An observation of a faulty piece of the shelf."""
SECRETS = (*MARKS, b"Sallowmark", b"party", b"2019-07-14", b"2019:07:14", b"14 July 2019")
"""What the camera wrote, what the file was called, and its day."""
LONG_AGO = 1_563_100_000
"""14 July 2019, as the time of a file."""


@pytest.fixture
def shelf(home, tmp_path, monkeypatch):
    """Return a ledger in which a fault is settled, and a faulty piece has a photo that tells who, where and when."""
    real = findings.of_ledger
    monkeypatch.setattr(findings, "of_ledger", lambda *args, **named: as_settled(real(*args, **named)))
    where, file = shelf_ledger(tmp_path), tmp_path / "Sallowmark party 2019-07-14.jpg"
    image = Image.open(BytesIO(with_metadata()))
    exif = image.getexif()
    exif[0x0132] = "2019:07:14 10:00:00"
    image.save(file, "JPEG", exif=exif, comment=b"Sallowmark was here")
    os.utime(file, (LONG_AGO, LONG_AGO))
    with Ledger.open(where, write=True, letters="OV", tester="OV") as ledger:
        ledger.add_photo(file, caption="the edge", observation=FAULTY)
    return where


def everything(folder):
    """Return the files of a folder that go out, by name."""
    return {one.name: one.read_bytes() for one in folder.rglob("*") if one.is_file()}


def test_no_word_of_a_photo_goes_out_with_it(cli, shelf, tmp_path):
    """Page, data, letter, pictures and larger photos tell neither camera, place, day nor a file's name."""
    out = tmp_path / "out"
    out.mkdir()
    assert cli("scorecard", "--to", out / "card.html", "--ledger", shelf).code == 0
    for face in ("md", "csv", "json"):
        assert cli("scorecard", "--as", face, "--to", out / f"card.{face}", "--ledger", shelf).code == 0
    assert cli("letter", "Corvannet", "--html", out / "letter.html", "--ledger", shelf).code == 0
    assert cli("picture", "--every", "--to", out, "--ledger", shelf).code == 0
    found = everything(out)
    larger = [name for name in found if name.endswith(".jpg")]
    assert len(larger) == 1
    assert b"data:image/jpeg;base64," in found["card.html"]
    assert b"data:image/jpeg;base64," in found["letter.html"]
    assert any(name.endswith(".png") for name in found)
    for name, content in found.items():
        ours = b"iTXt" if name.endswith(".png") else b""  # the words of a picture, for those who do not see it
        said = [mark for mark in SECRETS if mark != ours and (mark in content or mark.decode() in name)]
        assert said == [], name
    assert set(segments(found[larger[0]])) <= {0xC0, 0xC4, 0xDB, 0xE0}
    (path,) = out.rglob("*.jpg")
    assert path.stat().st_mtime > LONG_AGO + 10**8


@pytest.mark.parametrize(
    ("owner", "name"),
    [(photos, "reduced"), (place, "larger"), (place, "_exchange"), (Ledger, "append")],
    ids=["a copy", "a larger copy", "the page", "the record"],
)
def test_an_edition_that_is_stopped_was_never_there(cli, shelf, tmp_path, monkeypatch, owner, name):
    """Ctrl+C while photos, page or record are made: no page, no part, no kept edition, no row; the next is whole."""
    out = tmp_path / "out"
    out.mkdir()

    def stopped(*_, **__):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(owner, name, stopped)
        assert cli("publish", out / "card.html", *ALL_THE_SAME, "--ledger", shelf).code == 130
    assert everything(out) == {}
    assert list(out.iterdir()) == []
    assert rows(shelf, Publication) == rows(shelf, Statement) == []
    assert everything(shelf.parent / "editions") == {}
    assert list(photo_copies().glob("*.part")) == []
    assert cli("publish", out / "card.html", *ALL_THE_SAME, "--ledger", shelf).code == 0
    (edition,) = rows(shelf, Publication)
    assert edition.number == 1


def test_stopped_once_it_was_recorded_the_edition_stays(cli, shelf, tmp_path, monkeypatch):
    """Ctrl+C that comes behind the last step takes no page away from an edition that is recorded."""
    page, real = tmp_path / "card.html", Ledger.append

    def late(self, *args, **named):
        real(self, *args, **named)
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(Ledger, "append", late)
        assert cli("publish", page, *ALL_THE_SAME, "--ledger", shelf).code == 130
    (edition,) = rows(shelf, Publication)
    assert hashlib.sha256(page.read_bytes()).hexdigest() == edition.sha256
    assert cli("verify", "--against", page, "--ledger", shelf).code == 0


def test_an_editions_own_page_is_kept_and_held_against_others(cli, shelf, tmp_path):
    """What went out lies beside the ledger; another page is told by its first other text; a spoiled one is named."""
    page = tmp_path / "card.html"
    assert cli("publish", page, *ALL_THE_SAME, "--ledger", shelf).code == 0
    (kept,) = (shelf.parent / "editions").iterdir()
    content = page.read_bytes()
    assert kept.read_bytes() == content
    assert kept.stem == hashlib.sha256(content).hexdigest()
    page.write_bytes(content.replace(b"Sticks.", b"Nothing.", 1))
    told = cli("verify", "--against", page, "--ledger", shelf)
    assert told.code == 1
    assert any("Nothing." in line and "Sticks." in line for line in told.error_lines)
    page.write_bytes(content.replace(b"</body>", b"<br></body>", 1))
    assert "every text alike" in cli("verify", "--against", page, "--ledger", shelf).err
    kept.write_bytes(content + b" ")
    spoiled = cli("verify", "--ledger", shelf)
    assert spoiled.code == 1
    assert any("edition 1" in line and "other bytes" in line for line in spoiled.error_lines)
    kept.unlink()
    assert cli("verify", "--ledger", shelf).code == 0
