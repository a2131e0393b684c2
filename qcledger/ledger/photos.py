"""Pictures filed by the SHA-256 of their bytes, which are kept as they came.

A picture is decoded whole before it is filed, in a process of its own. The file is on the disk, under its final name,
before the ledger speaks of it. A photo is a plain file in the photo folder, named by 64 hexadecimal digits: no name
leads elsewhere, and no link is followed.
"""

from dataclasses import dataclass
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Final

from qcledger import pictures
from qcledger.clock import instant
from qcledger.errors import BadInput, bad
from qcledger.files import digest_of, read_plain
from qcledger.ledger.chain import sha256
from qcledger.ledger.codec import ONE_LINE
from qcledger.ledger.disk import sync_folder, write_durably
from qcledger.ledger.tables import LARGEST_PHOTO
from qcledger.records import Photo, is_digest
from qcledger.settings import photo_copies
from qcledger.text import one_line, shorten

MOST_BYTES = LARGEST_PHOTO
ALLOWED = "a JPEG, PNG, WEBP or HEIC picture of at most 40 MB and 60 megapixels"
FILED = "the picture as it was filed"
KINDS: Final = ("jpg", "png", "webp", "heic")


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
        One of `KINDS`.
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
    content = read_plain(path, ALLOWED, most=MOST_BYTES)
    try:
        seen = pictures.look(content)
    except pictures.Refused as error:
        raise bad(path.name, str(error), ALLOWED) from error
    return Picture(content, sha256(content), seen.kind, seen.width, seen.height, _taken_at(seen, zone))


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


def is_name(digest: str, kind: str) -> bool:
    """Say whether a picture is filed under such a hash and kind; nothing else is a name in the photo folder."""
    return is_digest(digest) and kind in KINDS


def photo_name(digest: str, kind: str) -> str:
    """Return the file name of a filed picture; raises BadInput for one that could lead out of the photo folder."""
    if not is_name(digest, kind):
        raise bad("photo", f"{digest}.{kind}", f"64 hexadecimal digits in lower case, and {', '.join(KINDS)}")
    return f"{digest}.{kind}"


def short(digest: str) -> str:
    """Return the beginning of a photo's hash for messages, whatever stands there."""
    return shorten(one_line(digest), 12) if not is_digest(digest) else digest[:12]


def wrong_with(path: Path, digest: str) -> str | None:
    """Say in words what is wrong with the file of a filed picture; None when it is as it was filed."""
    if path.is_symlink():
        return "a link"
    if not path.is_file():
        return "no file"
    try:
        found = digest_of(path, FILED, most=MOST_BYTES, follow=False)
    except BadInput as error:
        return error.problems[0].found.strip("'")
    return None if found == digest else "other bytes than were filed"


def file_picture(picture: Picture, folder: Path) -> None:
    """Put a picture into the photo folder, so that it is there after a crash; one that is there already stays."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / photo_name(picture.sha256, picture.kind)
    if wrong_with(path, picture.sha256) is not None:
        write_durably(path, picture.content)


def remove(folder: Path, digest: str) -> None:
    """Remove a redacted picture, whatever its kind, and its reduced copies; what is no hash names nothing here."""
    if not is_digest(digest):
        return
    found = [path for kind in KINDS if (path := folder / photo_name(digest, kind)).exists() or path.is_symlink()]
    for path in found:
        path.unlink()
    if found:
        sync_folder(folder)
    for copy in photo_copies().glob(f"{digest}-*"):
        copy.unlink(missing_ok=True)


def _taken_at(seen: pictures.Looked, zone: tzinfo | None) -> datetime | None:
    for stamp, pattern in ((seen.time + seen.zone, "%Y:%m:%d %H:%M:%S%z"), (seen.time, "%Y:%m:%d %H:%M:%S")):
        try:
            return instant(datetime.strptime(stamp, pattern), zone)  # noqa: DTZ007 - as the camera shows it
        except (ValueError, OverflowError, OSError):
            continue
    return None
