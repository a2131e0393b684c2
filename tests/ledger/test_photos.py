"""Photos: durable before they are spoken of, original bytes kept, hostile files refused in one line."""

import os
import struct
import warnings
import zlib
from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path

import pytest
from PIL import ExifTags, Image

from qcledger.errors import BadInput, ChainBroken, LedgerUnavailable, NotConfirmed
from qcledger.ledger import Ledger
from qcledger.ledger import photos as filing
from qcledger.ledger.chain import sha256
from qcledger.records import Photo
from tests.ledger.given import basics, graded, steady


def picture(size=(40, 30), kind="JPEG", **options):
    """Return the bytes of a picture."""
    made = BytesIO()
    Image.new("RGB", size, (20, 90, 60)).save(made, kind, **options)
    return made.getvalue()


def exif(orientation=1, taken="2026:03:09 14:05:00", zone="+02:00"):
    """Return EXIF data as a camera writes them."""
    made = Image.Exif()
    made[ExifTags.Base.Orientation] = orientation
    details = made.get_ifd(ExifTags.IFD.Exif)
    details[ExifTags.Base.DateTimeOriginal] = taken
    if zone:
        details[ExifTags.Base.OffsetTimeOriginal] = zone
    return made


@pytest.fixture
def shot(tmp_path):
    """Return the path of a JPEG as a camera held sideways writes it."""
    path = tmp_path / "IMG_0147.JPG"
    path.write_bytes(picture(exif=exif(6)))
    return path


def test_a_photo_is_filed_by_its_hash_with_its_bytes_as_they_came(ledger, shot):
    """The original bytes lie under their SHA-256; the record says how the picture looks, and when it was taken."""
    photo = ledger.add_photo(shot, specimen="specimen", caption="crack\x1b")
    content = shot.read_bytes()
    assert ledger.photo_path(photo).read_bytes() == content
    assert ledger.photo_path(photo).name == f"{sha256(content)}.jpg"
    assert ledger.get(Photo, photo.id) == photo
    assert (photo.width, photo.height) == (30, 40)
    assert photo.taken_at == datetime(2026, 3, 9, 12, 5, tzinfo=UTC)
    assert (photo.kind, photo.file_name, photo.caption) == ("jpg", "IMG_0147.JPG", "crack")


def test_the_same_photo_of_the_same_thing_is_filed_once(ledger, shot):
    """A repeated save changes nothing; the same picture of another thing is another record of the same file."""
    ledger.append([graded("a")])
    first = ledger.add_photo(shot, specimen="specimen")
    assert ledger.add_photo(shot, specimen="specimen") == first
    other = ledger.add_photo(shot, observation="a")
    assert other.id != first.id
    assert ledger.photo_path(other) == ledger.photo_path(first)
    assert len(list(ledger.photos.iterdir())) == 1


def test_a_photo_of_an_unknown_thing_is_refused(ledger, shot):
    """A photo must be of something in the ledger; no record is written for another."""
    with pytest.raises(BadInput, match="the id of a specimen"):
        ledger.add_photo(shot, specimen="nobody")
    assert ledger.rows(Photo) == []


@pytest.mark.parametrize("turn", range(1, 9))
def test_width_and_height_are_those_of_the_picture_as_it_is_looked_at(ledger, tmp_path, turn):
    """The eight EXIF orientations (EXIF 2.32, tag 274): 5 to 8 turn by a quarter; checked by Pillow's own turning."""
    from PIL import ImageOps

    path = tmp_path / "turned.jpg"
    path.write_bytes(picture(exif=exif(turn)))
    photo = ledger.add_photo(path)
    with Image.open(path) as opened:
        assert (photo.width, photo.height) == ImageOps.exif_transpose(opened).size


@pytest.mark.parametrize(
    ("taken", "zone", "expected"),
    [
        ("2026:03:09 14:05:00", "+02:00", datetime(2026, 3, 9, 12, 5, tzinfo=UTC)),
        ("2026:03:09 14:05:00", "-03:30", datetime(2026, 3, 9, 17, 35, tzinfo=UTC)),
        ("2026:03:09 14:05:00", "", datetime(2026, 3, 9, 14, 5).astimezone(UTC)),
        ("2026:03:09 14:05:00", "soon", datetime(2026, 3, 9, 14, 5).astimezone(UTC)),
        ("2026:02:31 14:05:00", "+02:00", None),
        ("0000:00:00 00:00:00", "", None),
        ("0001:01:01 00:00:00", "+14:00", None),
        ("yesterday", "", None),
        ("", "", None),
    ],
)
def test_the_time_a_photo_was_taken_is_read_or_left_out(ledger, tmp_path, taken, zone, expected):
    """A time with its zone is exact, one without is in this machine's zone, and nonsense is no time."""
    path = tmp_path / "timed.jpg"
    path.write_bytes(picture(exif=exif(1, taken, zone)))
    assert ledger.add_photo(path).taken_at == expected


