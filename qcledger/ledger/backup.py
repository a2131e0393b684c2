"""Copies of a whole ledger that are verified before they are called a backup, and the way back.

Both are made in a hidden folder and put in place as the last act. A backup's folder gets its name then; a restored
ledger lies beside other files of the tester's, so its photos are moved first, and last its file gets its name.
"""

import os
import secrets
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sqlalchemy import Connection, Engine, select

from qcledger.errors import ChainBroken, LedgerUnavailable
from qcledger.ledger import daybooks, server_photos
from qcledger.ledger.connect import Database, Home, build, home
from qcledger.ledger.disk import sync_file, sync_folder, write_durably
from qcledger.ledger.migrate import upgrade
from qcledger.ledger.photos import MOST_BYTES, is_name, photo_name
from qcledger.ledger.postgres import Server
from qcledger.ledger.readmodels import entry_from, rebuild, write_entries
from qcledger.ledger.redact import redacted_photos
from qcledger.ledger.sqlite import SqliteFile
from qcledger.ledger.tables import ENTRY, TABLE
from qcledger.ledger.told import told
from qcledger.ledger.verify import problems
from qcledger.records import Photo
from qcledger.settings import data_folder

LEDGER_FILE = "ledger.sqlite"
_BROUGHT = "photos.txt"
"""In what a restore leaves when it is cut short: the photos it puts beside the ledger that were not there before."""


def backup(database: Database, to: Path) -> Path:
    """Copy a ledger, see `Ledger.backup`."""
    with _new_folder(to) as draft:
        copy = SqliteFile(draft / LEDGER_FILE)
        _copy(database, copy)
        _check(copy)
    return to / LEDGER_FILE


def restore(source: Path, to: str | Path, *, finish: bool = False) -> str:
    """Make a ledger again from a backup; writing in it begins a new daybook. Returns its place without a password.

    Parameters
    ----------
    source
        The folder a backup was made into, or the ledger file in it.
    to
        Where the ledger shall be; nothing may be there.
    finish
        Whether what a restore to this place left, that was cut short, may be used up.

    Raises
    ------
    LedgerUnavailable
        When there is no ledger to restore, the place is taken, or another restore to it was cut short.
    ChainBroken
        When the backup does not verify; then there is no ledger.
    """
    origin, target = SqliteFile(source / LEDGER_FILE if source.is_dir() else source), home(to)
    origin.version()  # raises when there is no ledger
    if isinstance(target, SqliteFile):
        _restore_file(origin, target, finish=finish)
    elif isinstance(target, Server):
        _restore_to_server(origin, target)
    daybooks.remember(target.key, None)
    return target.key


def clean(place: str | Path) -> bool:
    """Take away what a restore to a place left that was cut short; says whether there was anything."""
    target = home(place)
    if not isinstance(target, SqliteFile) or not target.left_by_restore.exists():
        return False
    with told(target.name):
        _take_away(target)
    return True


def _restore_file(origin: SqliteFile, target: SqliteFile, *, finish: bool) -> None:
    draft = target.left_by_restore
    target.refuse_taken(left=finish)
    with told(target.name):
        if draft.exists():
            _take_away(target)
        draft.mkdir()
        try:
            copy = _checked_copy(origin, draft)
            _bring_photos(copy.photos, target.photos, draft / _BROUGHT)
            target.take(copy.path)
        except BaseException:
            with suppress(OSError):
                _take_away(target)
            raise
        shutil.rmtree(draft, ignore_errors=True)


def _take_away(target: SqliteFile) -> None:
    """Remove a draft, and the photos it had already put beside a ledger that is not there."""
    draft = target.left_by_restore
    brought = draft / _BROUGHT
    if brought.is_file() and not target.path.exists():
        for name in brought.read_text("utf-8").split():
            (target.photos / Path(name).name).unlink(missing_ok=True)
        with suppress(OSError):  # other ledgers' photos lie there, too
            target.photos.rmdir()
    shutil.rmtree(draft)


def _bring_photos(source: Path, target: Path, brought: Path) -> None:
    """Move photos into a folder that other ledgers may share, having noted which of them were not there before."""
    if not source.is_dir():
        return
    names = [path.name for path in sorted(source.iterdir())]
    write_durably(brought, "\n".join(name for name in names if not (target / name).exists()).encode())
    target.mkdir(parents=True, exist_ok=True)
    for name in names:
        os.replace(source / name, target / name)  # noqa: PTH105 - it was checked; one there may be damaged
    sync_folder(target)


