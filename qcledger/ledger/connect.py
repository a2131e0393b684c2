"""Where a ledger is, and the two ways into it: short reads that cannot write, and queued writes."""

from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Protocol

from sqlalchemy import Connection, Engine, insert

from qcledger.errors import LedgerUnavailable, NotConfirmed
from qcledger.ledger.postgres import VERSION_KEY, Server
from qcledger.ledger.schema import statements
from qcledger.ledger.sqlite import SqliteFile
from qcledger.ledger.tables import META
from qcledger.ledger.told import BROKE_OFF, LOOK_ONLY, broke_off, is_denied, told

VERSION = 4
"""The version of the tables this program makes; raise it with a step in `migrate` when they change."""


class Home(Protocol):
    """A place a ledger can be at; the only part that differs between databases."""

    name: str
    key: str
    notes: Mapping[str, str]
    """What stands in `meta` beside the version: patterns of the values, by key."""

    is_shared: bool
    """Whether several testers write here, each having joined."""

    @property
    def photos(self) -> Path:
        """The folder the photos are filed in on this machine."""
        ...

    def photo(self, name: str, *, checked: bool = False) -> Path:
        """Return where a filed photo is; where it would be filed when it is nowhere.

        With `checked` a file that only stands for one in a table is compared with it, and replaced where it differs.
        """
        ...

    def close(self) -> None:
        """Let go of what was held while the ledger was open."""

    def photo_sizes(self, connection: Connection, named: Mapping[str, str]) -> set[int]:
        """Return the sizes in bytes of the photos that are there; kinds are given by hash."""
        ...

    def wrong_photo(self, connection: Connection, digest: str, kind: str, *, gone: bool) -> tuple[str, str] | None:
        """Say what was found of a photo and what is allowed, None when all is well; `gone`: it was redacted."""
        ...

    def take_up(self, connection: Connection, named: Mapping[str, str], folder: Path | None = None) -> None:
        """Put photos of this machine where all testers reach them; kinds are given by hash."""

    def drop_photos(self, connection: Connection, digests: Collection[str]) -> None:
        """Take redacted photos from where all testers reach them."""

    def complete(self) -> None:
        """Make what a ledger of this version may lack, where that is allowed."""

    def refuse_upgrade(self, version: int) -> None:
        """Refuse to upgrade tables that are not this user's to change."""

    def refuse_reader(self, connection: Connection) -> None:
        """Refuse to write for a user who may only look."""

    def version(self) -> int:
        """Return the version of the tables; raises when there is no ledger of ours."""
        ...

    def give_back_room(self) -> None:
        """Give the disk back the room of what an upgrade took out, where that can be done."""

    def check_tables(self, connection: Connection) -> None:
        """Refuse a database that lacks tables, or holds some this program did not make."""

    def engine(self, *, write: bool) -> Engine:
        """Return an engine whose transactions queue for writing, or one that cannot write."""
        ...

    def stamp(self, connection: Connection, version: int) -> None:
        """Mark the database itself as a ledger of this version."""

    def make(self, build: Callable[[Engine], None]) -> None:
        """Make a new ledger whole or not at all; refuses a place that is taken."""

    def keep_entries(self, connection: Connection, version: int) -> None:
        """Keep the entries as they are before an upgrade, where the whole ledger cannot be copied."""

    def broken(self, connection: Connection) -> Iterator[str]:
        """Yield what the database itself finds wrong."""
        ...

    def reshaped(self, connection: Connection) -> Iterator[str]:
        """Yield in what the tables differ from those this program makes."""
        ...


def home(where: str | Path) -> Home:
    """Return the place that a path or a database URL names."""
    return Server(where) if isinstance(where, str) and "://" in where else SqliteFile(Path(where))


def _nothing(*_: object) -> None:
    """Do nothing."""


class Database:
    """An open ledger's connections.

    Parameters
    ----------
    place
        Where the ledger is.
    write
        Whether it may be written to.
    """

    def __init__(self, place: Home, *, write: bool) -> None:
        self.place = place
        self.before_commit: Callable[[Connection], None] = _nothing
        """Called with each writing transaction when all of it is written; what it raises undoes the transaction."""
        self.after_commit: Callable[[], None] = _nothing
        """Called when it is on the disk."""
        self._read = place.engine(write=False)
        self._write = place.engine(write=True) if write else None
        if self._write is not None:
            with told(place.name):  # first, so that its settings for the whole file meet no reader of our own
                self._write.connect().close()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one unchanging state; keep it short, it makes writers wait."""
        with told(self.place.name), self._read.begin() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection whose changes are kept together or not at all; one writer at a time."""
        if self._write is None:
            raise LedgerUnavailable(f"{self.place.name} is open for reading only; nothing was saved.")
        committing = False
        try:
            with told(self.place.name), self._write.begin() as connection:
                yield connection
                self.before_commit(connection)
                committing = True
        except LedgerUnavailable as error:
            if committing and broke_off(error.__cause__):
                raise NotConfirmed(BROKE_OFF) from error.__cause__
            if is_denied(error.__cause__):
                raise LedgerUnavailable(LOOK_ONLY.format(self.place.name)) from error.__cause__
            raise
        self.after_commit()

    def close(self) -> None:
        """Close every connection."""
        for engine in (self._read, self._write):
            if engine is not None:
                engine.dispose()
        self.place.close()


def build(place: Home, connection: Connection) -> None:
    """Make the tables of an empty ledger."""
    for statement in statements(connection.engine.url.drivername):
        connection.exec_driver_sql(statement)
    connection.execute(insert(META), {"key": VERSION_KEY, "value": str(VERSION)})
    place.stamp(connection, VERSION)
