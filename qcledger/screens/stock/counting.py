"""How many specimens a list shows, and how many of them are there: one taken out is shown and not counted."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from qcledger.records import Specimen

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


@dataclass(frozen=True, slots=True)
class Count:
    """Rows of a list, and those of them that were taken out again."""

    rows: int
    out: int

    @property
    def there(self) -> int:
        """Return how many are there."""
        return self.rows - self.out

    @property
    def words(self) -> str:
        """Return how many are there, and beside it how many were taken out."""
        beside = f" and {self.out} taken out" if self.out else ""
        return f"{self.there} specimen{'' if self.there == 1 else 's'}{beside}"


def count_of(ledger: "Ledger", words: Iterable[str], parcel: str | None) -> Count:
    """Count the specimens that have every word, of one parcel or of all."""
    from qcledger.ledger.queries import void_rows
    from qcledger.ledger.queries_stock import shelf, shelf_count

    wanted = tuple(words)
    with ledger.reading() as connection:
        rows = shelf_count(connection, wanted, parcel)
        gone = void_rows(connection, Specimen.TABLE)
        if not wanted and parcel is None:
            return Count(rows, len(gone))
        out = sum(one.taken_out for one in shelf(connection, wanted, parcel, 0, rows)) if gone else 0
    return Count(rows, out)


def place_of(ledger: "Ledger", specimen: Specimen) -> int:
    """Return the number of a specimen in the list of its parcel, from 0."""
    from qcledger.ledger.queries_stock import shelf, shelf_count

    with ledger.reading() as connection:
        every = shelf(connection, (), specimen.parcel, 0, shelf_count(connection, (), specimen.parcel))
    return next((number for number, one in enumerate(every) if one.id == specimen.id), 0)
