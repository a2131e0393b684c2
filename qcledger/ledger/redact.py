"""Taking out what should not have been kept: the body of an entry, or a photo's bytes; the chain still verifies."""

from collections.abc import Iterable

from sqlalchemy import Connection, func, select, update

from qcledger.errors import bad
from qcledger.ledger import photos
from qcledger.ledger.connect import Database
from qcledger.ledger.known import Known
from qcledger.ledger.readmodels import after, batches, entry_from, lookup, refresh, testers
from qcledger.ledger.sources import Sources
from qcledger.ledger.tables import ENTRY, TABLE
from qcledger.ledger.told import told
from qcledger.ledger.writing import append
from qcledger.records import TABLES, Daybook, Decision, Entry, Photo, Redaction, columns

_REDACTION = TABLE[Redaction.TABLE]
_STAYS = (Daybook.TABLE, Redaction.TABLE)


def standing(connection: Connection, *, entry: str | None, photo: str | None) -> Redaction | None:
    """Return the redaction of an entry or photo that was made before, or None."""
    same = _REDACTION.c.entry == entry if entry else _REDACTION.c.photo == photo
    found = connection.execute(select(_REDACTION.c.id).where(same).order_by(_REDACTION.c.id).limit(1)).scalar()
    row = lookup(connection, Redaction.TABLE, [found])[found] if found else None
    return row if isinstance(row, Redaction) else None


def take_out(known: Known, daybook: str, redaction: Redaction, sources: Sources) -> None:
    """Append a redaction and take out what it names, if nothing needs it; raises BadInput saying what does."""
    connection = known.connection
    entry = _entry(connection, redaction.entry) if redaction.entry else None
    if redaction.photo:
        _check_photo(connection, redaction.photo)
    append(known, daybook, [redaction], "", sources)
    if entry is not None:
        connection.execute(update(ENTRY).where(ENTRY.c.hash == entry.hash).values(salt=None, body=None))
        refresh(connection, entry.kind, entry.subject, testers(connection))


def remove_photos(database: Database) -> None:
    """Remove the bytes of every redacted photo that are still there."""
    with database.reading() as connection:
        gone = redacted_photos(connection)
    with told(database.place.name):
        for digest in gone:
            photos.remove(database.place.photos, digest)


def _entry(connection: Connection, digest: str) -> Entry:
    """Return the entry with this hash, if its body may be taken out; raises BadInput saying why it may not."""
    row = connection.execute(select(ENTRY).where(ENTRY.c.hash == digest)).mappings().one_or_none()
    if row is None:
        raise bad("entry", digest, "the hash of an entry in this ledger")
    entry = entry_from(row)
    where = f"daybook {entry.daybook} entry {entry.seq}"
    if entry.kind in _STAYS:
        raise bad(where, f"a {entry.kind}", "an entry that does not hold the ledger together")
    if not _replaced(connection, entry) and (user := _first_user(connection, entry.kind, entry.subject)):
        raise bad(where, f"{entry.kind} named by {user}", "an entry whose row was written again, or is named nowhere")
    return entry


def _check_photo(connection: Connection, digest: str) -> None:
    """Refuse a photo that no record speaks of."""
    photo = TABLE[Photo.TABLE]
    if connection.execute(select(photo.c.id).where(photo.c.sha256 == digest).limit(1)).scalar() is None:
        raise bad("photo", digest, "the SHA-256 of a photo in this ledger")


def empty_bodies(connection: Connection, redactions: Iterable[Redaction]) -> None:
    """Take the bodies and salts of redacted entries out of the database, earlier redactions' among them."""
    earlier = connection.execute(select(_REDACTION.c.entry).where(_REDACTION.c.entry.is_not(None))).scalars()
    hashes = {row.entry for row in redactions if row.entry} | set(earlier)
    for batch in batches(sorted(hashes)):
        connection.execute(update(ENTRY).where(ENTRY.c.hash.in_(batch)).values(salt=None, body=None))


def bodies_without_reason(connection: Connection) -> list[Entry]:
    """Return the entries whose bodies are gone though no redaction says why."""
    said = select(_REDACTION.c.entry).where(_REDACTION.c.entry == ENTRY.c.hash).exists()
    bare = select(ENTRY).where(ENTRY.c.body.is_(None), ~said)
    return [entry_from(row) for row in connection.execute(bare).mappings()]


def bodies_still_there(connection: Connection) -> list[Entry]:
    """Return the redacted entries whose bodies were not taken out."""
    kept = select(ENTRY).join(_REDACTION, _REDACTION.c.entry == ENTRY.c.hash).where(ENTRY.c.body.is_not(None))
    return [entry_from(row) for row in connection.execute(kept).mappings()]


def redacted_photos(connection: Connection) -> set[str]:
    """Return the SHA-256 of each photo whose bytes were taken out."""
    return set(connection.execute(select(_REDACTION.c.photo).where(_REDACTION.c.photo.is_not(None))).scalars())


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
            named.append((table.c.subject_table == kind) & (table.c.subject == subject))
        for same in named:
            found = connection.execute(select(table.c.id).where(same).limit(1)).scalar()
            if found is not None:
                return f"{name} {found}"
    return None
