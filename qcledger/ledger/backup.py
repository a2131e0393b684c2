"""Copies of a whole ledger that are verified before they are called a backup, and the way back."""

import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Engine, select

from qcledger.errors import ChainBroken, LedgerUnavailable
from qcledger.ledger import daybooks
from qcledger.ledger.connect import Database, Home, build, home
from qcledger.ledger.disk import sync_file, sync_folder
from qcledger.ledger.migrate import upgrade
from qcledger.ledger.photos import MOST_BYTES
from qcledger.ledger.readmodels import entry_from, rebuild, write_entries
from qcledger.ledger.sqlite import SqliteFile
from qcledger.ledger.tables import ENTRY
from qcledger.ledger.told import told
from qcledger.ledger.verify import problems

LEDGER_FILE = "ledger.sqlite"


def backup(database: Database, to: Path) -> Path:
    """Copy a ledger, see `Ledger.backup`."""
    with _new_folder(to) as draft:
        copy = SqliteFile(draft / LEDGER_FILE)
        _copy(database, copy)
        _check(copy)
    return to / LEDGER_FILE


def restore(source: Path, to: str | Path) -> None:
    """Make a ledger again from a backup; writing in it begins a new daybook.

    Parameters
    ----------
    source
        The folder a backup was made into, or the ledger file in it.
    to
        Where the ledger shall be; nothing may be there.

    Raises
    ------
    LedgerUnavailable
        When there is no ledger to restore, or the place is taken.
    ChainBroken
        When the backup does not verify.
    """
    origin, target = home(source / LEDGER_FILE if source.is_dir() else source), home(to)
    upgrade(origin)
    _check(origin)
    database = Database(origin, write=False)
    try:
        _copy(database, target)
    finally:
        database.close()
    daybooks.remember(target.key, None)


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


def _copy(database: Database, target: Home) -> None:
    """Make a ledger at `target` with the entries and photos of another."""
    origin = database.place
    if isinstance(origin, SqliteFile) and isinstance(target, SqliteFile):
        origin.copy_to(target)
    else:
        target.make(lambda engine: _copy_entries(database, target, engine))
    _copy_photos(origin.photos, target.photos)


def _copy_entries(database: Database, target: Home, engine: Engine) -> None:
    with database.reading() as source, engine.begin() as connection:
        build(target, connection)
        rows = source.execute(select(ENTRY).order_by(ENTRY.c.daybook, ENTRY.c.seq)).mappings()
        write_entries(connection, (entry_from(row) for row in rows))
        rebuild(connection)


def _copy_photos(source: Path, target: Path) -> None:
    if not source.is_dir():
        return
    with told(str(target)):
        target.mkdir(parents=True, exist_ok=True)
        for path in sorted(source.iterdir()):
            if path.is_symlink():
                raise ChainBroken(f"{path.name} is a link; photos are plain files; nothing was copied.")
            if path.is_file() and path.stat().st_size > MOST_BYTES:
                raise ChainBroken(f"{path.name} is larger than a photo may be; nothing was copied.")
            if path.is_file() and not path.name.startswith("."):
                shutil.copyfile(path, target / path.name)
                sync_file(target / path.name)
        sync_folder(target)


def _check(place: Home) -> None:
    database = Database(place, write=False)
    try:
        for problem in problems(database, {}):
            raise ChainBroken(f"The copy does not verify: {problem}")
    finally:
        database.close()