def test_broken_exif_is_no_reason_to_refuse_a_good_picture(ledger, tmp_path):
    """A picture whose EXIF cannot be read is filed without time, as it lies."""
    path = tmp_path / "odd.jpg"
    path.write_bytes(picture(exif=b"Exif\x00\x00MM\x00*\xff\xff\xff\xff" + b"\x99" * 40))
    photo = ledger.add_photo(path)
    assert (photo.width, photo.height, photo.taken_at) == (40, 30, None)


@pytest.mark.parametrize(("kind", "suffix"), [("JPEG", "jpg"), ("PNG", "png"), ("WEBP", "webp")])
def test_three_formats_are_taken_whatever_the_file_is_called(ledger, tmp_path, kind, suffix):
    """The bytes say what a picture is, not its name."""
    path = tmp_path / "picture.xyz"
    path.write_bytes(picture(kind=kind))
    photo = ledger.add_photo(path)
    assert photo.kind == suffix
    assert ledger.photo_path(photo).suffix == f".{suffix}"


def test_heic_is_turned_once(ledger):
    """A phone's HEIC of 64 x 48 with its own turn (ISO/IEC 23008-12, irot) is 48 x 64: its decoder turns it."""
    photo = ledger.add_photo(Path(__file__).parent / "sample.heic")
    assert (photo.kind, photo.width, photo.height) == ("heic", 48, 64)
    assert photo.taken_at == datetime(2026, 3, 9, 12, 5, tzinfo=UTC)
    assert ledger.photo_path(photo).suffix == ".heic"


