"""Which daybook this machine continues in which ledger.

That is remembered in the tester's own settings folder and not in the ledger: so a copy of a ledger begins a new
daybook, and two copies never write different entries under one number. There is a small file for each ledger and
machine: two programs never write over what the other one remembers, and settings that were copied to another machine
together with the ledger, or that two machines share, are not taken for its own. The last entry of each save
is remembered too; a ledger that no longer holds it was put back from an older copy, and a new daybook begins as well.
"""

import json
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import tzinfo
from pathlib import Path
from typing import Any, cast

from sqlalchemy import Connection, func, select

from qcledger.errors import LedgerUnavailable, QcledgerError, bad
from qcledger.ledger import machine
from qcledger.ledger.chain import sha256
from qcledger.ledger.codec import tidy
from qcledger.ledger.connect import Database
from qcledger.ledger.disk import write_durably
from qcledger.ledger.known import KnownRows
from qcledger.ledger.readmodels import lookup, testers
from qcledger.ledger.sources import Sources
from qcledger.ledger.standing import whose
from qcledger.ledger.tables import ENTRY
from qcledger.ledger.writing import append, head
from qcledger.ledger.zones import ZoneFrom, written_in, zones
from qcledger.records import Daybook, Record, Zone
from qcledger.settings import config_folder
from qcledger.text import same_name

NOT_JOINED = (
    "You have not joined the ledger on {}; nothing was saved. "
    "qcledger start --ledger URL --letters AB --tester NAME joins it."
)
_FOLDER = "daybooks"
_OLD_FILE = "daybooks.json"
"""One file for every ledger, as earlier versions wrote it; read where nothing newer is there, never written."""


@dataclass(frozen=True, slots=True)
class Remembered:
    """The daybook this machine continues in one ledger, and the last of its entries it saw; 0 and empty: none yet."""

    daybook: str
    seq: int
    hash: str


def remembered(key: str) -> Remembered | None:
    """Return what this machine remembers of the ledger at a place, or None."""
    path = _path(key)
    found = _read(path)
    if found is not None:
        return _parsed(found, path)
    if any(path.parent.glob(f"{_name(key)}-*.json")):  # another machine's: these settings were copied, or are shared
        return None
    old = config_folder() / _OLD_FILE
    return _from_old(_read(old), old, key)


def remember(key: str, what: Remembered | None) -> None:
    """Remember the daybook continued in the ledger at a place, so that it is on the disk; None forgets it."""
    path, content = _path(key), _text(key, what)
    if _read(path) != content:
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            write_durably(path, content)
        except OSError as error:
            raise _unwritable(path, error) from error


@contextmanager
def beginning(key: str, daybook: str) -> Iterator[None]:
    """Remember a daybook that begins; should what follows fail, what was remembered before stands again."""
    path = _path(key)
    before = _read(path)
    remember(key, Remembered(daybook, 0, ""))
    try:
        yield
    except BaseException:
        with suppress(OSError):
            path.unlink() if before is None else write_durably(path, before)
        raise


@dataclass(frozen=True, slots=True)
class Begin:
    """What a new daybook begins with; None for letters or tester: those of whose ledger it is.

    `zone` is the IANA name of the time zone it is begun in; None records none.
    """

    letters: str | None
    tester: str | None
    sources: Sources
    zone: str | None = None


def with_zone(book: Daybook, zone: str | None, sources: Sources) -> list[Record]:
    """Return what a daybook begins with: itself, and the time zone it is written in where that is given."""
    return [book, *([tidy(Zone(id=sources.new_id(), name=zone))] if zone else [])]


