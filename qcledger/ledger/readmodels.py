"""The tables of records as read models of the entries: looked up, written, and rebuilt.

The order of entries over several daybooks is (time, daybook, number); which of the entries about one row says how it
stands, `standing` knows.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import AbstractContextManager
from dataclasses import fields
from functools import cache
from heapq import merge
from itertools import islice
from typing import Any, TypeVar

from sqlalchemy import (
    ColumnElement,
    Connection,
    RowMapping,
    Select,
    Table,
    bindparam,
    delete,
    func,
    insert,
    select,
    tuple_,
    update,
)

from qcledger.errors import Problem
from qcledger.ledger.codec import decode, with_id
from qcledger.ledger.progress import Progress, untold
from qcledger.ledger.standing import RowStanding, Testers, WrittenEntry, by_row, stands
from qcledger.ledger.standing import whose as whose_of
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE, WHOSE
from qcledger.records import TABLES, Daybook, Entry, Record, columns

R = TypeVar("R", bound=Record)
T = TypeVar("T")
Key = tuple[str, str]
"""Table and id of a row."""

BATCH = 500
"""Rows or ids to one statement; both databases take many times as many."""

_SCANNED = 20
"""How many ids of a table are read rather than one looked for: that takes about so many times as long."""

IN_ORDER = (ENTRY.c.at, ENTRY.c.daybook, ENTRY.c.seq)

_WRITTEN = select(*(ENTRY.c[field.name] for field in fields(WrittenEntry)))


def after(entry: Entry) -> ColumnElement[bool]:
    """Return the condition that an entry comes after this one."""
    last = tuple_(entry.at, entry.daybook, entry.seq, types=[column.type for column in IN_ORDER])
    return tuple_(*IN_ORDER) > last


def batches(items: Iterable[T]) -> Iterator[list[T]]:
    """Yield `items` in parts small enough for one statement."""
    rest = iter(items)
    while batch := list(islice(rest, BATCH)):
        yield batch


def entry_from(row: RowMapping) -> Entry:
    """Return the entry in a row of its table."""
    return Entry(**row)


def in_parts(reading: Callable[[], AbstractContextManager[Connection]], daybook: str | None) -> Iterator[Entry]:
    """Yield entries in their order, of one daybook or all; between parts no connection is held.

    A daybook's times never go back, so each is read by number, and those of several are merged.
    """
    books = [daybook]
    if daybook is None:
        with reading() as connection:
            books = list(connection.execute(select(ENTRY.c.daybook).distinct()).scalars())
    yield from merge(*(_by_number(reading, book) for book in books), key=lambda one: (one.at, one.daybook, one.seq))


def _by_number(reading: Callable[[], AbstractContextManager[Connection]], daybook: str | None) -> Iterator[Entry]:
    """Yield the entries of a daybook in the order of their numbers."""
    last, wanted = 0, select(ENTRY).where(ENTRY.c.daybook == daybook).order_by(ENTRY.c.seq).limit(BATCH)
    while True:
        with reading() as connection:
            found = [entry_from(row) for row in connection.execute(wanted.where(ENTRY.c.seq > last)).mappings()]
        yield from found
        if len(found) < BATCH:
            return
        last = found[-1].seq


def written_of(entry: Entry) -> WrittenEntry:
    """Return what an entry says of its row, without its chain."""
    return WrittenEntry(*(getattr(entry, field.name) for field in fields(WrittenEntry)))


def decoded(entry: WrittenEntry) -> Record:
    """Return the record an entry holds; it must have its body."""
    return decode(entry.kind, entry.body or "", f"daybook {entry.daybook} entry {entry.seq}")[0]


def testers(connection: Connection) -> Testers:
    """Return whose the daybooks are, as their own first entries say."""
    books = map(decoded, entries_of(connection, Daybook.TABLE))
    return Testers.of(book for book in books if isinstance(book, Daybook))


def about(connection: Connection, kind: str, subject: str) -> list[WrittenEntry]:
    """Return the entries about one row, in their order."""
    wanted = _WRITTEN.where(ENTRY.c.kind == kind, ENTRY.c.subject == subject).order_by(*IN_ORDER)
    return [WrittenEntry(*row) for row in connection.execute(wanted)]


def entries_of(connection: Connection, kind: str) -> list[WrittenEntry]:
    """Return the entries of one table that have their bodies, in their order."""
    wanted = _WRITTEN.where(ENTRY.c.kind == kind, ENTRY.c.body.is_not(None)).order_by(*IN_ORDER)
    return [WrittenEntry(*row) for row in connection.execute(wanted)]


def row_of(connection: Connection, kind: str, subject: str, whose: Testers) -> RowStanding | None:
    """Return how one row stands by its entries, or None where there is none with a body."""
    entries = about(connection, kind, subject)
    return stands(entries, whose, decoded) if entries else None


def write_entries(connection: Connection, entries: Iterable[Entry], progress: Progress = untold) -> None:
    """Add entries to their table."""
    for batch in progress("Writing entries", list(batches(entries))):
        connection.execute(insert(ENTRY), [values(Entry, entry) for entry in batch])


def values(kind: type[Any], row: Any) -> dict[str, Any]:
    """Return the fields of a record or entry by name."""
    return {column.name: getattr(row, column.name) for column in columns(kind)}


def present(connection: Connection, table: Table, ids: Collection[str]) -> list[str]:
    """Return those of many ids that may be in a table, in order: all of a few, for they are soon looked for."""
    if len(ids) <= BATCH:
        return sorted(ids)
    rows = connection.execute(select(func.count()).select_from(table)).scalar_one()
    if rows > _SCANNED * len(ids):
        return sorted(ids)
    wanted = set(ids)
    return sorted(one for one in connection.execute(select(table.c.id)).scalars() if one in wanted)


def lookup(connection: Connection, kind: str, ids: Collection[str]) -> dict[str, Record]:
    """Return the rows of a table that have one of the ids, by id."""
    table = TABLE[kind]
    parts = batches(present(connection, table, ids))
    return {row.id: row for part in parts for row in _rows(connection, TABLES[kind], table.c.id.in_(part))}


def _rows(connection: Connection, record: type[R], *conditions: ColumnElement[bool]) -> Iterator[R]:
    """Yield the rows of a table that meet conditions; their values were checked when they were written."""
    table, names = TABLE[record.TABLE], [column.name for column in columns(record)]
    wanted = select(*(table.c[name] for name in names)).where(*conditions).order_by(table.c.id)
    for values in connection.execute(wanted).all():
        yield with_id(record(**dict(zip(names, values, strict=True))))


def rows_equal(connection: Connection, record: type[R], equal: Mapping[str, Any]) -> list[R]:
    """Return the rows of a table whose fields equal `equal` (None: empty), in the order of their ids."""
    table = TABLE[record.TABLE]
    wanted = [table.c[name].is_(None) if value is None else table.c[name] == value for name, value in equal.items()]
    return list(_rows(connection, record, *wanted))


def write_rows(connection: Connection, rows: Mapping[Key, Record], daybook: str, progress: Progress = untold) -> None:
    """Write rows that did not stand yet, as `daybook`'s."""
    by_kind: dict[str, list[Record]] = defaultdict(list)
    for (kind, _), row in rows.items():
        by_kind[kind].append(row)
    for kind, table in progress("Writing tables", list(TABLE.items())):
        _insert(connection, table, (_kept(row, daybook) for row in by_kind.pop(kind, ())))


