"""Pictures filed by the SHA-256 of their bytes, which are kept as they came.

A picture is opened only by the decoders of four formats, every warning counts as an error, and all of it is decoded
before it is filed. The file is on the disk, under its final name, before the ledger speaks of it.
"""

import warnings
from dataclasses import dataclass
from datetime import datetime, tzinfo
from io import BytesIO
from pathlib import Path

from PIL import ExifTags, Image, UnidentifiedImageError

from qcledger.clock import instant
from qcledger.errors import BadInput, bad
from qcledger.ledger.chain import sha256
from qcledger.ledger.codec import ONE_LINE
from qcledger.ledger.disk import sync_folder, write_durably
from qcledger.records import Photo
from qcledger.text import one_line

MOST_BYTES = 40_000_000
MOST_PIXELS = 60_000_000
ALLOWED = "a JPEG, PNG, WEBP or HEIC picture of at most 40 MB and 60 megapixels"

_KINDS = {"JPEG": "jpg", "PNG": "png", "WEBP": "webp", "HEIF": "heic"}
_SIDEWAYS = {5, 6, 7, 8}
"""Orientations (EXIF 2.32, tag 274) that turn the picture by a quarter."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture that can be filed.

    Parameters
    ----------
    content
        Its bytes as they came.
    sha256
        Their SHA-256 in hexadecimal.
    kind
        ``jpg``, ``png``, ``webp`` or ``heic``.
    width, height
        Pixels as it is looked at, its EXIF orientation applied.
    taken_at
        When it was taken, in UTC, if its EXIF says so; a camera that names no zone is in that of its reader.
    """

    content: bytes
    sha256: str
    kind: str
    width: int
    height: int
    taken_at: datetime | None


def read_picture(path: Path, zone: tzinfo | None = None) -> Picture:
    """Return the picture in a file; raises BadInput when it is none that may be filed.

    A camera that names no time zone is taken to be in `zone`; None is this machine's.
    """
    content = _bytes(path)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        warnings.filterwarnings("ignore", "Corrupt EXIF data")  # no reason to refuse a good picture
        try:
            return _decoded(content, path, zone)
        except BadInput:
            raise
        except Exception as error:  # decoders raise nearly everything on hostile bytes
            raise bad(path.name, _wrong_with(error), ALLOWED) from error


def _wrong_with(error: Exception) -> str:
    """Say in plain words why a file could not be decoded."""
    if isinstance(error, UnidentifiedImageError):
        return "no picture of these kinds"
    if isinstance(error, Image.DecompressionBombError | Image.DecompressionBombWarning):
        return "more pixels than that"
    return "a picture that is damaged or cut off"


def record(picture: Picture, id: str, file_name: str) -> Photo:  # noqa: A002 - the field's own name
    """Return the record of a picture, tied to nothing yet."""
    return Photo(
        id=id,
        sha256=picture.sha256,
        kind=picture.kind,
        width=picture.width,
        height=picture.height,
        taken_at=picture.taken_at,
        file_name=one_line(file_name)[:ONE_LINE] or None,
    )


def photo_name(digest: str, kind: str) -> str:
    """Return the file name of a filed picture."""
    return f"{digest}.{kind}"


def file_picture(picture: Picture, folder: Path) -> None:
    """Put a picture into the photo folder, so that it is there after a crash; one that is there already stays."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / photo_name(picture.sha256, picture.kind)
    if not (path.is_file() and sha256(path.read_bytes()) == picture.sha256):
        write_durably(path, picture.content)


def remove(folder: Path, digest: str) -> None:
    """Remove the bytes of a redacted picture, whatever its kind."""
    found = [path for kind in _KINDS.values() if (path := folder / photo_name(digest, kind)).exists()]
    for path in found:
        path.unlink()
    if found:
        sync_folder(folder)


def _bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            content = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise bad(path.name, error.strerror or str(error), ALLOWED) from None
    if len(content) > MOST_BYTES:
        raise bad(path.name, "more than 40 MB", ALLOWED)
    return content


def _decoded(content: bytes, path: Path, zone: tzinfo | None) -> Picture:
    formats = ["JPEG", "PNG", "WEBP"]
    if content[4:8] == b"ftyp":
        import pi_heif  # here, because few pictures need it

        pi_heif.register_heif_opener()
        formats = ["HEIF"]
    with Image.open(BytesIO(content), formats=formats) as image:
        if image.width * image.height > MOST_PIXELS:
            raise bad(path.name, f"{image.width} x {image.height} pixels", ALLOWED)
        image.load()
        exif = _exif(image)
        width, height = image.size
        if exif.get(ExifTags.Base.Orientation) in _SIDEWAYS:
            width, height = height, width
        taken_at = _taken_at(exif, zone)
        return Picture(content, sha256(content), _KINDS[image.format or ""], width, height, taken_at)


def _exif(image: Image.Image) -> Image.Exif:
    """Return the EXIF of a decoded picture; empty where it is broken."""
    try:
        exif = image.getexif()
        exif.get_ifd(ExifTags.IFD.Exif)
    except Exception:  # as above: nearly everything is raised
        return Image.Exif()
    return exif


def _taken_at(exif: Image.Exif, zone: tzinfo | None) -> datetime | None:
    details = exif.get_ifd(ExifTags.IFD.Exif)
    text = str(details.get(ExifTags.Base.DateTimeOriginal, "")).strip("\x00 ")
    offset = str(details.get(ExifTags.Base.OffsetTimeOriginal, "")).strip("\x00 ")
    for stamp, pattern in ((text + offset, "%Y:%m:%d %H:%M:%S%z"), (text, "%Y:%m:%d %H:%M:%S")):
        try:
            return instant(datetime.strptime(stamp, pattern), zone)  # noqa: DTZ007 - as the camera shows it
        except (ValueError, OverflowError, OSError):
            continue
    return None
