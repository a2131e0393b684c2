"""Appending records to a daybook: checked, numbered, chained, and shown in the read models, in one transaction."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from sqlalchemy import Connection, func, select

from qcledger.ledger.chain import NO_HASH, seal
from qcledger.ledger.codec import encode
from qcledger.ledger.readmodels import Key, write_entries, write_rows
from qcledger.ledger.rules import Known, check, check_current, check_once
from qcledger.ledger.sources import Sources
from qcledger.ledger.tables import ENTRY
from qcledger.records import Entry, Record

_TICK = timedelta(microseconds=1)


@dataclass(frozen=True, slots=True)
class Head:
    """The last entry of a daybook: its number, hash and time; 0, empty and None before the first."""

    seq: int = 0
    hash: str = NO_HASH
    at: datetime | None = None


def head(connection: Connection, daybook: str) -> Head:
    """Return the last entry of a daybook."""
    last = select(ENTRY.c.seq, ENTRY.c.hash, ENTRY.c.at).where(ENTRY.c.daybook == daybook)
    row = connection.execute(last.order_by(ENTRY.c.seq.desc()).limit(1)).one_or_none()
    return Head(*row) if row else Head()


def heads(connection: Connection) -> dict[str, Head]:
    """Return the last entry of each daybook, by daybook."""
    last = select(ENTRY.c.daybook, func.max(ENTRY.c.seq)).group_by(ENTRY.c.daybook).order_by(ENTRY.c.daybook)
    return {daybook: head(connection, daybook) for daybook, _ in connection.execute(last).all()}


def append(known: Known, daybook: str, records: Sequence[Record], reason: str, sources: Sources) -> tuple[Entry, ...]:
    """Write tidy records, in their order, to the end of a daybook; returns the new entries.

    A record that already stands exactly so is passed over, so that a save whose outcome is unknown can be repeated.
    """
    known.fetch(records)
    written: dict[Key, Record] = {}
    amended: set[Key] = set()
    new = []
    for record in records:
        key, standing = (record.TABLE, record.id), known.get(record.TABLE, record.id)
        if standing == record:
            continue
        check_once(record, standing)
        check(record, known)
        check_current(record, known)
        if standing is not None and key not in written:
            amended.add(key)
        new.append(record)
        written[key] = record
        known.put(record)
    entries = _chained(known.connection, daybook, new, reason, amended, sources)
    write_entries(known.connection, entries)
    write_rows(known.connection, written, amended)
    return entries


def _chained(
    connection: Connection,
    daybook: str,
    records: Sequence[Record],
    reason: str,
    amended: set[Key],
    sources: Sources,
) -> tuple[Entry, ...]:
    last = head(connection, daybook)
    at = _time(connection, last, amended, sources.now().astimezone(UTC))
    entries: list[Entry] = []
    seq, prev = last.seq, last.hash
    for record in records:
        entry = seal(
            daybook=daybook,
            seq=seq + 1,
            prev=prev,
            kind=record.TABLE,
            subject=record.id,
            at=at,
            salt=sources.salt(),
            body=encode(record, reason),
        )
        entries.append(entry)
        seq, prev = entry.seq, entry.hash
    return tuple(entries)


def _time(connection: Connection, last: Head, amended: set[Key], now: datetime) -> datetime:
    """Return the time of new entries: now, but not before the daybook's last, and after whatever they amend.

    Another tester's clock may be ahead; an amendment stamped before what it amends would be lost in a rebuild.
    """
    at = now if last.at is None else max(now, last.at)
    for kind, subject in amended:
        of_row = select(func.max(ENTRY.c.at)).where(ENTRY.c.kind == kind, ENTRY.c.subject == subject)
        before = connection.execute(of_row).scalar()
        if before is not None:
            at = max(at, before + _TICK)
    return at
