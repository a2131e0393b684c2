"""A ledger in one SQLite file: how it is recognised, opened, made and copied.

The journal is deleted after each transaction and the folder synced (DELETE, EXTRA): of the settings measured, the
fastest that lost no acknowledged save at power loss and whose file can be read from a read-only folder. Writers
begin with BEGIN IMMEDIATE, so that what they read is still true when they write.
"""

import os
import secrets
import sqlite3
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, QueuePool, create_engine, event

from qcledger.errors import LedgerUnavailable, NotConfirmed, QcledgerError
from qcledger.ledger import schema
from qcledger.ledger import told as say
from qcledger.ledger.disk import sync_file, sync_folder
from qcledger.ledger.photos import photo_name, wrong_with
from qcledger.ledger.tables import METADATA
from qcledger.ledger.told import told
from qcledger.text import one_line, shorten

APPLICATION_ID = 0x51434C47
"""In the header of every ledger file, where ``file`` and other programs look: "QCLG"."""

_MAGIC = b"SQLite format 3\x00"
_HEADER_BYTES = 100
_LEAST_PAGE = 512
_SECONDS_TO_WAIT = 30
_SETTINGS = {
    "foreign_keys": "ON",
    "recursive_triggers": "ON",
    "trusted_schema": "OFF",
    "cell_size_check": "ON",
}
_WRITE_SETTINGS = {
    "journal_mode": "DELETE",
    "synchronous": "EXTRA",
    "fullfsync": "ON",
    "secure_delete": "ON",  # what is redacted does not stay in free pages
}


