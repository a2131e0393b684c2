"""Every lot that was tested, once for all criteria, with its facts as columns of numbers."""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from functools import cached_property
from hashlib import blake2b
from operator import attrgetter

import numpy as np
from numpy.typing import NDArray

from qcledger.findings.columns import Column, Ints, Pairs, both, codes, in_order, is_first
from qcledger.findings.lots import lot_key
from qcledger.records import TestedRow
from qcledger.vocab import Why


@dataclass(frozen=True, eq=False)
class Group:
    """Makers or makers' formats, with the number of each one's maker, and the paints and kinds each has lots of."""

    column: Column
    maker: Ints
    paints: Pairs
    kinds: Pairs


class Shelf:
    """Every lot that was tested, in the order of its first trial.

    Parameters
    ----------
    rows
        The observations that count, in order of trial.
    specimen
        For each of them the number of its specimen.

    Attributes
    ----------
    lot_of_row
        For each observation the number of its lot.
    rows
        For each lot its first observation.
    key
        Lots' keys, each lot's own.
    coded
        For each lot whether a batch code was printed.
    """

    def __init__(self, rows: Sequence[TestedRow], specimen: Ints) -> None:
        first, self._specimen_of_row = in_order(specimen)
        self._specimens = [rows[place] for place in first.tolist()]
        lot_of_specimen, keys = codes(map(lot_key, self._specimens))
        self.lot_of_row: Ints = lot_of_specimen[self._specimen_of_row]
        self.rows = [self._specimens[place] for place in np.flatnonzero(is_first(lot_of_specimen)).tolist()]
        self.key = Column(np.arange(len(keys)), keys)
        self.coded: NDArray[np.bool_] = np.array([row.lot is not None for row in self.rows], np.bool_)

    def __len__(self) -> int:
        return len(self.rows)

    @cached_property
    def planned_of_row(self) -> NDArray[np.bool_]:
        """For each observation whether its specimen was bought as planned, not to confirm or because of a note."""
        planned = np.array([row.why is Why.PLANNED for row in self._specimens], np.bool_)
        return planned[self._specimen_of_row]

    @cached_property
    def parcel_of_row(self) -> Ints:
        """For each observation the number of its specimen's parcel."""
        return codes(map(attrgetter("parcel"), self._specimens))[0][self._specimen_of_row]

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
        return both(self.maker, self.format)

    @cached_property
    def paint(self) -> Column:
        """Paints' ids."""
        return self._column(attrgetter("paint"))

    @cached_property
    def make(self) -> Column:
        """Paints' ids with formats: what a batch code is printed on."""
        return both(self.paint, self.format)

    @cached_property
    def pigments(self) -> Column:
        """Declared Colour Index names, in order; none declared is a name of its own."""
        return self._column(lambda row: tuple(sorted(row.pigments)))

    @cached_property
    def kind(self) -> Column:
        """Declared Colour Index names with formats."""
        return both(self.pigments, self.format)

    @cached_property
    def makers(self) -> Group:
        """Makers, as groups to count within."""
        return self._group(self.maker)

    @cached_property
    def cells(self) -> Group:
        """Makers' formats, as groups to count within."""
        return self._group(self.cell)

    @cached_property
    def declared(self) -> NDArray[np.bool_]:
        """Whether pigments are declared: only then is a lot of some kind."""
        return np.array([bool(row.pigments) for row in self.rows], np.bool_)

    @cached_property
    def digests(self) -> NDArray[np.uint64]:
        """Two numbers for each lot, shape (lots, 2), hashed from its maker, format, paint, pigments and key."""
        told = (
            (row.maker, str(row.format), row.paint, sorted(row.pigments), row.lot or row.parcel) for row in self.rows
        )
        hashed = b"".join(blake2b(repr(one).encode(), digest_size=16).digest() for one in told)
        return np.frombuffer(hashed, np.uint64).reshape(-1, 2)

    def _group(self, column: Column) -> Group:
        maker = self.maker.of_lot[is_first(column.of_lot)]
        return Group(column, maker, Pairs.of(column, self.paint), Pairs.of(column, self.kind))

    def _column(self, fact: Callable[[TestedRow], Hashable]) -> Column:
        return Column(*codes(map(fact, self.rows)))
