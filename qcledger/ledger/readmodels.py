"""The tables of records as read models of the entries: looked up, written, and rebuilt.

The order of entries over several daybooks is (time, daybook, number); of each row the last entry in that order
whose body was not redacted says how the row stands.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from functools import cache
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
from qcledger.ledger.codec import decode, with_fields
from qcledger.ledger.progress import Progress, untold
from qcledger.ledger.tables import ENTRY, TABLE
from qcledger.records import TABLES, Entry, Record, columns

R = TypeVar("R", bound=Record)
T = TypeVar("T")
Key = tuple[str, str]
"""Table and id of a row."""

BATCH = 500
"""Rows or ids to one statement; both databases take many times as many."""

IN_ORDER = (ENTRY.c.at, ENTRY.c.daybook, ENTRY.c.seq)


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


def write_entries(connection: Connection, entries: Iterable[Entry], progress: Progress = untold) -> None:
    """Add entries to their table."""
    for batch in progress("Writing entries", list(batches(entries))):
        connection.execute(insert(ENTRY), [values(Entry, entry) for entry in batch])


def values(kind: type[Any], row: Any) -> dict[str, Any]:
    """Return the fields of a record or entry by name."""
    return {column.name: getattr(row, column.name) for column in columns(kind)}


def lookup(connection: Connection, kind: str, ids: Collection[str]) -> dict[str, Record]:
    """Return the rows of a table that have one of the ids, by id."""
    table, record = TABLE[kind], TABLES[kind]
    found = {}
    for batch in batches(sorted(ids)):
        for row in connection.execute(select(table).where(table.c.id.in_(batch))).mappings():
            found[row["id"]] = with_fields(record, row)
    return found


def rows_equal(connection: Connection, record: type[R], equal: Mapping[str, Any]) -> list[R]:
    """Return the rows of a table whose fields equal `equal` (None: empty), in the order of their ids."""
    table = TABLE[record.TABLE]
    wanted = [table.c[name].is_(None) if value is None else table.c[name] == value for name, value in equal.items()]
    found = connection.execute(select(table).where(*wanted).order_by(table.c.id)).mappings()
    return [with_fields(record, row) for row in found]


def write_rows(
    connection: Connection, rows: Mapping[Key, Record], existing: Collection[Key], progress: Progress = untold
) -> None:
    """Make each row of `rows` stand as given; `existing` are those that stand already in some other way."""
    for kind, table in progress("Writing tables", list(TABLE.items())):
        given = {key: values(TABLES[kind], row) for key, row in rows.items() if key[0] == kind}
        _insert(connection, table, [row for key, row in given.items() if key not in existing])
        _update(connection, table, [row for key, row in given.items() if key in existing])


def _insert(connection: Connection, table: Table, rows: Iterable[dict[str, Any]]) -> None:
    for batch in batches(rows):
        connection.execute(insert(table), batch)


def _update(connection: Connection, table: Table, rows: Sequence[dict[str, Any]]) -> None:
    if rows:
        changed = update(table).where(table.c.id == bindparam("row_id"))
        changed = changed.values({name: bindparam(name) for name in rows[0] if name != "id"})
        connection.execute(changed, [{**row, "row_id": row["id"]} for row in rows])


def rebuild(connection: Connection) -> None:
    """Take out every row and write them anew from the entries."""
    for table in reversed(list(TABLE.values())):
        connection.execute(delete(table))
    for kind, table in TABLE.items():
        _insert(connection, table, (values(TABLES[kind], row) for row in last_states(connection, kind)))


def refresh(connection: Connection, kind: str, subject: str) -> None:
    """Let one row stand as its entries tell; without a body left, there is no row."""
    table = TABLE[kind]
    left = connection.execute(_last_bodies(kind, ENTRY.c.subject == subject)).one_or_none()
    connection.execute(delete(table).where(table.c.id == subject))
    if left is not None:
        row = decode(kind, left.body, f"daybook {left.daybook} entry {left.seq}")[0]
        connection.execute(insert(table), values(TABLES[kind], row))


def last_states(connection: Connection, kind: str) -> Iterator[Record]:
    """Yield the rows of a table as the entries tell them, in the order of their ids."""
    for row in connection.execute(_all_last_bodies(kind), execution_options={"yield_per": BATCH}):
        yield decode(kind, row.body, f"daybook {row.daybook} entry {row.seq}")[0]


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


@cache
def _all_last_bodies(kind: str) -> Select[Any]:
    return _last_bodies(kind)


def _last_bodies(kind: str, *also: ColumnElement[bool]) -> Select[Any]:
    place = func.row_number().over(partition_by=ENTRY.c.subject, order_by=[column.desc() for column in IN_ORDER])
    ranked = (
        select(ENTRY.c.daybook, ENTRY.c.seq, ENTRY.c.subject, ENTRY.c.body, place.label("place"))
        .where(ENTRY.c.kind == kind, ENTRY.c.body.is_not(None), *also)
        .subquery()
    )
    return select(ranked).where(ranked.c.place == 1).order_by(ranked.c.subject)
