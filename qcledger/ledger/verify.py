"""Looking for anything that is not as it was written: every hash, every row, every photo."""

import heapq
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import groupby
from typing import Any, NamedTuple, cast

from sqlalchemy import Connection, RowMapping, Select, select, type_coerce

from qcledger.errors import BadInput, LedgerUnavailable, Problem, QcledgerError
from qcledger.ledger import connect, daybooks, photos
from qcledger.ledger.chain import broken_links, utc_text
from qcledger.ledger.codec import decode, with_fields
from qcledger.ledger.connect import Database, Home
from qcledger.ledger.postgres import VERSION_KEY
from qcledger.ledger.readmodels import beside, entry_from, standing_rows, testers
from qcledger.ledger.redact import bodies_still_there, bodies_without_reason, redacted_photos
from qcledger.ledger.stored import TEXT
from qcledger.ledger.tables import ENTRY, META, TABLE
from qcledger.records import TABLES, Entry, Photo, Record, columns
from qcledger.text import one_line, shorten

Heads = Mapping[str, tuple[int, str]]
"""Number and hash of a daybook's last entry, by daybook."""


_TIME = type_coerce(ENTRY.c.at, TEXT).label("time_as_it_stands")


def _nothing(_: object) -> None:
    """Take a row and do nothing with it."""


def problems(database: Database, against: Heads) -> list[Problem]:
    """Return everything that is wrong with a ledger; see `Ledger.verify`."""
    place = database.place
    found: list[Problem] = []
    known = daybooks.remembered(place.key)  # before the ledger is read: what is remembered later may be newer
    seen = {known.daybook: (known.seq, known.hash)} if known and known.seq else {}
    try:
        with database.reading() as connection:
            for check in (database_itself, chains, redactions, _rows, _photos):
                try:
                    found += check(connection, place)
                except BadInput as error:  # a body that says nothing to whoever asks what was redacted
                    found.append(Problem(place.name, error.line(), "entries that can be read"))
            found += _against(connection, seen, "the last entry this machine saw")
            found += _against(connection, against, "a report's closing hash")
    except LedgerUnavailable as error:
        found.append(Problem(place.name, error.line(), "a ledger that can be read whole"))
    return found


def database_itself(connection: Connection, place: Home) -> Iterator[Problem]:
    """Yield what is wrong with the database whatever it holds: its pages, its tables, what it says about itself."""
    for line in place.broken(connection):
        yield Problem(place.name, line, "a sound database")
    for line in place.reshaped(connection):
        yield Problem(place.name, line, "the tables this program makes")
    told = {row.key: row.value for row in connection.execute(select(META.c.key, META.c.value))}
    allowed = {VERSION_KEY: str(connect.VERSION), **place.notes}
    for key in sorted({VERSION_KEY, *told}):
        if key not in allowed or not re.fullmatch(allowed[key], told.get(key, "")):
            found = shorten(one_line(told.get(key, "")), 40) or "nothing"
            yield Problem(f"meta {shorten(one_line(key), 40)}", found, allowed.get(key, "no such row"))


def chains(connection: Connection, place: Home, take: Callable[[Entry], object] = _nothing) -> Iterator[Problem]:
    """Yield what is wrong with the entries, giving each to `take` in the order of daybook and number."""
    rows = _streamed(connection, select(ENTRY, _TIME).order_by(ENTRY.c.daybook, ENTRY.c.seq))
    for _, book in groupby(rows, key=lambda row: row["daybook"]):
        wrong: list[Problem] = []
        yield from broken_links(_noting(book, wrong, take))
        yield from wrong


def _noting(book: Iterable[RowMapping], wrong: list[Problem], take: Callable[[Entry], object]) -> Iterator[Entry]:
    """Yield the entries, noting in `wrong` those whose body cannot be read, or that say something in another way."""
    for row in book:
        values = dict(row)
        time = values.pop(_TIME.name)
        entry = entry_from(cast(RowMapping, values))
        if time != utc_text(entry.at):  # the hash covers the moment, and one moment has many spellings
            where = f"daybook {entry.daybook} entry {entry.seq}"
            wrong.append(Problem(where, f"time {shorten(one_line(str(time)), 40)}", utc_text(entry.at)))
        if entry.body is not None:
            wrong += _body(entry, entry.body)
        take(entry)
        yield entry