class Own:
    """The daybook of this machine in an open ledger: continued, or begun with the first entries that are written.

    Parameters
    ----------
    database
        The open ledger; each of its writing transactions is told to this class before and after it is committed.
    begin
        What a new daybook begins with.
    """

    def __init__(self, database: Database, begin: Begin) -> None:
        self._place, self._key, self._begin = database.place, database.place.key, begin
        self._known: Remembered | None = None
        self._next: Remembered | None = None
        self._begun: tuple[Connection, str] | None = None
        self._new: Daybook | None = None
        database.before_commit, database.after_commit = self._before_commit, self._after_commit

    def find(self, connection: Connection) -> bool:
        """Look for the daybook to continue, and say whether there is one."""
        self._known = _continued(connection, self._key)
        return self._known is not None

    def continued(self, connection: Connection) -> str | None:
        """Return the id of the daybook that is written to; None while it has not begun."""
        known = self._known or _continued(connection, self._key)
        return known.daybook if known is not None else None

    def book(self, connection: Connection) -> Daybook:
        """Return the daybook that is written to; one that has not begun stands in the ledger with its first entry."""
        daybook = self.continued(connection)
        if daybook is None:
            return self._to_begin(connection) if self._may_begin(connection) else self._nobody()
        return cast(Daybook, lookup(connection, Daybook.TABLE, [daybook])[daybook])

    def zones(self, connection: Connection) -> tuple[ZoneFrom, ...]:
        """Return the time zones of the daybook that is written to, in the order of its entries."""
        daybook = self.continued(connection)
        return zones(connection).get(daybook, ()) if daybook is not None else ()

    def zone(self, connection: Connection) -> tzinfo | None:
        """Return the time zone of what is written now; a daybook that has not begun begins in the one it is given."""
        return written_in(connection, self.continued(connection), self._begin.zone)

    def known(self, connection: Connection) -> KnownRows:
        """Return the rows as they stand, for what would be written now."""
        return KnownRows(connection, self.continued(connection), self._begin.zone)

    def within(self, connection: Connection) -> str:
        """Return the id of the daybook to write to, begun within this transaction if there is none."""
        if self._known is None and not self.find(connection):  # another terminal may have begun it meanwhile
            self.refuse_unjoined(connection)
            book = self._to_begin(connection)
            begun = with_zone(book, self._begin.zone, self._begin.sources)
            append(KnownRows(connection, book.id), book.id, begun, "", self._begin.sources)
            self._begun = (connection, book.id)
            return book.id
        return cast(Remembered, self._known).daybook

    def join(self, connection: Connection, *, although: bool = False) -> tuple[str, bool]:
        """Begin the daybook of a tester in a ledger that others write in, too.

        Returns the daybook's id, and whether it is one more of a tester who writes here already. With `although` a
        name may be in it already, under other letters.

        Raises
        ------
        LedgerUnavailable
            When this machine writes here already.
        BadInput
            When another tester has the letters, or one of the same name has others, unless `although`.
        """
        if self.find(connection):
            book = self.book(connection)
            raise LedgerUnavailable(f"This machine writes in that ledger already, as {book.signed}.")
        book, books = self._to_begin(connection), testers(connection).books.values()
        is_same = any(whose(other) == whose(book) for other in books)
        for other in books:
            if other.letters.casefold() == book.letters.casefold() and not is_same:
                has = f"{book.letters}, which {other.tester} has"
                raise bad("letters", has, "letters nobody else in this ledger has, or both letters and name of yours")
        named = sorted({one.letters for one in books if same_name(one.tester) == same_name(book.tester)})
        if named and not is_same and not although:
            found = f"{book.tester}, who writes here as {' and '.join(named)}"
            raise bad("tester", found, f"letters {named[0]}, if that is you; --although, if you are somebody else")
        return self.within(connection), is_same

    def refuse_unjoined(self, connection: Connection) -> None:
        """Refuse to write in a ledger of several testers as one of them, before it is said as whom."""
        if self._may_begin(connection):
            return
        self._place.refuse_reader(connection)
        raise LedgerUnavailable(NOT_JOINED.format(self._place.name))

    def _may_begin(self, connection: Connection) -> bool:
        """Say whether it is known whose daybook would begin; in a file, somebody's who wrote there."""
        if not self._place.is_shared or self._begin.tester is not None or self.find(connection):
            return True
        known, books = remembered(self._key), testers(connection).books
        return not books or (known is not None and known.daybook in books)

    def _nobody(self) -> Daybook:
        """Return who looks at a ledger he has not joined: no tester of it."""
        return Daybook(id=self._begin.sources.new_id(), letters="?", tester="not joined")

    def _to_begin(self, connection: Connection) -> Daybook:
        if self._new is None:
            letters, tester = self._begin.letters, self._begin.tester
            if letters is None or tester is None:
                last = _whose_ledger(connection, self._key)
                letters, tester = letters or last.letters, tester or last.tester
            self._new = tidy(Daybook(id=self._begin.sources.new_id(), letters=letters, tester=tester))
        return self._new

    def _before_commit(self, connection: Connection) -> None:
        """Refuse what could not be remembered: numbers of a daybook nobody remembers could be given twice."""
        daybook = self._known.daybook if self._known else None
        if self._begun is not None and self._begun[0] is connection:
            daybook = self._begun[1]
            remember(self._key, Remembered(daybook, 0, ""))
        elif self._known is not None:
            _need_own(self._key, self._known)
        self._begun, self._next = None, None
        if daybook is not None:
            last = head(connection, daybook)
            self._next = Remembered(daybook, last.seq, last.hash)

    def _after_commit(self) -> None:
        if self._next is not None:
            self._known = self._next
            _note(self._key, self._known)


