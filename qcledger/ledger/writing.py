"""Appending records to a daybook: checked, numbered, chained, and shown in the read models, in one transaction."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import Connection, func, select

from qcledger.errors import BadInput
from qcledger.ledger.chain import NO_HASH, seal
from qcledger.ledger.codec import NONE, FitRows, TidyRows, encode
from qcledger.ledger.evidence import changes_evidence
from qcledger.ledger.known import KnownRows
from qcledger.ledger.progress import Progress, untold
from qcledger.ledger.readmodels import Key, about, batches, refresh, rows_equal, testers, write_entries, write_rows
from qcledger.ledger.rules import admit, check_resting, refused
from qcledger.ledger.sources import Sources
from qcledger.ledger.standing import Testers, WrittenEntry
from qcledger.ledger.tables import ENTRY, TABLE
from qcledger.ledger.whose import check_own_codes, check_own_result, check_own_row, replaced
from qcledger.ledger.words import lent
from qcledger.records import Daybook, Entry, Record, Redaction, Specimen

_TICK = timedelta(microseconds=1)
CLOCKS_DIFFER = timedelta(days=1)
"""How far a tester's other machine may be ahead before its times no longer count for new entries."""


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


def closing(connection: Connection) -> dict[str, tuple[int, str]]:
    """Return the number and hash of each daybook's last entry, by daybook."""
    return {daybook: (last.seq, last.hash) for daybook, last in heads(connection).items()}


def written(connection: Connection) -> int:
    """Return how many entries the daybooks hold together, by their last numbers; quick, however many there are."""
    last = select(func.max(ENTRY.c.seq)).where(ENTRY.c.daybook == TABLE[Daybook.TABLE].c.id).scalar_subquery()
    return int(
        connection.execute(select(func.coalesce(func.sum(last), 0)).select_from(TABLE[Daybook.TABLE])).scalar_one()
    )


def append(
    known: KnownRows,
    daybook: str,
    records: Sequence[Record],
    reason: str,
    sources: Sources,
    *,
    fit: TidyRows = NONE,
    numbered: Collection[str] = (),
    progress: Progress = untold,
    proposing: bool = False,
) -> tuple[Entry, ...]:
    """Write tidy records, in their order, to the end of a daybook; returns the new entries.

    A record that already stands exactly so is passed over, so that a save whose outcome is unknown can be repeated.
    `numbered` are ids of new specimens whose stickers the program chose: each gets the next one that is free.
    A row that another tester's daybook made is refused, unless `proposing`: then it is kept as a proposal.
    Records that are `fit` follow; they are not checked again unless the ledger has gone on since they were.
    """
    now = sources.now().astimezone(UTC)
    whose = testers(known.connection)
    how: dict[str, Any] = {"numbered": numbered, "progress": progress, "proposing": proposing}
    found = _checked(known, daybook, records, whose, now, fit=fit, **how)
    written, amended = found.written, found.amended
    last = head(known.connection, daybook)
    at = _time(last, amended, now)
    replacing = {key: replaced(entries, daybook, whose) for key, entries in amended.items()}
    several = found.written if len(found.written) < len(found.new) else ()
    chaining = progress("Chaining entries", found.new)
    entries = _chained(daybook, last, at, chaining, reason, sources, replacing, several)
    write_entries(known.connection, entries, progress)
    fresh = {key: row for key, row in written.items() if key not in amended} if amended else written
    write_rows(known.connection, fresh, daybook, progress)
    for key in amended:
        refresh(known.connection, *key, whose)
    return entries


def check(known: KnownRows, book: Daybook, records: Sequence[Record], now: datetime, **how: Any) -> None:
    """Refuse what `append` would refuse of tidy records, were they written to this daybook; nothing is written."""
    whose = Testers({**testers(known.connection).books, book.id: book})
    _checked(known, book.id, records, whose, now, **how)


Weighed = tuple[TidyRows, list[tuple[Record, BadInput]]]
"""Tidy records, `FitRows` where they are, and those of them that are refused, with the reason."""


def fit(known: KnownRows, records: TidyRows, now: datetime, progress: Progress) -> Weighed:
    """Return records as `FitRows` where nothing speaks against them and none stood before; and what does speak."""
    against = list(refused(records, known, now, progress))
    if against or not all(map(known.is_new, records)) or spoken_of(known, records):
        return records, against
    return FitRows.found(records, closing(known.connection)), []


@dataclass(frozen=True, slots=True)
class _Checked:
    """Records that may be written: those that say something new, by their keys, and what each amends."""

    new: list[Record]
    written: dict[Key, Record]
    amended: dict[Key, list[WrittenEntry]]


