"""Which time zone each daybook was written in, and so the local day of what it tells, whoever reads it.

A daybook's zone holds from the entry that records it on, and the first one also for all before it. The one exception
are tests of which only the day is known: until a daybook had a zone, they were written as noon UTC.
"""

import json
from bisect import bisect_right
from collections.abc import Collection
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime, tzinfo
from typing import cast
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, and_, func, select

from qcledger.clock import day_of, kept_zone
from qcledger.ledger.codec import decode
from qcledger.ledger.disk import write_durably
from qcledger.ledger.readmodels import batches
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE
from qcledger.records import Record, Zone
from qcledger.settings import config_folder
from qcledger.vocab import Occasion

FIRST = 2
"""The number of a zone's entry that was recorded when its daybook was begun; nothing is told before it."""


@dataclass(frozen=True, slots=True)
class ZoneFrom:
    """A time zone of a daybook, and the number of the entry from which on it holds."""

    since: int
    row: Zone
    zone: ZoneInfo | None


def zones(connection: Connection) -> dict[str, tuple[ZoneFrom, ...]]:
    """Return the time zones of each daybook that has any, in the order of its entries."""
    table = TABLE[Zone.TABLE]
    first = and_(ENTRY.c.kind == Zone.TABLE, ENTRY.c.subject == table.c.id, ENTRY.c.daybook == table.c[DAYBOOK])
    wanted = select(table.c.id, table.c.name, table.c[DAYBOOK].label("book"), func.min(ENTRY.c.seq).label("since"))
    wanted = wanted.select_from(table.join(ENTRY, first)).group_by(table.c.id, table.c.name, table.c[DAYBOOK])
    found: dict[str, list[ZoneFrom]] = {}
    for row in connection.execute(wanted):
        found.setdefault(row.book, []).append(
            ZoneFrom(row.since, Zone(id=row.id, name=row.name), kept_zone(row.name))
        )
    return {book: tuple(sorted(held, key=lambda one: one.since)) for book, held in found.items()}


def written_in(connection: Connection, daybook: str | None, begins_in: str | None) -> tzinfo | None:
    """Return the zone of what a daybook writes now; None where it has none.

    Parameters
    ----------
    connection
        The ledger.
    daybook
        None for one that has not begun.
    begins_in
        The IANA name of the zone that such a one begins in.
    """
    if daybook is None:
        return kept_zone(begins_in) if begins_in is not None else None
    held = zones(connection).get(daybook)
    return held[-1].zone if held else None


def ever(connection: Connection) -> frozenset[tzinfo]:
    """Return every time zone that a daybook was ever said to be written in, also those that were corrected since."""
    said = select(ENTRY.c.body).where(ENTRY.c.kind == Zone.TABLE, ENTRY.c.body.is_not(None)).distinct()
    names = {cast(Zone, decode(Zone.TABLE, body, Zone.TABLE)[0]).name for body in connection.execute(said).scalars()}
    return frozenset(zone for name in names if (zone := kept_zone(name)) is not None)


class Zones:
    """Tells in which zone the rows of one table were written.

    Parameters
    ----------
    connection
        The ledger.
    table
        The table's name.
    ids
        The rows that are asked for; None for all.
    last
        Whether a row that was amended is asked for as of its last entry, not its first.
    """

    def __init__(
        self, connection: Connection, table: str, ids: Collection[str] | None = None, *, last: bool = False
    ) -> None:
        self._held = zones(connection)
        moved = [book for book, held in self._held.items() if len(held) > 1 or held[0].since > FIRST]
        self._written = _numbers(connection, table, moved, ids, last=last) if moved else {}

    def of(self, daybook: str, subject: str, occasion: Occasion | None = None) -> tzinfo | None:
        """Return the zone a row was written in; None where its daybook has none.

        Parameters
        ----------
        daybook, subject
            Whose row it is, and its id.
        occasion
            Of a test or what was observed in it: of older notes only the day is known.
        """
        held = self._held.get(daybook, ())
        number = self._written.get((daybook, subject))
        if occasion is Occasion.OLDER_NOTES and (not held or (number is not None and number < held[0].since)):
            return UTC
        if not held:
            return None
        place = bisect_right(held, number, key=lambda one: one.since) if number is not None else len(held)
        return held[max(place - 1, 0)].zone


def _numbers(
    connection: Connection, table: str, daybooks: Collection[str], ids: Collection[str] | None, *, last: bool
) -> dict[tuple[str, str], int]:
    """Return the number of the entry by which each of these daybooks wrote a row, by daybook and row."""
    number = func.max(ENTRY.c.seq) if last else func.min(ENTRY.c.seq)
    of_row = ENTRY.c["daybook", "subject"]
    wanted = select(*of_row, number).where(ENTRY.c.kind == table, ENTRY.c.daybook.in_(daybooks)).group_by(*of_row)
    some = (
        [wanted] if ids is None else [wanted.where(ENTRY.c.subject.in_(part)) for part in batches(sorted(set(ids)))]
    )
    return {(row[0], row[1]): row[2] for one in some for row in connection.execute(one)}


def day_of_row(connection: Connection, row: Record, at: datetime) -> date:
    """Return the day of an instant that a row tells, where its own daybook was."""
    table = TABLE[row.TABLE]
    subject: str = row.id
    book = connection.execute(select(table.c[DAYBOOK]).where(table.c.id == subject)).scalar()
    zone = Zones(connection, row.TABLE, [subject], last=True).of(book, subject) if book is not None else None
    return day_of(at, zone)


# What was asked on this machine


_FILE = "zones.json"
ANSWERED, SAID = "answered", "said"
"""What is remembered of the question where a tester works: that it was answered, or that a command has said it."""


def remembered(key: str, what: str) -> str | None:
    """Return in which zone this machine was when `what` was done last about a ledger, "" for unknown; None: never."""
    return _all().get(key, {}).get(what)


def remember(key: str, what: str, here: str | None) -> None:
    """Remember that `what` was done about a ledger while this machine was in the zone `here`.

    A folder that cannot be written is no reason to fail: the tester is asked again.
    """
    path = config_folder() / _FILE
    known = _all()
    known[key] = {**known.get(key, {}), what: here or ""}
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_durably(path, json.dumps(known, indent=1, sort_keys=True, ensure_ascii=False).encode())


def _all() -> dict[str, dict[str, str]]:
    try:
        known = json.loads((config_folder() / _FILE).read_bytes())
    except (OSError, ValueError):
        return {}
    places = known if isinstance(known, dict) else {}
    return {key: done for key, done in places.items() if isinstance(done, dict)}