class SqliteFile:
    """The place of a ledger in one file, with its photos in the folder ``photos`` beside it.

    Parameters
    ----------
    path
        The file; it need not exist. Where it is a link, photos are beside the file it leads to.
    """

    def __init__(self, path: Path) -> None:
        self.path = Path(os.path.abspath(path))  # noqa: PTH100 - a link stays the name the user gave
        self.name = shorten(one_line(str(path)), 120)
        self.key = str(self.path)
        self._file = Path(os.path.realpath(self.path))  # unlike Path.resolve, no error where links go round
        self.photos = self._file.parent / "photos"
        self.notes: Mapping[str, str] = {}
        self.is_shared = False

    def photo(self, name: str, *, checked: bool = False) -> Path:
        """Return where a filed photo is, or would be filed."""
        return self.photos / name

    def close(self) -> None:
        """Do nothing: nothing is held."""

    def photo_sizes(self, connection: Connection, named: Mapping[str, str]) -> set[int]:
        """Return the sizes in bytes of the photos that are there; kinds are given by hash."""
        paths = (self.photos / photo_name(digest, kind) for digest, kind in named.items())
        return {path.stat().st_size for path in paths if path.is_file()}

    def wrong_photo(self, connection: Connection, digest: str, kind: str, *, gone: bool) -> tuple[str, str] | None:
        """Say what is wrong with the file of a photo, and what is allowed; None when it is as it was filed."""
        path = self.photos / photo_name(digest, kind)
        if gone:
            left = path.exists() or path.is_symlink()
            return ("a file", "no file, because it was redacted") if left else None
        wrong = wrong_with(path, digest)
        return (wrong, f"the picture as it was filed, a plain file in {self.photos.name}") if wrong else None

    def take_up(self, connection: Connection, named: Mapping[str, str], folder: Path | None = None) -> None:
        """Do nothing: the files are the photos."""

    def drop_photos(self, connection: Connection, digests: Collection[str]) -> None:
        """Do nothing: the files are the photos."""

    def complete(self) -> None:
        """Do nothing: the file has every table."""

    def refuse_upgrade(self, version: int) -> None:
        """Do nothing: whoever can write the file may upgrade it."""

    def refuse_reader(self, connection: Connection) -> None:
        """Do nothing: whoever can write the file may."""

    def version(self) -> int:
        """Return the version of the ledger's tables, from its header alone; raises when it is none of ours."""
        header = self._header()
        if header[:16] != _MAGIC or len(header) < _HEADER_BYTES:
            raise LedgerUnavailable(f"{self.name} is not a ledger file.")
        if int.from_bytes(header[68:72]) != APPLICATION_ID:
            raise self._foreign()
        if self._ends_within_a_page(header):
            raise LedgerUnavailable(say.DAMAGED.format(self.name))
        return int.from_bytes(header[60:64])

    def _header(self) -> bytes:
        if self.path.is_dir():
            inside = sorted(path.name for path in self.path.glob("*.sqlite"))
            example = inside[0] if inside else "ledger.sqlite"
            raise LedgerUnavailable(f"{self.name} is a folder; a ledger is a file, such as {example} in it.")
        if not self.path.is_file():
            if self.left_by_restore.exists():
                raise LedgerUnavailable(say.CUT_SHORT.format(self.name))
            raise LedgerUnavailable(f"There is no ledger at {self.name}.")
        with told(self.name), self.path.open("rb") as stream:
            return stream.read(_HEADER_BYTES)

    def _ends_within_a_page(self, header: bytes) -> bool:
        """Say whether the file was cut off, which SQLite itself does not notice; a crash may leave it so too.

        Pages of a size that SQLite has not, powers of two from 512 bytes on and 1 for 65,536, end nowhere.
        """
        page = int.from_bytes(header[16:18])
        if page != 1 and (page < _LEAST_PAGE or page & (page - 1)):
            return True
        left_by_crash = self._file.with_name(f"{self._file.name}-journal").exists()
        return not left_by_crash and self.path.stat().st_size % (65536 if page == 1 else page) != 0

    def _foreign(self) -> QcledgerError:
        return LedgerUnavailable(f"{self.name} holds tables this program did not make.")

    def check_tables(self, connection: Connection) -> None:
        """Refuse a file whose tables, views, indexes or triggers are not those this program makes."""
        rows = connection.exec_driver_sql("SELECT type, name FROM sqlite_schema WHERE name NOT LIKE 'sqlite_%'")
        there = {(kind, name) for kind, name in rows}
        ours = {("table", name) for name in METADATA.tables}
        ours |= {("index", str(index.name)) for table in METADATA.tables.values() for index in table.indexes}
        if there - ours:
            raise self._foreign()
        if ours - there:
            raise LedgerUnavailable(say.DAMAGED.format(self.name))

    def engine(self, *, write: bool) -> Engine:
        """Return an engine for writing, or one that cannot write."""
        return _engine(self.path, write=write)

    def give_back_room(self) -> None:
        """Write the file anew without its free pages; where that cannot be done, it only stays larger."""
        with suppress(LedgerUnavailable, NotConfirmed), told(self.name):
            engine = self.engine(write=True)
            try:
                with engine.connect() as connection, closing(connection.connection.cursor()) as cursor:
                    cursor.execute("VACUUM")
            finally:
                engine.dispose()

    def stamp(self, connection: Connection, version: int) -> None:
        """Write into the header what the file is."""
        connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.exec_driver_sql(f"PRAGMA user_version = {version:d}")

    def make(self, build: Callable[[Engine], None]) -> None:
        """Make a new ledger file with `build`, whole or not at all; refuses a place that is taken."""

        def fill(draft: Path) -> None:
            engine = _engine(draft, write=True)
            try:
                build(engine)
            finally:
                engine.dispose()

        self._fill(fill)

    def copy_to(self, other: "SqliteFile") -> None:
        """Write one state of the ledger to a new file, whoever is writing meanwhile."""

        def fill(draft: Path) -> None:
            with closing(sqlite3.connect(_address(self.path), uri=True, timeout=_SECONDS_TO_WAIT)) as source:
                source.execute("VACUUM INTO ?", (str(draft),))
            sync_file(draft)

        other._fill(fill)

    @property
    def left_by_restore(self) -> Path:
        """The hidden folder a restore works in; it is there afterwards only if the restore was cut short."""
        return self.path.with_name(f".{self.path.name}.restoring")

    def refuse_taken(self, *, left: bool = False) -> None:
        """Refuse a place where a file is or, unless `left` says so, one that a restore has begun to fill."""
        if self.path.exists() or self.path.is_symlink():
            raise self._taken()
        if self.left_by_restore.exists() and not left:
            raise LedgerUnavailable(say.CUT_SHORT.format(self.name))

    def _fill(self, fill: Callable[[Path], None]) -> None:
        """Let `fill` write a file that gets its name when it is whole."""
        self.refuse_taken()
        draft = self.path.with_name(f".{self.path.name}.{secrets.token_hex(4)}")
        try:
            with told(self.name):
                draft.touch(exist_ok=False)
                fill(draft)
                self.take(draft)
        finally:
            draft.unlink(missing_ok=True)

    def take(self, whole: Path) -> None:
        """Give a whole file on the same disk this place's name; unlike renaming, a link replaces no file."""
        try:
            os.link(whole, self.path)
        except FileExistsError:
            raise self._taken() from None
        sync_folder(self.path.parent)

    def _taken(self) -> QcledgerError:
        return LedgerUnavailable(f"There is already a file at {self.name}.")

    def keep_entries(self, connection: Connection, version: int) -> None:
        """Do nothing: before an upgrade the whole file is copied."""

    def broken(self, connection: Connection) -> Iterator[str]:
        """Yield what SQLite itself finds wrong with the file."""
        for (line,) in connection.exec_driver_sql("PRAGMA integrity_check(10)"):
            if line != "ok":
                yield str(line)
        for row in connection.exec_driver_sql("PRAGMA foreign_key_check"):
            yield f"a row of {row[0]} that refers to a row of {row[2]} that is not there"

    def reshaped(self, connection: Connection) -> Iterator[str]:
        """Yield in what the tables and indexes differ from those this program makes, to the letter."""
        yield from schema.different(schema.in_file(connection), schema.of_a_new_file())


def _address(path: Path) -> str:
    return f"{path.as_uri()}?mode=rw"  # never makes a file; a journal left by a crash is rolled back by readers too


def _engine(path: Path, *, write: bool) -> Engine:
    address = _address(path)

    def connect() -> sqlite3.Connection:
        return sqlite3.connect(address, uri=True, timeout=_SECONDS_TO_WAIT, check_same_thread=False)

    engine = create_engine("sqlite://", creator=connect, poolclass=QueuePool, max_overflow=20)
    settings = _SETTINGS | (_WRITE_SETTINGS if write else {"query_only": "ON"})
    begin = "BEGIN IMMEDIATE" if write else "BEGIN"

    @event.listens_for(engine, "connect")
    def _set(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # Python's own rules would begin no transaction for a SELECT
        for name, value in settings.items():
            connection.execute(f"PRAGMA {name} = {value}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine
