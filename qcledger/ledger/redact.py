"""Taking out what should not have been kept: the body of an entry, or a photo's bytes; the chain still verifies."""

from collections.abc import Iterable

from sqlalchemy import Connection, select, update

from qcledger.ledger.readmodels import batches, entry_from
from qcledger.ledger.tables import ENTRY, TABLE
from qcledger.records import Entry, Redaction

_REDACTION = TABLE[Redaction.TABLE]


def take_out(connection: Connection, redactions: Iterable[Redaction]) -> None:
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


def redacted_photos(connection: Connection) -> set[str]:
    """Return the SHA-256 of each photo whose bytes were taken out."""
    return set(connection.execute(select(_REDACTION.c.photo).where(_REDACTION.c.photo.is_not(None))).scalars())
