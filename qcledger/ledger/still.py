"""A ledger as it stood at one moment, every part of which is checked while it is read."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection

from qcledger.errors import ChainBroken, Problem
from qcledger.ledger.connect import Database, Home
from qcledger.ledger.sqlite import SqliteFile
from qcledger.ledger.verify import chains, database_itself, redactions, rows_of
from qcledger.ledger.writing import heads
from qcledger.records import Entry, Record


class Still:
    """What was in a ledger at one moment; made by `still`.

    Its methods hand every row to `take` and hold none. They raise ChainBroken, naming the first thing that is not as
    it was written, at the latest when they have read everything.
    """

    def __init__(self, connection: Connection, place: Home) -> None:
        self._connection, self._place = connection, place
        _refuse(database_itself(connection, place))
        _refuse(redactions(connection, place))
        self.closing: Mapping[str, tuple[int, str]] = {
            daybook: (last.seq, last.hash) for daybook, last in heads(connection).items()
        }
        """Number and hash of each daybook's last entry, by daybook."""

    def entries(self, take: Callable[[Entry], object]) -> None:
        """Hand over every entry by daybook and number; each chain, each hash and each body is checked."""
        _refuse(chains(self._connection, self._place, take))

    def rows(self, kind: type[Record], take: Callable[[Record], object]) -> None:
        """Hand over the rows of a table by id; each is compared with what the entries tell."""
        for one in rows_of(self._connection, kind.TABLE):
            if isinstance(one, Problem):
                _refuse([one])
            else:
                take(one)


@contextmanager
def still(database: Database, folder: Path) -> Iterator[Still]:
    """Give a ledger as it stands now, whoever writes meanwhile and however long reading takes.

    A server keeps that state itself; of a file a copy is made, because writers would have to wait for a long reader.

    Parameters
    ----------
    database
        The open ledger.
    folder
        Where the copy may lie while it is needed, hidden.
    """
    place = database.place
    if not isinstance(place, SqliteFile):
        with database.reading() as connection:
            yield Still(connection, place)
        return
    copy = SqliteFile(folder / ".moment.sqlite")
    copy.name = place.name  # what is wrong with it is wrong with the ledger
    try:
        place.copy_to(copy)
        moment = Database(copy, write=False)
        try:
            with moment.reading() as connection:
                yield Still(connection, copy)
        finally:
            moment.close()
    finally:
        copy.path.unlink(missing_ok=True)


def _refuse(problems: Iterable[Problem]) -> None:
    for problem in problems:
        raise ChainBroken(f"The ledger does not verify, so nothing was written: {problem}")
