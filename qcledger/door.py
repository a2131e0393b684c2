"""The lazy door to the heavy floors: nothing behind it is imported before somebody goes through."""

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


class Door:
    """A ledger that is opened, with everything that takes, by the thread that first asks for it.

    Parameters
    ----------
    place
        The ledger file, or a database URL.
    write
        Whether it may be written to.
    """

    def __init__(self, place: str | Path, *, write: bool = False) -> None:
        self.place = place
        self._write = write
        self._ledger: Ledger | None = None

    @property
    def ledger(self) -> "Ledger":
        """Return the open ledger.

        Raises
        ------
        LedgerUnavailable
            When it cannot be opened; the next call tries again.
        """
        if self._ledger is None:
            from qcledger.ledger import Ledger  # here, because it costs more than all of the pages

            self._ledger = Ledger.open(self.place, write=self._write)
        return self._ledger

    def close(self) -> None:
        """Close the ledger if it was opened."""
        if self._ledger is not None:
            self._ledger.close()
            self._ledger = None
