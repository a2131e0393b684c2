"""Taking out what should not have been kept: the body of an entry, or a photo's bytes; the chain still verifies."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager

from sqlalchemy import Connection, func, select, update

from qcledger.errors import bad
from qcledger.ledger import imports, photos
from qcledger.ledger.connect import Database
from qcledger.ledger.known import KnownRows
from qcledger.ledger.readmodels import (
    after,
    batches,
    decoded,
    entries_of,
    entry_from,
    lookup,
    refresh,
    rows_equal,
    testers,
    written_of,
)
from qcledger.ledger.sources import Sources
from qcledger.ledger.standing import Testers
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE
from qcledger.ledger.told import told
from qcledger.ledger.writing import append
from qcledger.records import TABLES, Daybook, Decision, Entry, Maker, Photo, Record, Redaction, columns
from qcledger.records.finding_key import FINDING_TABLES
from qcledger.vocab import DecisionKind

_REDACTION = TABLE[Redaction.TABLE]
_STAYS = (Daybook.TABLE, Redaction.TABLE)
_OF_PHOTOS = (Daybook.TABLE, Redaction.TABLE, Photo.TABLE, Decision.TABLE)
"""Tables that tell which photos are redacted."""


def standing(connection: Connection, *, entry: str | None, photo: str | None) -> Redaction | None:
    """Return the redaction of an entry or photo that was made before and holds, or None."""
    same = _REDACTION.c.entry == entry if entry else _REDACTION.c.photo == photo
    made = connection.execute(select(*_REDACTION.c["id", DAYBOOK]).where(same).order_by(_REDACTION.c.id)).all()
    whose, lifted = testers(connection), _lifted(connection) if made else set()
    found = next((id_ for id_, daybook in made if (id_, whose.of_daybook(daybook)) not in lifted), None)
    row = lookup(connection, Redaction.TABLE, [found])[found] if found else None
    return row if isinstance(row, Redaction) else None


def lifts(row: Record) -> bool:
    """Say whether a row is the decision that a photo which was taken out is filed again: its redaction is void."""
    return isinstance(row, Decision) and (row.subject_table, row.kind) == (Redaction.TABLE, DecisionKind.VOID)


def _lifted(connection: Connection) -> set[tuple[str, str]]:
    """Return the redactions that a decision here voids, each with who decided so."""
    decided, whose = TABLE[Decision.TABLE], testers(connection)
    voids = (decided.c.subject_table == Redaction.TABLE, decided.c.kind == DecisionKind.VOID)
    found = connection.execute(select(*decided.c["subject", DAYBOOK]).where(*voids))
    return {(subject, whose.of_daybook(daybook)) for subject, daybook in found}


def take_out(known: KnownRows, daybook: str, redaction: Redaction, sources: Sources) -> None:
    """Append a redaction and take out what it names, if nothing needs it; raises BadInput saying what does."""
    connection, whose = known.connection, testers(known.connection)
    entry = _entry(connection, redaction.entry) if redaction.entry else None
    if entry is not None and not whose.same(entry.daybook, daybook):
        raise bad(place_of(entry), f"an entry of {whose.name(entry.daybook)}", "an entry of your own daybooks")
    if redaction.photo:
        _check_photo(connection, redaction.photo, daybook, whose)
    append(known, daybook, [redaction], "", sources)
    if entry is not None:
        connection.execute(update(ENTRY).where(ENTRY.c.hash == entry.hash).values(salt=None, body=None))
        refresh(connection, entry.kind, entry.subject, testers(connection))


def place_of(entry: Entry) -> str:
    """Return the name of an entry for messages."""
    return f"daybook {entry.daybook} entry {entry.seq}"


def remove_photos(database: Database) -> None:
    """Remove the bytes of every redacted photo that are still there, on this machine and on a server."""
    gone = remove_copies(database)
    if gone and database.place.is_shared:
        with database.writing() as connection:
            database.place.drop_photos(connection, gone)


def remove_copies(database: Database) -> set[str]:
    """Remove the files of every redacted photo that lie on this machine; returns the hashes of those redacted."""
    with database.reading() as connection:
        gone = redacted_photos(connection)
    with told(database.place.name):
        for digest in gone:
            photos.remove(database.place.photos, digest)
    return gone


def _entry(connection: Connection, digest: str) -> Entry:
    """Return the entry with this hash, if its body may be taken out; raises BadInput saying why it may not."""
    row = connection.execute(select(ENTRY).where(ENTRY.c.hash == digest)).mappings().one_or_none()
    if row is None:
        raise bad("entry", digest, "the hash of an entry in this ledger")
    entry = entry_from(row)
    where = place_of(entry)
    if entry.kind in _STAYS:
        raise bad(where, f"a {entry.kind}", "an entry that does not hold the ledger together")
    if not _replaced(connection, entry) and (user := _first_user(connection, entry.kind, entry.subject)):
        raise bad(where, f"{entry.kind} named by {user}", "an entry whose row was written again, or is named nowhere")
    return entry


def _check_photo(connection: Connection, digest: str, daybook: str, whose: Testers) -> None:
    """Refuse a photo that no record speaks of, or that another tester filed."""
    photo = TABLE[Photo.TABLE]
    filed = list(connection.execute(select(photo.c[DAYBOOK]).where(photo.c.sha256 == digest)).scalars())
    if not filed:
        raise bad("photo", digest, "the SHA-256 of a photo in this ledger")
    others = [whose.name(one) for one in filed if not whose.same(one, daybook)]
    if others:
        raise bad(f"photo {digest[:12]}", f"a photo of {others[0]}", "a photo that your own daybooks filed")


def empty_bodies(connection: Connection) -> None:
    """Take the bodies and salts of the entries that their own testers redacted out of the database."""
    for batch in batches(sorted(redacted_entries(connection))):
        connection.execute(update(ENTRY).where(ENTRY.c.hash.in_(batch)).values(salt=None, body=None))


def redacted_entries(connection: Connection) -> set[str]:
    """Return the hashes of the entries that were redacted by a daybook of the tester who wrote them.

    Read from the entries: a redaction that is being merged is in no table yet. What another tester's daybook redacts
    of mine stays; it may be taken out of his own copy, and comes back where the two are merged.
    """
    whose = testers(connection)
    by_entry: dict[str, set[str]] = defaultdict(set)
    for daybook, row in _redactions(connection):
        if row.entry is not None:
            by_entry[row.entry].add(whose.of_daybook(daybook))
    found = set()
    for batch in batches(sorted(by_entry)):
        of_batch = select(ENTRY.c.hash, ENTRY.c.daybook).where(ENTRY.c.hash.in_(batch))
        for digest, daybook in connection.execute(of_batch):
            if whose.of_daybook(daybook) in by_entry[digest]:
                found.add(digest)
    return found


def _redactions(connection: Connection) -> Iterator[tuple[str, Redaction]]:
    """Yield each redaction as its entry tells it, with the daybook that wrote it."""
    for entry in entries_of(connection, Redaction.TABLE):
        row = decoded(entry)
        if isinstance(row, Redaction):
            yield entry.daybook, row


def emptied_here(connection: Connection, books: Mapping[str, Sequence[Entry]]) -> list[Entry]:
    """Return the entries that come in whole, and whose bodies are missing here though their own tester kept them."""
    bare = set(connection.execute(select(ENTRY.c.hash).where(ENTRY.c.body.is_(None))).scalars())
    bare -= redacted_entries(connection) if bare else set()
    return [one for book in books.values() for one in book if one.hash in bare and one.body is not None]


def fill_bodies(connection: Connection, entries: Iterable[Entry]) -> None:
    """Put back bodies that are missing here and came in whole; what their own tester redacted is emptied after."""
    for entry in entries:
        whole = update(ENTRY).where(ENTRY.c.hash == entry.hash).values(salt=entry.salt, body=entry.body)
        connection.execute(whole)


def bodies_without_reason(connection: Connection) -> list[Entry]:
    """Return the entries whose bodies are gone though no redaction says why."""
    said = set(connection.execute(select(_REDACTION.c.entry)).scalars())
    bare = map(entry_from, connection.execute(select(ENTRY).where(ENTRY.c.body.is_(None))).mappings())
    return [entry for entry in bare if entry.hash not in said]


def bodies_still_there(connection: Connection) -> list[Entry]:
    """Return the redacted entries whose bodies were not taken out."""
    gone = redacted_entries(connection)
    kept = [connection.execute(select(ENTRY).where(ENTRY.c.hash.in_(batch))).mappings() for batch in batches(gone)]
    return [entry_from(row) for rows in kept for row in rows if row["body"] is not None]


def filed_same(
    reading: Callable[[], AbstractContextManager[Connection]], writer: Daybook, photo: Photo
) -> Photo | None:
    """Return this tester's own row of the same picture of the same thing, or None.

    Another tester's row is none: that one may take it out, and then nobody kept it who filed it after.

    Raises
    ------
    BadInput
        When this tester filed the picture and took it out: its bytes would not stay.
    """
    with reading() as connection:
        own = imports.own(connection, Photo.TABLE, writer)
        mine = [row for row in rows_equal(connection, Photo, {"sha256": photo.sha256}) if row.id in own]
        gone = bool(mine) and photo.sha256 in redacted_photos(connection)
    if gone:
        allowed = "one that was not; qcledger amend --photo files it again"
        raise bad(photo.file_name or f"photo {photos.short(photo.sha256)}", "a picture that you took out", allowed)
    place = (photo.specimen, photo.observation)
    return next((row for row in mine if (row.specimen, row.observation) == place), None)


def redacted_photos(
    connection: Connection, coming: Sequence[Entry] = (), writing: Iterable[tuple[str, Record]] = ()
) -> set[str]:
    """Return the SHA-256 of each photo that every tester who filed it has redacted, and has not filed again since.

    Parameters
    ----------
    connection
        The ledger.
    coming
        Entries to be.
    writing
        Rows to be written, each with the daybook that writes it.
    """
    said = [written_of(entry) for entry in coming if entry.kind in _OF_PHOTOS]
    new = [*((entry.daybook, decoded(entry)) for entry in said), *writing]
    books = {book.id: book for _, book in new if isinstance(book, Daybook)}
    whose = Testers({**books, **testers(connection).books})
    redactions = [*_redactions(connection), *((book, row) for book, row in new if isinstance(row, Redaction))]
    lifted = _lifted(connection) | {
        (row.subject, whose.of_daybook(book)) for book, row in new if isinstance(row, Decision) and lifts(row)
    }
    by_photo: dict[str, set[str]] = defaultdict(set)
    for daybook, row in redactions:
        who = whose.of_daybook(daybook)
        if row.photo is not None and (row.id, who) not in lifted:
            by_photo[row.photo].add(who)
    here = ((one.daybook, decoded(one)) for one in entries_of(connection, Photo.TABLE)) if by_photo else ()
    filed: dict[str, set[str]] = defaultdict(set)
    for daybook, photo in (*here, *new):
        if isinstance(photo, Photo) and photo.sha256 in by_photo:
            filed[photo.sha256].add(whose.of_daybook(daybook))
    return {digest for digest, redacted in by_photo.items() if filed[digest] and filed[digest] <= redacted}


def _replaced(connection: Connection, entry: Entry) -> bool:
    later = select(func.count()).where(
        ENTRY.c.kind == entry.kind,
        ENTRY.c.subject == entry.subject,
        ENTRY.c.body.is_not(None),
        after(entry),
    )
    return bool(connection.execute(later).scalar())


def _first_user(connection: Connection, kind: str, subject: str) -> str | None:
    """Return the name of a row that names this one, or None."""
    for name, record in TABLES.items():
        table = TABLE[name]
        named = [table.c[column.name] == subject for column in columns(record) if column.refers_to == kind]
        if record is Decision:
            about = table.c.subject_table == kind
            if kind == Maker.TABLE:
                about |= table.c.subject_table.startswith(FINDING_TABLES)
            named.append(about & (table.c.subject == subject))
        for same in named:
            found = connection.execute(select(table.c.id).where(same).limit(1)).scalar()
            if found is not None:
                return f"{name} {found}"
    return None
