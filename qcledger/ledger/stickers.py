"""The stickers in use, as a transaction sees them."""

from sqlalchemy import Connection, select

from qcledger.ledger.tables import TABLE
from qcledger.records import Specimen
from qcledger.stickers import Number, letters_and_count, sticker


class Stickers:
    """The stickers in use, as a transaction sees them.

    Parameters
    ----------
    connection
        The transaction's connection; every specimen is read once.
    """

    def __init__(self, connection: Connection) -> None:
        self._holders: dict[Number, str] = {}
        self._last: dict[str, int] = {}
        table = TABLE[Specimen.TABLE]
        for row in connection.execute(select(table.c.id, table.c.sticker).order_by(table.c.id)):
            self._enter(row.id, row.sticker)

    def _enter(self, specimen: str, sticker: str) -> None:
        read = letters_and_count(sticker)
        if read is not None:
            self._holders.setdefault(read, specimen)
            self._last[read[0]] = max(self._last.get(read[0], 0), read[1])

    def holder(self, wanted: str) -> str | None:
        """Return the id of the specimen that has a sticker which reads like this one, or None."""
        read = letters_and_count(wanted)
        return self._holders.get(read) if read else None

    def put(self, specimen: Specimen, before: Specimen | None) -> None:
        """Let a specimen have its sticker, and no longer the one it had before."""
        old = letters_and_count(before.sticker) if before else None
        if old is not None and self._holders.get(old) == specimen.id:
            del self._holders[old]
        self._enter(specimen.id, specimen.sticker)

    def next(self, letters: str) -> str:
        """Return the sticker after the last one with these letters."""
        return sticker(letters, self._last.get(letters.casefold(), 0) + 1)
