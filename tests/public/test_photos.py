"""Reduced copies of photos: pixels alone, made once, whole or not at all, and gone with what was taken out."""

import hashlib
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image, PngImagePlugin

from qcledger.cli.progress import shown
from qcledger.ledger import Ledger
from qcledger.public import photos, place
from qcledger.public.photos import LARGE, SMALL, KeptCopies
from qcledger.settings import photo_copies

PLACE = b"N 51 28 38 GPS"
WORDS = b"Sallowmark was here"
MARKS = (PLACE, WORDS, b"Exif", b"http://ns.adobe.com", b"ICC_PROFILE", b"tEXt", b"iTXt", b"eXIf")


def photo(colour: str = "red", size: tuple[int, int] = (800, 600)) -> bytes:
    """Return a JPEG that says in EXIF, XMP and a comment who took it, and where."""
    image, out = Image.new("RGB", size, colour), BytesIO()
    exif = Image.Exif()
    exif[0x010E] = WORDS.decode()
    exif.get_ifd(0x8825)[0x001B] = PLACE
    image.save(
        out, "JPEG", exif=exif, comment=WORDS, xmp=b"<x>" + WORDS + b"</x>", icc_profile=b"ICC_PROFILE" + WORDS * 20
    )
    return out.getvalue()


def png() -> bytes:
    """Return a PNG with the same words in its chunks."""
    image, out, info = Image.new("RGB", (80, 60), "blue"), BytesIO(), PngImagePlugin.PngInfo()
    info.add_text("Comment", WORDS.decode())
    info.add_itxt("XML:com.adobe.xmp", WORDS.decode())
    image.save(out, "PNG", pnginfo=info)
    return out.getvalue()


def filed(folder: Path, content: bytes, kind: str = "jpg") -> Path:
    """Return a file under the SHA-256 of its bytes, as a ledger files photos."""
    path = folder / f"{hashlib.sha256(content).hexdigest()}.{kind}"
    path.write_bytes(content)
    return path


def segments(content: bytes) -> list[int]:
    """Return the markers of a JPEG up to its pixels."""
    found, at = [], 2
    while content[at + 1] != 0xDA:
        found.append(content[at + 1])
        at += 2 + int.from_bytes(content[at + 2 : at + 4], "big")
    return found


@pytest.fixture
def undecoded(monkeypatch):
    """Return a function after which nothing more may be decoded."""

    def none(*_):
        pytest.fail("decoded again")

    return lambda: monkeypatch.setattr(photos, "reduced", none)


@pytest.mark.parametrize("size", [SMALL, LARGE])
@pytest.mark.parametrize(("content", "kind"), [(photo(), "jpg"), (png(), "png")])
def test_what_a_camera_wrote_is_in_no_byte_of_a_copy(tmp_path, content, kind, size):
    """Place, words and profile stand in the photo and not in its copy, which has no part for such things at all."""
    path = filed(tmp_path, content, kind)
    assert WORDS in content
    assert kind == "png" or PLACE in content
    for copy in (KeptCopies().copy(path, kind, size), KeptCopies().copy(path, kind, size)):
        assert copy is not None
        assert not [mark for mark in MARKS if mark.lower() in copy.content.lower()]
        assert set(segments(copy.content)) <= {0xE0, 0xDB, 0xC0, 0xC2, 0xC4}  # JFIF, tables, frame
        assert max(copy.width, copy.height) <= size[0]
        assert copy.sha256 == hashlib.sha256(copy.content).hexdigest()


def test_a_copy_is_made_once(tmp_path, undecoded):
    """A second look, by another program, decodes nothing and gives the same bytes; each size is its own."""
    path = filed(tmp_path, photo())
    first, large = KeptCopies().copy(path, "jpg"), KeptCopies().copy(path, "jpg", LARGE)
    undecoded()
    kept = KeptCopies()
    assert (kept.copy(path, "jpg"), kept.copy(path, "jpg", LARGE)) == (first, large)
    assert first != large


