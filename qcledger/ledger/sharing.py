"""What an open ledger does beside its own work where several testers share it on a server: photos for everybody."""

from collections.abc import Sequence
from contextlib import suppress

from sqlalchemy import Connection

from qcledger.errors import LedgerUnavailable
from qcledger.ledger import photos, redact, server_photos
from qcledger.ledger.connect import Database, Home
from qcledger.records import Photo, Record


def share_photos(database: Database, *, write: bool) -> None:
    """Let go of photos redacted elsewhere and, with `write`, bring those here to a server that lacks them."""
    place = database.place
    if not place.is_shared:
        return
    with suppress(OSError, LedgerUnavailable):  # the next opening tries again, and verify names what lacks
        gone = redact.remove_copies(database)
        if not write:
            return
        with database.reading() as connection:
            lacking = server_photos.missing(connection)
        for digest, kind in lacking:  # one by one, so that nobody waits long
            here = server_photos.lies_at(place.photos, photos.photo_name(digest, kind))
            if digest not in gone and photos.wrong_with(here, digest) is None:
                with database.writing() as connection:
                    place.take_up(connection, {digest: kind})


def take_up_of(connection: Connection, place: Home, daybook: str, records: Sequence[Record]) -> None:
    """Bring the photos that records name where all testers reach them, before a daybook writes the records.

    One that another tester took out is filed by these records, and is nobody's alone any more.
    """
    named = [row for row in records if isinstance(row, Photo) and photos.is_name(row.sha256, row.kind)]
    shown = {row.sha256: row.kind for row in named}  # any other is refused when it is written
    if shown and place.is_shared:
        gone = redact.redacted_photos(connection, writing=[(daybook, row) for row in records])
        place.take_up(connection, {digest: kind for digest, kind in shown.items() if digest not in gone})
