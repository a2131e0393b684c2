"""Looking for anything that is not as it was written: every hash, every row, every photo."""

import heapq
from collections.abc import Iterable, Iterator, Mapping
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, Select, select

from qcledger.errors import BadInput, LedgerUnavailable, Problem, QcledgerError
from qcledger.ledger import daybooks, photos
from qcledger.ledger.chain import broken_links
from qcledger.ledger.codec import decode, with_fields
from qcledger.ledger.connect import Database, Home
from qcledger.ledger.readmodels import entry_from, last_states
from qcledger.ledger.redact import bodies_still_there, bodies_without_reason, redacted_photos
from qcledger.ledger.tables import ENTRY, TABLE
from qcledger.records import TABLES, Entry, Photo, Record
from qcledger.text import one_line, shorten

Heads = Mapping[str, tuple[int, str]]
"""Number and hash of a daybook's last entry, by daybook."""


def problems(database: Database, against: Heads) -> list[Problem]:
    """Return everything that is wrong with a ledger; see `Ledger.verify`."""
    place = database.place
    found: list[Problem] = []
    known = daybooks.remembered(place.key)  # before the ledger is read: what is remembered later may be newer
    seen = {known.daybook: (known.seq, known.hash)} if known else {}
    try:
        with database.reading() as connection:
            for check in (_database, _chains, _redactions, _rows, _photos):
                found += check(connection, place)
            found += _against(connection, seen, "the last entry this machine saw")
            found += _against(connection, against, "a report's closing hash")
    except LedgerUnavailable as error:
        found.append(Problem(place.name, error.line(), "a ledger that can be read whole"))
    return found


def _database(connection: Connection, place: Home) -> Iterator[Problem]:
    for line in place.broken(connection):
        yield Problem(place.name, line, "a sound database")


def _chains(connection: Connection, place: Home) -> Iterator[Problem]:
    rows = _streamed(connection, select(ENTRY).order_by(ENTRY.c.daybook, ENTRY.c.seq))
    for _, book in groupby((entry_from(row) for row in rows), key=lambda entry: entry.daybook):
        wrong: list[Problem] = []
        yield from broken_links(_noting(book, wrong))
        yield from wrong


def _noting(book: Iterable[Entry], wrong: list[Problem]) -> Iterator[Entry]:
    """Yield the entries, noting in `wrong` those whose body cannot be read or is of another row than they say."""
    for entry in book:
        if entry.body is not None:
            wrong += _body(entry, entry.body)
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


def _redactions(connection: Connection, place: Home) -> Iterator[Problem]:
    for entry in bodies_without_reason(connection):
        yield Problem(f"daybook {entry.daybook} entry {entry.seq}", "no body", "a body, or a redaction that says why")
    for entry in bodies_still_there(connection):
        yield Problem(f"daybook {entry.daybook} entry {entry.seq}", "a body", "no body, because it was redacted")


def _rows(connection: Connection, place: Home) -> Iterator[Problem]:
    """Yield each row that is not what the entries say; a table that cannot be compared is one problem."""
    for kind, record in TABLES.items():
        rows = (with_fields(record, row) for row in _streamed(connection, select(TABLE[kind]).order_by("id")))
        try:
            yield from _differences(last_states(connection, kind), rows)
        except QcledgerError as error:
            yield Problem(f"table {kind}", error.line(), "rows as the entries tell them")


def _differences(told: Iterator[Record], kept: Iterator[Record]) -> Iterator[Problem]:
    """Walk two sequences of rows, both in the order of their ids, side by side."""
    merged = heapq.merge(((row, True) for row in told), ((row, False) for row in kept), key=lambda pair: pair[0].id)
    for _, pairs in groupby(merged, key=lambda pair: pair[0].id):
        rows = {is_told: row for row, is_told in pairs}
        if True not in rows:
            yield Problem(_by_id(rows[False]), "a row without entries", "rows that entries tell of")
        elif False not in rows:
            yield Problem(_by_id(rows[True]), "no such row", "a row as its entries tell")
        elif rows[True] != rows[False]:
            yield Problem(_by_id(rows[True]), "other values than its entries tell", "a row as its entries tell")


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
        path = place.photos / photos.photo_name(digest, kind)
        if digest in gone:
            if path.exists() or path.is_symlink():
                yield Problem(where, "a file", "no file, because it was redacted")
        elif (wrong := photos.wrong_with(path, digest)) is not None:
            yield Problem(where, wrong, f"the picture as it was filed, a plain file in {place.photos.name}")


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