@pytest.mark.parametrize("spoil", [lambda _: b"", lambda content: content[:-9], lambda _: photo("blue")])
def test_a_kept_file_that_is_not_what_was_written_is_made_again(tmp_path, spoil):
    """Cut short, emptied or put in its place: what is shown is made of the photo's own pixels."""
    path = filed(tmp_path, photo())
    first = KeptCopies().copy(path, "jpg")
    (file,) = photo_copies().iterdir()
    file.write_bytes(spoil(file.read_bytes()))
    assert KeptCopies().copy(path, "jpg") == first


def test_no_copy_outlives_its_photo(tmp_path):
    """A photo that is gone is not shown, though a copy of it was kept, and the copy goes too."""
    path = filed(tmp_path, photo())
    kept = KeptCopies()
    kept.copy(path, "jpg")
    path.unlink()
    assert kept.copy(path, "jpg") is None
    assert list(photo_copies().iterdir()) == []


def test_a_photo_that_is_taken_out_takes_its_copies_with_it(tmp_path):
    """Redacting a photo removes its reduced copies, of both sizes, and those of no other photo."""
    one, other = tmp_path / "one.jpg", tmp_path / "other.jpg"
    one.write_bytes(photo())
    other.write_bytes(photo("blue"))
    with Ledger.create(tmp_path / "a.sqlite", letters="OV", tester="OV") as ledger:
        rows = [ledger.add_photo(path) for path in (one, other)]
        for row in rows:
            for size in (SMALL, LARGE):
                KeptCopies().copy(ledger.photo_path(row), row.kind, size)
        assert len(list(photo_copies().iterdir())) == 4
        ledger.redact(photo=rows[0].sha256, reason="a face in the mirror")
    assert {path.name[:64] for path in photo_copies().iterdir()} == {rows[1].sha256}


def test_a_folder_that_cannot_be_written_to_costs_time_alone(tmp_path):
    """Where copies cannot be kept they are made each time; a page gets them all the same."""
    path, taken = filed(tmp_path, photo()), tmp_path / "taken"
    taken.write_text("a file")
    kept = KeptCopies(taken)
    assert kept.copy(path, "jpg") == kept.copy(path, "jpg") == photos.reduced(path, "jpg")


def test_stopped_in_the_middle_nothing_is_half(tmp_path, monkeypatch):
    """Ctrl+C while photos are made leaves whole copies, no part of one, and no page; the next time goes on."""
    some = {str(n): (filed(tmp_path, photo(colour)), "jpg") for n, colour in enumerate(("red", "blue", "green"))}
    real, done = photos.os.getpid, []

    def stop():
        done.append(1)
        if len(done) == 2:
            raise KeyboardInterrupt
        return real()

    monkeypatch.setattr(photos.os, "getpid", stop)
    with pytest.raises(KeyboardInterrupt):
        place.larger(some, shown)
    assert len(list(photo_copies().glob("*.jpg"))) == 1
    assert list(photo_copies().glob("*.part")) == []
    page = tmp_path / "card.html"
    larger = place.larger(some, shown)
    place.write(page, "x", larger)
    assert sorted(one.name for one in (tmp_path / "card-photos").iterdir()) == ["0.jpg", "1.jpg", "2.jpg"]


def test_few_copies_are_kept_for_good(tmp_path, monkeypatch):
    """Beyond so many files the oldest go, and a copy that went is made again."""
    monkeypatch.setattr(photos, "MOST_FILES", 3)
    kept = KeptCopies()
    paths = [filed(tmp_path, photo(colour, (90, 60))) for colour in ("red", "blue", "green", "gray")]
    first = [kept.copy(path, "jpg") for path in paths]
    assert len(list(photo_copies().iterdir())) <= 3
    assert [KeptCopies().copy(path, "jpg") for path in paths] == first
