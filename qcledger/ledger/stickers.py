"""Stickers: a tester's letters and a count, on one specimen each."""

import re
from collections.abc import Iterable

from sqlalchemy import Connection, select

from qcledger.ledger.tables import TABLE
from qcledger.records import Specimen

FORM = "one to four letters, a blank and a count, as in OV 0147"
DIGITS = 4
"""A count is padded to so many digits."""

_LETTERS = r"[^\W\d_]{1,4}"
_STICKER = re.compile(rf"({_LETTERS}) ([0-9]{{1,9}})")

Number = tuple[str, int]
"""What two stickers share that read alike: the letters, whatever their case, and the count without its zeros."""


def are_letters(text: str) -> bool:
    """Say whether a text may begin stickers: one to four letters."""
    return re.fullmatch(_LETTERS, text) is not None


def number(sticker: str) -> Number | None:
    """Return what a sticker says, or None for a text that is no sticker."""
    found = _STICKER.fullmatch(sticker)
    return (found[1].casefold(), int(found[2])) if found else None


def alike(stickers: Iterable[str]) -> list[str]:
    """Return each sticker that another one before it reads like."""
    seen: set[Number] = set()
    twice = []
    for sticker in stickers:
        read = number(sticker)
        if read in seen:
            twice.append(sticker)
        elif read is not None:
            seen.add(read)
    return twice


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
        read = number(sticker)
        if read is not None:
            self._holders.setdefault(read, specimen)
            self._last[read[0]] = max(self._last.get(read[0], 0), read[1])

    def holder(self, sticker: str) -> str | None:
        """Return the id of the specimen that has a sticker which reads like this one, or None."""
        read = number(sticker)
        return self._holders.get(read) if read else None

    def put(self, specimen: Specimen, before: Specimen | None) -> None:
        """Let a specimen have its sticker, and no longer the one it had before."""
        old = number(before.sticker) if before else None
        if old is not None and self._holders.get(old) == specimen.id:
            del self._holders[old]
        self._enter(specimen.id, specimen.sticker)

    def next(self, letters: str) -> str:
        """Return the sticker after the last one with these letters."""
        return f"{letters} {self._last.get(letters.casefold(), 0) + 1:0{DIGITS}}"