def _kept(record: Record, daybook: str) -> dict[str, Any]:
    """Return what a table keeps of a row."""
    return {**values(type(record), record), **beside(record, daybook)}


def beside(record: Record, daybook: str) -> dict[str, str]:
    """Return what stands beside a record's fields: the daybook it belongs to, and of a daybook whose it is."""
    return {DAYBOOK: daybook, WHOSE: whose_of(record)} if isinstance(record, Daybook) else {DAYBOOK: daybook}


def _insert(connection: Connection, table: Table, rows: Iterable[dict[str, Any]]) -> None:
    for batch in batches(rows):
        connection.execute(insert(table), batch)


def rebuild(connection: Connection) -> None:
    """Take out every row and write them anew from the entries."""
    for table in reversed(list(TABLE.values())):
        connection.execute(delete(table))
    whose = testers(connection)
    for kind, table in TABLE.items():
        _insert(connection, table, (_kept(row.record, row.daybook) for row in standing_rows(connection, kind, whose)))


def refresh(connection: Connection, kind: str, subject: str, whose: Testers) -> None:
    """Let one row stand as its entries tell; without a body left, there is no row."""
    table, row = TABLE[kind], row_of(connection, kind, subject, whose)
    if row is None:
        connection.execute(delete(table).where(table.c.id == subject))
        return
    kept = _kept(row.record, row.daybook)
    changed = update(table).where(table.c.id == bindparam("row_id"))
    changed = changed.values({name: bindparam(name) for name in kept if name != "id"})
    if not connection.execute(changed, [{**kept, "row_id": subject}]).rowcount:
        connection.execute(insert(table), kept)


def standing_rows(connection: Connection, kind: str, whose: Testers) -> Iterator[RowStanding]:
    """Yield the rows of a table as the entries tell them, in the order of their ids."""
    wanted = _WRITTEN.where(ENTRY.c.kind == kind).order_by(ENTRY.c.subject, *IN_ORDER)
    found = connection.execute(wanted, execution_options={"yield_per": BATCH})
    for entries in by_row(WrittenEntry(*row) for row in found):
        row = stands(entries, whose, decoded)
        if row is not None:
            yield row


def dangling(connection: Connection) -> Iterator[Problem]:
    """Yield each row that names a row which is not there."""
    for kind, table in TABLE.items():
        for column in columns(TABLES[kind]):
            if column.refers_to:
                yield from _dangling(connection, table, column.name, TABLE[column.refers_to])


def _dangling(connection: Connection, table: Table, field: str, other: Table) -> Iterator[Problem]:
    for row, subject in connection.execute(_naming_nothing(table, field, other)):
        allowed = f"the id of a {other.name}; if that was redacted, redact this row too"
        yield Problem(f"{table.name} {row} {field}", subject, allowed)


@cache
def _naming_nothing(table: Table, field: str, other: Table) -> Select[Any]:
    named = other.alias("named")
    missing = ~select(named.c.id).where(named.c.id == table.c[field]).exists()
    return select(table.c.id, table.c[field]).where(table.c[field].is_not(None), missing).limit(10)