def _body(entry: Entry, body: str) -> Iterator[Problem]:
    where = f"daybook {entry.daybook} entry {entry.seq}"
    try:
        record, _ = decode(entry.kind, body, where)
    except BadInput as error:
        yield from error.problems
        return
    if record.id != entry.subject:
        yield Problem(where, entry.subject, f"the id in its body, {record.id}")


def redactions(connection: Connection, place: Home) -> Iterator[Problem]:
    """Yield each body that is gone without a reason, or still there in spite of one."""
    for entry in bodies_without_reason(connection):
        yield Problem(f"daybook {entry.daybook} entry {entry.seq}", "no body", "a body, or a redaction that says why")
    for entry in bodies_still_there(connection):
        yield Problem(f"daybook {entry.daybook} entry {entry.seq}", "a body", "no body, because it was redacted")


def _rows(connection: Connection, place: Home) -> Iterator[Problem]:
    for kind in TABLES:
        yield from (one for one in rows_of(connection, kind) if isinstance(one, Problem))


class _Kept(NamedTuple):
    """A row of a table: its record, and what stands beside the record's fields."""

    record: Record
    beside: dict[str, str]


def _kept(record: type[Record], row: Any) -> _Kept:
    names = {column.name for column in columns(record)}
    return _Kept(with_fields(record, row), {name: value for name, value in row.items() if name not in names})


def rows_of(connection: Connection, kind: str) -> Iterator[Record | Problem]:
    """Yield each row of a table by id, or that it is not what the entries say.

    A table that cannot be compared is one problem.
    """
    record = TABLES[kind]
    rows = (_kept(record, row) for row in _streamed(connection, select(TABLE[kind]).order_by("id")))
    try:
        standing = standing_rows(connection, kind, testers(connection))
        yield from _compared((_Kept(one.record, beside(one.record, one.daybook)) for one in standing), rows)
    except QcledgerError as error:
        yield Problem(f"table {kind}", error.line(), "rows as the entries tell them")


def _compared(told: Iterator[_Kept], kept: Iterator[_Kept]) -> Iterator[Record | Problem]:
    """Walk two sequences of rows, both in the order of their ids, side by side."""
    both = (((row, True) for row in told), ((row, False) for row in kept))
    merged = heapq.merge(*both, key=lambda pair: pair[0].record.id)
    for _, pairs in groupby(merged, key=lambda pair: pair[0].record.id):
        rows = {is_told: row for row, is_told in pairs}
        if True not in rows:
            yield Problem(_by_id(rows[False].record), "a row without entries", "rows that entries tell of")
        elif False not in rows:
            yield Problem(_by_id(rows[True].record), "no such row", "a row as its entries tell")
        elif rows[True] != rows[False]:
            other = "other values than its entries tell"
            yield Problem(_by_id(rows[True].record), other, "a row as its entries tell")
        else:
            yield rows[False].record


def _by_id(row: Record) -> str:
    """Return the place of a row that may be none of ours: by its id, for its name may be what was changed."""
    return f"{row.TABLE} {shorten(one_line(str(row.id)), 40)}"


def _photos(connection: Connection, place: Home) -> Iterator[Problem]:
    photo, gone = TABLE[Photo.TABLE], redacted_photos(connection)
    for digest, kind in connection.execute(select(photo.c.sha256, photo.c.kind).distinct().order_by(photo.c.sha256)):
        where = f"photo {photos.short(digest)}"
        if not photos.is_name(digest, kind):
            yield Problem(where, "a name that is no hash and kind", "the name of a file in the photo folder")
            continue
        if (wrong := place.wrong_photo(connection, digest, kind, gone=digest in gone)) is not None:
            yield Problem(where, *wrong)


def _against(connection: Connection, heads: Heads, what: str) -> Iterator[Problem]:
    """Yield each closing hash that was seen elsewhere and is not in its daybook here."""
    for daybook, (seq, digest) in heads.items():
        entry = select(ENTRY.c.hash).where(ENTRY.c.daybook == daybook, ENTRY.c.seq == seq)
        here = connection.execute(entry).scalar()
        if here != digest:
            found = f"{here[:12]}..." if here else "no such entry"
            yield Problem(f"daybook {daybook} entry {seq}", found, f"{what}, {digest[:12]}...")


def _streamed(connection: Connection, query: Select[Any]) -> Iterator[Any]:
    yield from connection.execute(query, execution_options={"yield_per": 1000}).mappings()