def png_of(width, height):
    """Return a small PNG that claims a size; its pixels are all zero and compress well."""

    def chunk(kind, content):
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    header = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    pixels = zlib.compress(bytes((width + 7) // 8 + 1) * height, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")


EPS = b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n(/tmp/qcledger-was-here) (w) file closefile\nshowpage\n"
HOSTILE = {
    "empty": b"",
    "text": b"not a picture",
    "eps": EPS,
    "gif": picture(kind="GIF"),
    "bmp": picture(kind="BMP"),
    "tiff": picture(kind="TIFF"),
    "ppm": picture(kind="PPM"),
    "svg": b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>',
    "pdf": picture(kind="PDF"),
    "ico": picture(kind="ICO"),
    "truncated": picture((400, 300))[:-200],
    "truncated png": picture((400, 300), kind="PNG")[:-30],
    "bad png": picture(kind="PNG").replace(b"IDAT", b"IDAX"),
    "bad crc": picture(kind="PNG")[:-20] + b"\x00" * 20,
    "no pixels": png_of(0, 0),
    "too many pixels": png_of(20_000, 4_000),
    "a bomb": png_of(20_000, 20_000),
    "half a heic": b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + b"\x00" * 100,
}


@pytest.mark.parametrize("name", HOSTILE)
def test_what_is_no_picture_of_the_four_formats_is_refused(ledger, tmp_path, name):
    """Whatever the bytes hold: one line, nothing filed, nothing run, nothing written."""
    path = tmp_path / "nice.jpg"
    path.write_bytes(HOSTILE[name])
    before = ledger.closing_hashes()
    with pytest.raises(BadInput) as refused:
        ledger.add_photo(path)
    assert "a JPEG, PNG, WEBP or HEIC picture of at most 40 MB and 60 megapixels" in str(refused.value)
    assert len(refused.value.line()) <= 200
    assert ledger.closing_hashes() == before
    assert not ledger.photos.exists()
    assert not os.path.exists("/tmp/qcledger-was-here")  # noqa: PTH110


def test_files_past_the_limits_are_refused(ledger, tmp_path):
    """More than 40 MB, a folder, and a file that is not there are refused in one line."""
    path = tmp_path / "large.jpg"
    with path.open("wb") as stream:
        stream.write(picture())
        stream.truncate(filing.MOST_BYTES + 1)
    for wrong, found in ((path, "more than 40 MB"), (tmp_path, "a folder"), (tmp_path / "no", "no such file")):
        with pytest.raises(BadInput, match=found):
            ledger.add_photo(wrong)


def test_sixty_megapixels_are_taken(tmp_path):
    """A picture at the limit is read: no warning of the decoder's own stands in the way."""
    path = tmp_path / "large.png"
    path.write_bytes(png_of(10_000, 6_000))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert filing.read_picture(path).width == 10_000


def test_a_photo_is_durable_before_its_entry(tmp_path, shot, monkeypatch):
    """In this order: bytes written, file synced, renamed, folder synced, and only then the entry committed."""
    done = []
    real_fsync, real_replace = os.fsync, os.replace

    def fsync(handle):
        done.append(("fsync", Path(f"/proc/self/fd/{handle}").readlink().name))
        real_fsync(handle)

    def replace(source, target):
        done.append(("rename", os.fspath(target).rpartition("/")[2]))
        real_replace(source, target)

    with Ledger.create(tmp_path / "l.sqlite", letters="OV", tester="Oda", sources=steady()) as ledger:
        ledger.append(basics())
        monkeypatch.setattr(os, "fsync", fsync)
        monkeypatch.setattr(os, "replace", replace)
        real_append = Ledger._append

        def append(self, records, reason):
            done.append(("entry", records[0].TABLE))
            return real_append(self, records, reason)

        monkeypatch.setattr(Ledger, "_append", append)
        photo = ledger.add_photo(shot)
    name = f"{photo.sha256}.jpg"
    assert [step for step, _ in done[:4]] == ["fsync", "rename", "fsync", "entry"]
    assert done[0][1].startswith(f".{name}.")
    assert done[1:4] == [("rename", name), ("fsync", "photos"), ("entry", "photo")]


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_full_disk_leaves_no_half_photo(ledger, shot, monkeypatch, call):
    """When the disk is full the photo is not confirmed, nothing half stays, and the same call works again."""
    import errno

    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, call, full)
        with pytest.raises(NotConfirmed, match="Disk full; not confirmed"):
            ledger.add_photo(shot)
    assert list(ledger.photos.iterdir()) == []
    assert ledger.rows(Photo) == []
    assert ledger.photo_path(ledger.add_photo(shot)).exists()


def test_a_half_written_file_under_the_right_name_is_replaced(ledger, shot):
    """A file that does not match its name, as an older crash may leave it, is written again."""
    content = shot.read_bytes()
    ledger.photos.mkdir(parents=True)
    (ledger.photos / f"{sha256(content)}.jpg").write_bytes(content[:10])
    assert ledger.photo_path(ledger.add_photo(shot)).read_bytes() == content


def test_photos_travel_with_a_merge(places, ledger, shot):
    """A merged photo is filed with its bytes; without them, or with others, nothing is taken in."""
    photo = ledger.add_photo(shot, specimen="specimen")
    with Ledger.create(places.new("other"), letters="X", tester="X", daybook="other") as other:
        fake = shot.with_name("fake.jpg")
        fake.write_bytes(picture((8, 8)))
        with pytest.raises(BadInput, match="its picture"):
            other.adopt(ledger.entries(), {})
        with pytest.raises(ChainBroken, match="not the one filed"):
            other.adopt(ledger.entries(), {photo.sha256: fake})
        assert list(other.closing_hashes()) == ["other"]
        assert not other.photos.exists() or list(other.photos.iterdir()) == []
        other.adopt(ledger.entries(), {photo.sha256: ledger.photo_path(photo)})
        assert other.photo_path(photo).read_bytes() == shot.read_bytes()
        assert other.verify() == []


def test_a_merge_that_fails_takes_its_photos_out_again(places, ledger, shot, monkeypatch):
    """Photos filed for a merge that is refused afterwards do not stay."""
    photo = ledger.add_photo(shot, specimen="specimen")
    entries = list(ledger.entries())
    with Ledger.create(places.new("other"), letters="X", tester="X", daybook="other") as other:

        def refuse(*_):
            raise LedgerUnavailable("no")

        monkeypatch.setattr("qcledger.ledger.merge.rebuild", refuse)
        with pytest.raises(LedgerUnavailable):
            other.adopt(entries, {photo.sha256: ledger.photo_path(photo)})
        assert list(other.photos.iterdir()) == []


def test_an_hour_is_an_hour(ledger, tmp_path):
    """Two photos an hour apart on the camera's clock are an hour apart in the ledger."""
    times = []
    for hour in (1, 2):
        path = tmp_path / f"{hour}.jpg"
        path.write_bytes(picture((hour * 10, 10), exif=exif(1, f"2026:03:09 0{hour}:00:00")))
        times.append(ledger.add_photo(path).taken_at)
    assert times[1] - times[0] == timedelta(hours=1)
