"""Where a ledger is, and the two ways into it: short reads that cannot write, and queued writes."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Protocol

from sqlalchemy import Connection, Engine, create_mock_engine, insert
from sqlalchemy.engine.mock import MockConnection

from qcledger.errors import LedgerUnavailable, NotConfirmed
from qcledger.ledger.postgres import VERSION_KEY, Server
from qcledger.ledger.sqlite import SqliteFile
from qcledger.ledger.tables import META, METADATA
from qcledger.ledger.told import BROKE_OFF, broke_off, told

VERSION = 2
"""The version of the tables this program makes; raise it with a step in `migrate` when they change."""


class Home(Protocol):
    """A place a ledger can be at; the only part that differs between databases."""

    name: str
    key: str
    photos: Path

    def version(self) -> int:
        """Return the version of the tables; raises when there is no ledger of ours."""
        ...

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


def home(where: str | Path) -> Home:
    """Return the place that a path or a database URL names."""
    return Server(where) if isinstance(where, str) and "://" in where else SqliteFile(Path(where))


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
                committing = True
        except LedgerUnavailable as error:
            if committing and broke_off(error.__cause__):
                raise NotConfirmed(BROKE_OFF) from error.__cause__
            raise

    def close(self) -> None:
        """Close every connection."""
        for engine in (self._read, self._write):
            if engine is not None:
                engine.dispose()


@cache
def _statements(driver: str) -> tuple[str, ...]:
    """Return what makes every table on one kind of database; to put it together takes longer than to run it."""
    found: list[str] = []
    teller: MockConnection = create_mock_engine(
        f"{driver}://", lambda sql, *_, **__: found.append(str(sql.compile(dialect=teller.dialect)))
    )
    METADATA.create_all(teller, checkfirst=False)
    return tuple(found)


def build(place: Home, connection: Connection) -> None:
    """Make the tables of an empty ledger."""
    for statement in _statements(connection.engine.url.drivername):
        connection.exec_driver_sql(statement)
    connection.execute(insert(META), {"key": VERSION_KEY, "value": str(VERSION)})
    place.stamp(connection, VERSION)
