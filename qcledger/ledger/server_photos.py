"""The photos of a ledger on a server: in a table there, and in a folder of this machine as far as they were needed.

What counts is the table: every tester reaches it, and a photo is in it before the row that names it is kept. The
folder spares fetching a photo twice. It has the name of the ledger's own id, because one database is reached by many
addresses. Earlier versions kept photos in such folders alone, some named by the address: what lies there is found,
and taken up into the table when its tester opens the ledger to write.
"""

import os
import re
from collections.abc import Collection, Iterable, Mapping
from contextlib import suppress
from pathlib import Path

from sqlalchemy import Connection, delete, func, insert, inspect, select

from qcledger.ledger import photos
from qcledger.ledger.chain import sha256
from qcledger.ledger.disk import write_durably
from qcledger.ledger.readmodels import batches
from qcledger.ledger.tables import PHOTO_BYTES, TABLE
from qcledger.records import Photo
from qcledger.settings import data_folder

_NAMED_BY_ADDRESS = re.compile("[0-9a-f]{16}")


def folder(address: str, ledger: str | None) -> Path:
    """Return the folder of a ledger's photos; it may not exist yet.

    Parameters
    ----------
    address
        The URL it is reached by, without a password.
    ledger
        The ledger's id, 32 hexadecimal digits; None while it has none: an older version made it.
    """
    older = _all() / sha256(address.encode())[:16]
    if ledger is None:
        return older
    own = _all() / ledger
    if older.is_dir():
        with suppress(OSError):
            _take_over(older, own)
    return older if older.is_dir() and not own.is_dir() else own


def lies_at(own: Path, name: str) -> Path:
    """Return where a photo lies on this machine, else where it would.

    It may have been filed under another address of the same ledger. Photos are named by their bytes, so whichever
    ledger's folder it is in, it is this picture.
    """
    if (own / name).exists() or own.parent != _all() or not own.parent.is_dir():
        return own / name
    folders = (path for path in sorted(own.parent.iterdir()) if _NAMED_BY_ADDRESS.fullmatch(path.name))
    return next((path / name for path in folders if (path / name).is_file()), own / name)


def has_table(connection: Connection) -> bool:
    """Say whether the ledger has the table of photos; one that an older version made gets it by `make_table`."""
    return inspect(connection).has_table(PHOTO_BYTES.name)


def make_table(connection: Connection) -> None:
    """Make the table of photos where it is not there yet."""
    PHOTO_BYTES.create(connection, checkfirst=True)


def fetched(connection: Connection, digest: str) -> bytes | None:
    """Return the bytes of a photo from the table; None where there are none, or others than were filed."""
    content = _content(connection, digest) if has_table(connection) else None
    return content if content is not None and sha256(content) == digest else None


def put(path: Path, content: bytes) -> Path:
    """Keep a photo that was fetched where it is looked for on this machine, and return where that is."""
    path.parent.mkdir(parents=True, exist_ok=True)
    write_durably(path, content)
    return path


def missing(connection: Connection) -> list[tuple[str, str]]:
    """Return hash and kind of each photo that a row names and whose bytes are not in the table."""
    if not has_table(connection):
        return []
    photo = TABLE[Photo.TABLE]
    there = select(PHOTO_BYTES.c.sha256).where(PHOTO_BYTES.c.sha256 == photo.c.sha256).exists()
    rows = connection.execute(select(photo.c.sha256, photo.c.kind).distinct().where(~there)).all()
    return [(digest, kind) for digest, kind in sorted(rows) if photos.is_name(digest, kind)]


def take_up(connection: Connection, own: Path, named: Mapping[str, str]) -> None:
    """Put photos that lie on this machine, as they were filed, into the table; kinds are given by hash."""
    if not named:
        return
    wanted = select(PHOTO_BYTES.c.sha256).where(PHOTO_BYTES.c.sha256.in_(named))
    for digest in sorted(named.keys() - set(connection.execute(wanted).scalars())):
        path = lies_at(own, photos.photo_name(digest, named[digest]))
        if photos.wrong_with(path, digest) is None:
            connection.execute(insert(PHOTO_BYTES), {"sha256": digest, "bytes": path.read_bytes()})


def drop(connection: Connection, digests: Collection[str]) -> None:
    """Take the bytes of photos out of the table."""
    for batch in batches(sorted(digests)):
        connection.execute(delete(PHOTO_BYTES).where(PHOTO_BYTES.c.sha256.in_(batch)))


def held(connection: Connection, digests: Iterable[str]) -> set[str]:
    """Return those of the hashes whose bytes are in the table."""
    return set(_sizes(connection, digests)) if has_table(connection) else set()


def sizes(connection: Connection, own: Path, named: Mapping[str, str]) -> set[int]:
    """Return the sizes in bytes of photos, wherever they lie; kinds are given by hash."""
    found = _sizes(connection, named) if has_table(connection) else {}
    here = (lies_at(own, photos.photo_name(digest, named[digest])) for digest in named.keys() - found.keys())
    return {*found.values(), *(path.stat().st_size for path in here if path.is_file())}


def wrong_with(connection: Connection, own: Path, digest: str, kind: str, *, gone: bool) -> tuple[str, str] | None:
    """Say what was found of a photo that is not as it was filed, and what is allowed; None when all is well."""
    content = _content(connection, digest) if has_table(connection) else None
    here = lies_at(own, photos.photo_name(digest, kind))
    if gone:
        if content is not None:
            return "a picture in the database", "none, because it was redacted"
        left = here.parent == own and (here.exists() or here.is_symlink())
        return ("a file", "no file, because it was redacted") if left else None
    if content is None and photos.wrong_with(here, digest) is None:
        return "a picture on this machine alone", "one in the database; opening the pages here takes it there"
    if content is None:
        return "no picture", "the picture as it was filed, in the database"
    if sha256(content) != digest:
        return "other bytes than were filed", "the picture as it was filed, in the database"
    return None


def _content(connection: Connection, digest: str) -> bytes | None:
    found = connection.execute(select(PHOTO_BYTES.c.bytes).where(PHOTO_BYTES.c.sha256 == digest)).scalar()
    return None if found is None else bytes(found)


def _sizes(connection: Connection, digests: Iterable[str]) -> dict[str, int]:
    size = select(PHOTO_BYTES.c.sha256, func.octet_length(PHOTO_BYTES.c.bytes))
    return {
        digest: count
        for batch in batches(sorted(digests))
        for digest, count in connection.execute(size.where(PHOTO_BYTES.c.sha256.in_(batch)))
    }


def _all() -> Path:
    return data_folder() / "photos"


def _take_over(older: Path, own: Path) -> None:
    """Move what was filed under an address; a photo is in one of the two folders at any time."""
    if not own.exists():
        older.rename(own)
        return
    for path in sorted(older.iterdir()):
        os.replace(path, own / path.name)  # noqa: PTH105 - one that is there already is the same picture
    older.rmdir()