def _restore_to_server(origin: SqliteFile, target: Server) -> None:
    """Copy entries and photos to a server in one transaction, whose last act is to say that they are there."""
    data_folder().mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".restoring.", dir=data_folder()) as draft:
        copy = _checked_copy(origin, Path(draft))
        database = Database(copy, write=False)

        def photos_too(connection: Connection) -> None:
            folder = target.photos_of(connection)
            try:
                _copy_photos(copy, copy, folder)
                target.take_up(connection, dict(server_photos.missing(connection)), folder)
            except BaseException:
                shutil.rmtree(folder, ignore_errors=True)  # nobody else's: the ledger has just got its id
                with suppress(OSError):  # other ledgers' photos are there
                    folder.parent.rmdir()
                raise

        try:
            target.make(lambda engine: _copy_entries(database, target, engine, photos_too))
        finally:
            database.close()


def _checked_copy(origin: SqliteFile, folder: Path) -> SqliteFile:
    """Return a copy of a ledger in another folder, of this program's version, that verifies."""
    copy = SqliteFile(folder / LEDGER_FILE)
    origin.copy_to(copy)
    upgrade(copy)
    _copy_photos(origin, copy, copy.photos)
    _check(copy)
    return copy


@contextmanager
def _new_folder(to: Path) -> Iterator[Path]:
    """Give a folder that gets its name only when everything in it is done."""
    if to.exists() or to.is_symlink():
        raise LedgerUnavailable(f"There is already something at {to}.")
    draft = to.with_name(f".{to.name}.{secrets.token_hex(4)}")
    try:
        with told(str(to)):
            draft.mkdir()
            yield draft
            draft.rename(to)
            sync_folder(to.parent)
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _copy(database: Database, copy: SqliteFile) -> None:
    """Write one state of an open ledger to a file, and copy its photos."""
    origin = database.place
    if isinstance(origin, SqliteFile):
        origin.copy_to(copy)
    else:
        copy.make(lambda engine: _copy_entries(database, copy, engine))
    _copy_photos(origin, copy, copy.photos)


def _copy_entries(
    database: Database, target: Home, engine: Engine, then: Callable[[Connection], object] = lambda _: None
) -> None:
    with database.reading() as source, engine.begin() as connection:
        build(target, connection)
        rows = source.execute(select(ENTRY).order_by(ENTRY.c.daybook, ENTRY.c.seq)).mappings()
        write_entries(connection, (entry_from(row) for row in rows))
        rebuild(connection)
        then(connection)


def _copy_photos(source: Home, copy: SqliteFile, to: Path) -> None:
    """Copy the photos that a copied ledger names; a missing one, or no name of one, is found when it is verified."""
    database = Database(copy, write=False)
    try:
        with database.reading() as connection:
            photo, gone = TABLE[Photo.TABLE], redacted_photos(connection)
            rows = connection.execute(select(photo.c.sha256, photo.c.kind).distinct()).all()
    finally:
        database.close()
    named = ((digest, kind) for digest, kind in sorted(rows) if digest not in gone and is_name(digest, kind))
    paths = [
        path for digest, kind in named if _is_plain(path := source.photo(photo_name(digest, kind), checked=True))
    ]
    if not paths:
        return
    with told(str(to)):
        to.mkdir(parents=True, exist_ok=True)
        for path in paths:
            shutil.copyfile(path, to / path.name, follow_symlinks=False)
            sync_file(to / path.name)
        sync_folder(to)


def _is_plain(path: Path) -> bool:
    """Say whether a photo is a plain file; refuse a link, which may lead anywhere, and one larger than a photo is."""
    if path.is_symlink():
        raise ChainBroken(f"{path.name} is a link; photos are plain files; nothing was copied.")
    if path.is_file() and path.stat().st_size > MOST_BYTES:
        raise ChainBroken(f"{path.name} is larger than a photo may be; nothing was copied.")
    return path.is_file()


def _check(place: Home) -> None:
    database = Database(place, write=False)
    try:
        for problem in problems(database, {}):
            raise ChainBroken(f"The copy does not verify: {problem}")
    finally:
        database.close()