def _continued(connection: Connection, key: str) -> Remembered | None:
    """Return what is remembered, if the ledger still holds the last of the daybook's entries this machine saw."""
    known = remembered(key)
    if known is None:
        return None
    entry = select(ENTRY.c.hash).where(ENTRY.c.daybook == known.daybook, ENTRY.c.seq == max(known.seq, 1))
    found = connection.execute(entry).scalar()
    return known if found is not None and known.hash in (found, "") else None


def _whose_ledger(connection: Connection, key: str) -> Daybook:
    """Return the daybook whose tester goes on here: the one this machine knew, else one of whoever wrote most.

    Not whoever wrote last: that may be a guest whose daybook was merged, and a daybook begun in a guest's name could
    amend nothing of the tester's own.
    """
    every, known = testers(connection), remembered(key)
    if known is not None and known.daybook in every.books:
        return every.books[known.daybook]
    counts = connection.execute(select(ENTRY.c.daybook, func.count()).group_by(ENTRY.c.daybook)).all()
    by_tester: Counter[str] = Counter()
    for daybook, count in counts:
        by_tester[every.of_daybook(daybook)] += count
    if not every.books:
        raise bad("ledger", "no daybook", "letters and a tester's name to begin one")
    most = max(every.books, key=lambda daybook: (by_tester[every.of_daybook(daybook)], daybook))
    return every.books[most]


def _name(key: str) -> str:
    return sha256(key.encode("utf-8", "surrogateescape"))[:16]


def _path(key: str) -> Path:
    return config_folder() / _FOLDER / f"{_name(key)}-{machine.mark()}.json"


def _text(key: str, what: Remembered | None) -> bytes:
    place = json.dumps(key, ensure_ascii=True)
    if what is None:
        return f'{{"place": {place}}}\n'.encode()
    return _front(what) + f' "daybook": {json.dumps(what.daybook)}, "place": {place}}}\n'.encode()


def _front(what: Remembered) -> bytes:
    """Return the beginning of the file, always as long, so that it can be written over within one disk sector."""
    return f'{{"seq": {what.seq:>12}, "hash": {json.dumps(what.hash):<66},'.encode()


def _note(key: str, what: Remembered) -> None:
    """Note how far the daybook has come, if that is further than is noted.

    A save is done by now, so nothing here is waited for or refused: killed, the program leaves what it noted; after a
    power cut an older number may stand there, which is only less to know a ledger by.
    """
    with suppress(OSError, QcledgerError), _path(key).open("r+b", buffering=0) as stream:
        known = _parsed(stream.read(), _path(key))
        if known is not None and known.daybook == what.daybook and known.seq < what.seq:
            stream.seek(0)
            stream.write(_front(what))


def _need_own(key: str, known: Remembered) -> None:
    """Make sure that this machine has a file of its own for the ledger, and that it can be written."""
    path = _path(key)
    try:
        path.open("r+b").close()
    except FileNotFoundError:
        remember(key, known)
    except OSError as error:
        raise _unwritable(path, error) from error


def _unwritable(path: Path, error: OSError) -> LedgerUnavailable:
    return LedgerUnavailable(f"Cannot write {path}: {error.strerror}; nothing was saved.")


def _read(path: Path) -> bytes | None:
    """Return the bytes of a file, None where there is none; read again while another program writes to it."""
    try:
        found = path.read_bytes()
        while (again := path.read_bytes()) != found:
            found = again
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError as error:
        raise LedgerUnavailable(f"Cannot read {path}: {error.strerror}.") from error
    return found


def _parsed(content: bytes, path: Path) -> Remembered | None:
    try:
        found: dict[str, Any] = json.loads(content)
        found.pop("place")
        return Remembered(**found) if found else None
    except (ValueError, TypeError, AttributeError, KeyError):
        raise _spoilt(path) from None


def _from_old(content: bytes | None, path: Path, key: str) -> Remembered | None:
    if content is None:
        return None
    try:
        places = {place: Remembered(**known) for place, known in json.loads(content).items()}
    except (ValueError, TypeError, AttributeError):
        raise _spoilt(path) from None
    return places.get(key)


def _spoilt(path: Path) -> QcledgerError:
    return bad(str(path), "another text", "the file as this program wrote it; take it away to begin a new daybook")
