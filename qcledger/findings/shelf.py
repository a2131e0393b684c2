"""Every lot that was tested, once for all criteria, with its facts as columns of numbers."""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from functools import cached_property
from hashlib import blake2b
from operator import attrgetter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from qcledger.findings.evidence import codes
from qcledger.findings.lots import kind_of, lot_key
from qcledger.records import TestedRow
from qcledger.vocab import Why

Ints = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Column:
    """One fact of every lot.

    Parameters
    ----------
    of_lot
        For each lot a number from 0.
    names
        What each number stands for.
    """

    of_lot: Ints
    names: list[Any]

    @cached_property
    def number(self) -> dict[Hashable, int]:
        """The number of each name."""
        return {name: place for place, name in enumerate(self.names)}

    @cached_property
    def lots(self) -> list[Ints]:
        """For each number the lots that have it, in order."""
        order = np.argsort(self.of_lot, kind="stable")
        return np.split(order, np.searchsorted(self.of_lot[order], np.arange(1, len(self.names))))

    def sums(self, values: NDArray[Any]) -> Ints:
        """Return for each number the sum of `values`, one a lot, over its lots."""
        return np.bincount(self.of_lot, values, len(self.names)).astype(np.intp)


class Shelf:
    """Every lot that was tested, in the order of its first trial.

    Parameters
    ----------
    rows
        The observations that count, in order of trial.
    specimen
        For each of them the number of its specimen.
    """

    def __init__(self, rows: Sequence[TestedRow], specimen: Ints) -> None:
        places, self.specimen_of_row = in_order(specimen)
        self.specimens = [rows[place] for place in places.tolist()]
        lot_of_specimen, _ = codes(map(lot_key, self.specimens))
        self.lot_of_row: Ints = lot_of_specimen[self.specimen_of_row]
        self.rows = [self.specimens[place] for place in in_order(lot_of_specimen)[0].tolist()]
        self.coded: NDArray[np.bool_] = np.array([row.lot is not None for row in self.rows], np.bool_)

    def __len__(self) -> int:
        return len(self.rows)

    @cached_property
    def planned_of_row(self) -> NDArray[np.bool_]:
        """For each observation whether its specimen was bought as planned, not to confirm or because of a note."""
        planned = np.array([row.why is Why.PLANNED for row in self.specimens], np.bool_)
        return planned[self.specimen_of_row]

    @cached_property
    def parcel_of_row(self) -> Ints:
        """For each observation the number of its specimen's parcel."""
        return codes(map(attrgetter("parcel"), self.specimens))[0][self.specimen_of_row]

    @cached_property
    def maker(self) -> Column:
        """Makers' ids."""
        return self._column(attrgetter("maker"))

    @cached_property
    def format(self) -> Column:
        """Formats."""
        return self._column(attrgetter("format"))

    @cached_property
    def cell(self) -> Column:
        """Makers' ids with formats."""
        return self._column(attrgetter("maker", "format"))

    @cached_property
    def paint(self) -> Column:
        """Paints' ids."""
        return self._column(attrgetter("paint"))

    @cached_property
    def make(self) -> Column:
        """Paints' ids with formats: what a batch code is printed on."""
        return self._column(attrgetter("paint", "format"))

    @cached_property
    def pigments(self) -> Column:
        """Declared Colour Index names, in order; none declared is a name of its own."""
        return self._column(lambda row: tuple(sorted(row.pigments)))

    @cached_property
    def kind(self) -> Column:
        """Declared Colour Index names with formats."""
        return self._column(kind_of)

    @cached_property
    def declared(self) -> NDArray[np.bool_]:
        """Whether pigments are declared: only then is a lot of some kind."""
        return np.array([bool(row.pigments) for row in self.rows], np.bool_)

    @cached_property
    def key(self) -> Column:
        """Lots' keys, each lot's own."""
        return self._column(lot_key)

    @cached_property
    def digests(self) -> NDArray[np.uint64]:
        """Two numbers for each lot, shape (lots, 2), hashed from its maker, format, paint, pigments and key."""
        told = (
            (row.maker, str(row.format), row.paint, sorted(row.pigments), row.lot or row.parcel) for row in self.rows
        )
        hashed = b"".join(blake2b(repr(one).encode(), digest_size=16).digest() for one in told)
        return np.frombuffer(hashed, np.uint64).reshape(-1, 2)

    def _column(self, fact: Callable[[TestedRow], Hashable]) -> Column:
        return Column(*codes(map(fact, self.rows)))


def in_order(number: Ints) -> tuple[Ints, Ints]:
    """Return where each number first stands, and the numbers counted anew in that order."""
    first = np.full(number.max(initial=-1) + 1, -1, np.intp)
    first[number[::-1]] = np.arange(len(number))[::-1]
    there = np.flatnonzero(first >= 0)
    there = there[np.argsort(first[there])]
    anew = np.empty(len(first), np.intp)
    anew[there] = np.arange(len(there))
    return first[there], anew[number]