def _checked(
    known: KnownRows,
    daybook: str,
    records: Sequence[Record],
    whose: Testers,
    now: datetime,
    *,
    fit: TidyRows = NONE,
    numbered: Collection[str] = (),
    progress: Progress = untold,
    proposing: bool = False,
) -> _Checked:
    """Return what of tidy records is to be written; raises BadInput for what may not be."""
    is_fit = isinstance(fit, FitRows) and fit.ends == closing(known.connection)
    records = [*lent([*records, *fit], known), *records, *(() if is_fit else fit)]
    known.fetch(records)
    written: dict[Key, Record] = {}
    amended: dict[Key, list[WrittenEntry]] = {}
    taken_out = spoken_of(known, [one for one in records if known.get(one.TABLE, one.id) is None])
    new, moved = list[Record](), list[Record]()
    for given in progress("Checking entries", records):
        key, standing = (given.TABLE, given.id), known.get(given.TABLE, given.id)
        record = _with_free_sticker(given, standing, known) if given.id in numbered else given
        if standing == record:
            continue
        if (standing is not None or key in taken_out) and key not in written:
            amended[key] = about(known.connection, *key)
            if not proposing:
                check_own_row(record, amended[key], known, daybook, whose)
        check_own_codes(record, known, daybook, whose)
        if not proposing:
            check_own_result(record, known, daybook, whose)
        admit(record, known, now)
        if changes_evidence(record, standing):
            moved.append(record)
        new.append(record)
        written[key] = record
        known.put(record)
    check_resting(moved, known, now)
    if is_fit:  # new ones, and nothing has come between: the stickers chosen for them are free, too
        new += fit
        written |= {(one.TABLE, one.id): one for one in fit}
    return _Checked(new, written, amended)


def spoken_of(known: KnownRows, records: Sequence[Record]) -> set[Key]:
    """Return which of these rows, that do not stand, have entries all the same: their bodies were taken out."""
    by_kind: dict[str, set[str]] = defaultdict(set)
    for record in records:
        by_kind[record.TABLE].add(record.id)
    found: set[Key] = set()
    if not rows_equal(known.connection, Redaction, {}):
        return found
    for kind, ids in by_kind.items():
        for batch in batches(sorted(ids)):
            wanted = select(ENTRY.c.subject).where(ENTRY.c.kind == kind, ENTRY.c.subject.in_(batch))
            found |= {(kind, subject) for subject in known.connection.execute(wanted).scalars()}
    return found


def settle(
    known: KnownRows, daybook: str, record: Record, replaces: tuple[str, ...], reason: str, sources: Sources
) -> tuple[Entry, ...]:
    """Write an entry that replaces several about one row at once, also where it says what stands already."""
    now, whose = sources.now().astimezone(UTC), testers(known.connection)
    key = (record.TABLE, record.id)
    entries = about(known.connection, *key)
    check_own_row(record, entries, known, daybook, whose)
    last = head(known.connection, daybook)
    at = _time(last, {key: entries}, now)
    made = _chained(daybook, last, at, [record], reason, sources, {key: replaces})
    write_entries(known.connection, made)
    refresh(known.connection, *key, whose)
    return made


def _with_free_sticker(record: Record, standing: Record | None, known: KnownRows) -> Record:
    """Return a specimen with the sticker it stands with, or else the next one free if another has its own."""
    if not isinstance(record, Specimen):
        return record
    if isinstance(standing, Specimen):
        return replace(record, sticker=standing.sticker)
    if known.stickers.holder(record.sticker) in (None, record.id):
        return record
    return replace(record, sticker=known.stickers.next(record.sticker.rpartition(" ")[0]))


def _chained(
    daybook: str,
    last: Head,
    at: datetime,
    records: Iterable[Record],
    reason: str,
    sources: Sources,
    replacing: dict[Key, tuple[str, ...]],
    several: Collection[Key] = (),
) -> tuple[Entry, ...]:
    """Return the sealed entries; each names what it replaces, of the rows written `several` times one of these."""
    entries: list[Entry] = []
    seq, prev = last.seq, last.hash
    for record in records:
        key = (record.TABLE, record.id)
        entry = seal(
            daybook=daybook,
            seq=seq + 1,
            prev=prev,
            kind=record.TABLE,
            subject=record.id,
            at=at,
            salt=sources.salt(),
            body=encode(record, reason),
            replaces=replacing.get(key, ()),
        )
        if key in several:
            replacing[key] = (entry.hash,)
        entries.append(entry)
        seq, prev = entry.seq, entry.hash
    return tuple(entries)


def _time(last: Head, amended: Mapping[Key, Sequence[WrittenEntry]], now: datetime) -> datetime:
    """Return the time of new entries: now, but not before the daybook's last, and after whatever they amend.

    An entry that names what it replaces stands whatever its time; the later time only keeps a history in order. So a
    daybook dated in the future never moves this one's times.
    """
    at = now if last.at is None else max(now, last.at)
    before = [entry.at for entries in amended.values() for entry in entries if entry.at <= now + CLOCKS_DIFFER]
    return max([at, *(one + _TICK for one in before)])
