"""The lazy door to the heavy floors: nothing behind it is imported before somebody goes through."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


Place = str | Path
"""A ledger file, or a database URL."""


@dataclass(frozen=True, slots=True)
class LedgerIdentity:
    """Which ledger it is, for what is kept beside it.

    Parameters
    ----------
    place
        Its file, links followed, or its URL without a password.
    daybooks
        The ids of the daybooks in it; another ledger that later lies at the same place lacks some of them.
    """

    place: str
    daybooks: frozenset[str]


def identity_of(ledger: "Ledger") -> LedgerIdentity:
    """Return which ledger an open one is."""
    from qcledger.records import Daybook

    place = ledger.where if "://" in ledger.where else str(Path(ledger.where).resolve())
    return LedgerIdentity(place, frozenset(row.id for row in ledger.rows(Daybook)))


class Found:
    """A place that is found, or made, when somebody first asks; several threads may ask at once.

    Parameters
    ----------
    find
        Returns the place; called once.
    """

    def __init__(self, find: Callable[[], Place]) -> None:
        self._find = find
        self._lock = Lock()
        self._place: Place | None = None

    def __call__(self) -> Place:
        """Return the place."""
        with self._lock:
            if self._place is None:
                self._place = self._find()
            return self._place


class Door:
    """A ledger that is opened, with everything that takes, by the thread that first asks for it.

    Opened for writing, a ledger without a daybook of this machine's begins one with what is first saved, not before.

    Parameters
    ----------
    place
        The ledger file, or a database URL; or what finds it, which may take its time.
    write
        Whether it may be written to.
    """

    def __init__(self, place: Place | Found, *, write: bool = False) -> None:
        self._place = place
        self._write = write
        self._ledger: Ledger | None = None
        self._lock = Lock()

    @property
    def place(self) -> Place:
        """Where the ledger is; finding it may take its time."""
        return self._place() if isinstance(self._place, Found) else self._place

    @property
    def ledger(self) -> "Ledger":
        """Return the open ledger.

        Raises
        ------
        LedgerUnavailable
            When it cannot be opened; the next call tries again.
        """
        with self._lock:
            if self._ledger is None:
                from qcledger.clock import machine_zone
                from qcledger.ledger import Ledger  # here, because it costs more than all of the pages

                self._ledger = Ledger.open(self.place, write=self._write, begin=False, zone=machine_zone())
            return self._ledger

    def identity(self) -> LedgerIdentity:
        """Return which ledger this is; opens it."""
        return identity_of(self.ledger)

    def close(self) -> None:
        """Close the ledger if it was opened."""
        with self._lock:
            if self._ledger is not None:
                self._ledger.close()
                self._ledger = None
