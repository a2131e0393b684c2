"""Ledgers that are made once in a process and copied from then on, for tests that each change one of their own."""

from collections.abc import Callable, Hashable
from pathlib import Path

from qcledger.ledger import daybooks

_MADE: dict[Hashable, tuple[bytes, daybooks.Remembered]] = {}


def copied(place: Path, what: Hashable, make: Callable[[Path], None]) -> Path:
    """Put at `place` the ledger file that `make` makes there, and return its place.

    Parameters
    ----------
    place
        A file that does not exist.
    what
        Everything that `make` depends on beside the place: the same makes the same ledger.
    make
        Makes the ledger, with times and ids of its own, and closes it. The first one asked for is that itself; a
        later one is a copy, and this machine's own ledger like the first, so that its daybook is continued.
    """
    if what not in _MADE:
        make(place)
        last = daybooks.remembered(str(place))
        assert last is not None
        _MADE[what] = (place.read_bytes(), last)
    else:
        content, last = _MADE[what]
        place.write_bytes(content)
        daybooks.remember(str(place), last)
    return place
