"""Appending records to a daybook: checked, numbered, chained, and shown in the read models, in one transaction."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from sqlalchemy import Connection, func, select

from qcledger.ledger.chain import NO_HASH, seal
from qcledger.ledger.codec import encode
from qcledger.ledger.evidence import changes_evidence
from qcledger.ledger.known import Known
from qcledger.ledger.progress import Progress, untold
from qcledger.ledger.readmodels import Key, write_entries, write_rows
from qcledger.ledger.rules import admit, check_resting
from qcledger.ledger.sources import Sources
from qcledger.ledger.tables import ENTRY
from qcledger.records import Entry, Record, Specimen

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


def append(
    known: Known,
    daybook: str,
    records: Sequence[Record],
    reason: str,
    sources: Sources,
    *,
    numbered: Collection[str] = (),
    progress: Progress = untold,
) -> tuple[Entry, ...]:
    """Write tidy records, in their order, to the end of a daybook; returns the new entries.

    A record that already stands exactly so is passed over, so that a save whose outcome is unknown can be repeated.
    `numbered` are ids of new specimens whose stickers the program chose: each gets the next one that is free.
    """
    known.fetch(records)
    now = sources.now().astimezone(UTC)
    written: dict[Key, Record] = {}
    amended: set[Key] = set()
    new, moved = [], []
    for given in progress("Checking entries", records):
        key, standing = (given.TABLE, given.id), known.get(given.TABLE, given.id)
        record = _with_free_sticker(given, standing, known) if given.id in numbered else given
        if standing == record:
            continue
        admit(record, known, now)
        if changes_evidence(record, standing):
            moved.append(record)
        if standing is not None and key not in written:
            amended.add(key)
        new.append(record)
        written[key] = record
        known.put(record)
    check_resting(moved, known, now)
    last = head(known.connection, daybook)
    at = _time(known.connection, last, amended, now)
    entries = _chained(daybook, last, at, new, reason, sources)
    write_entries(known.connection, entries, progress)
    write_rows(known.connection, written, amended, progress)
    return entries


def _with_free_sticker(record: Record, standing: Record | None, known: Known) -> Record:
    """Return a specimen with the sticker it stands with, or else the next one free if another has its own."""
    if not isinstance(record, Specimen):
        return record
    if isinstance(standing, Specimen):
        return replace(record, sticker=standing.sticker)
    if known.stickers.holder(record.sticker) in (None, record.id):
        return record
    return replace(record, sticker=known.stickers.next(record.sticker.rpartition(" ")[0]))


def _chained(
    daybook: str, last: Head, at: datetime, records: Sequence[Record], reason: str, sources: Sources
) -> tuple[Entry, ...]:
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
