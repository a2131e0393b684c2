"""Which daybook this machine continues in which ledger.

That is remembered in the tester's own settings folder and not in the ledger: so a copy of a ledger begins a new
daybook, and two copies never write different entries under one number. The last entry seen is remembered too; a
ledger that no longer holds it was restored from a backup, and a new daybook begins as well.
"""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select

from qcledger.errors import LedgerUnavailable, bad
from qcledger.ledger.codec import tidy, with_fields
from qcledger.ledger.connect import Database
from qcledger.ledger.disk import write_durably
from qcledger.ledger.known import Known
from qcledger.ledger.readmodels import IN_ORDER
from qcledger.ledger.sources import Sources
from qcledger.ledger.tables import ENTRY, TABLE
from qcledger.ledger.writing import append, head
from qcledger.records import Daybook, Record, Zone
from qcledger.settings import config_folder

_FILE = "daybooks.json"


@dataclass(frozen=True, slots=True)
class Remembered:
    """The daybook this machine continues in one ledger, and the last of its entries it saw."""

    daybook: str
    seq: int
    hash: str


def remembered(key: str) -> Remembered | None:
    """Return what is remembered of the ledger at a place, or None."""
    found = _all().get(key)
    return Remembered(**found) if found else None


def remember(key: str, what: Remembered | None) -> None:
    """Remember the daybook continued in the ledger at a place; None forgets it."""
    places = dict(_all())
    before = places.pop(key, None)
    if what is not None:
        places[key] = asdict(what)
    if places.get(key) != before:
        path = _path()
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            write_durably(path, json.dumps(places, indent=1, sort_keys=True, ensure_ascii=False).encode())
        except OSError as error:
            raise LedgerUnavailable(f"Cannot write {path}: {error.strerror}.") from error


@dataclass(frozen=True, slots=True)
class Begin:
    """What a new daybook begins with; None for letters or tester: those of the daybook that wrote last.

    `zone` is the IANA name of the time zone it is begun in; None records none.
    """

    letters: str | None
    tester: str | None
    sources: Sources
    zone: str | None = None


def with_zone(book: Daybook, zone: str | None, sources: Sources) -> list[Record]:
    """Return what a daybook begins with: itself, and the time zone it is written in where that is given."""
    return [book, *([tidy(Zone(id=sources.new_id(), name=zone))] if zone else [])]


def continued(database: Database, key: str) -> str | None:
    """Return the id of the daybook this machine continues in the ledger at a place; None if there is none to."""
    with database.reading() as connection:
        return _continued(connection, key)


def continue_or_begin(connection: Connection, key: str, begin: Begin) -> str:
    """Return the id of this machine's daybook, begun within this transaction if there is none to continue."""
    return _continued(connection, key) or _begun(connection, begin)


def remember_head(connection: Connection, key: str, daybook: str) -> None:
    """Remember how far a daybook has come."""
    last = head(connection, daybook)
    remember(key, Remembered(daybook, last.seq, last.hash))


def _continued(connection: Connection, key: str) -> str | None:
    """Return the daybook remembered, if the ledger still holds the last of its entries this machine saw."""
    known = remembered(key)
    if known is None:
        return None
    entry = select(ENTRY.c.hash).where(ENTRY.c.daybook == known.daybook, ENTRY.c.seq == known.seq)
    return known.daybook if connection.execute(entry).scalar() == known.hash else None


def _begun(connection: Connection, begin: Begin) -> str:
    letters, tester = begin.letters, begin.tester
    if letters is None or tester is None:
        last = _last_writer(connection)
        letters, tester = letters or last.letters, tester or last.tester
    book = tidy(Daybook(id=begin.sources.new_id(), letters=letters, tester=tester))
    append(Known(connection), book.id, with_zone(book, begin.zone, begin.sources), "", begin.sources)
    return book.id


def _last_writer(connection: Connection) -> Daybook:
    table = TABLE[Daybook.TABLE]
    last = select(table).join(ENTRY, ENTRY.c.daybook == table.c.id)
    row = connection.execute(last.order_by(*(column.desc() for column in IN_ORDER)).limit(1)).mappings().one_or_none()
    if row is None:
        raise bad("ledger", "no daybook", "letters and a tester's name to begin one")
    return with_fields(Daybook, row)


def _path() -> Path:
    return config_folder() / _FILE


def _all() -> Mapping[str, Mapping[str, Any]]:
    path = _path()
    try:
        places: dict[str, dict[str, Any]] = json.loads(path.read_bytes())
        for place in places.values():
            Remembered(**place)
    except FileNotFoundError:
        return {}
    except OSError as error:
        raise LedgerUnavailable(f"Cannot read {path}: {error.strerror}.") from error
    except (ValueError, TypeError, AttributeError):
        raise bad(
            str(path), "another text", "the file as this program wrote it; take it away to begin new daybooks"
        ) from None
    return places
