"""Every lot that was tested, once for all criteria, with its facts as columns of numbers."""

from dataclasses import dataclass
from functools import cached_property
from hashlib import blake2b
from itertools import starmap

import numpy as np
from numpy.typing import NDArray

from qcledger.findings.columns import FactPairs, Ints, LotFact, both, codes, in_order, is_first
from qcledger.findings.lots import key_of
from qcledger.records import TestedRows
from qcledger.vocab import WhyBought


@dataclass(frozen=True, eq=False)
class Group:
    """Makers or makers' formats, with the number of each one's maker, and the paints and kinds each has lots of."""

    column: LotFact
    maker: Ints
    paints: FactPairs
    kinds: FactPairs


class Shelf:
    """Every lot that was tested, in the order of its first trial.

    Parameters
    ----------
    rows
        The observations that count, in order of trial.
    specimen
        For each of them the number of its specimen.
    silent
        Whether what does not say its group is a group of its own.

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

    def __init__(self, rows: TestedRows, specimen: Ints, *, silent: bool = False) -> None:
        self._silent = silent
        first, self._specimen_of_row = in_order(specimen)
        self._specimens = rows.some(first.tolist())
        lot_of_specimen, keys = codes(starmap(key_of, self._specimens.together("lot", "parcel", "paint", "format")))
        self.lot_of_row: Ints = lot_of_specimen[self._specimen_of_row]
        self.rows = self._specimens.some(np.flatnonzero(is_first(lot_of_specimen)).tolist())
        self.key = LotFact(np.arange(len(keys)), keys)
        self.coded: NDArray[np.bool_] = np.array([lot is not None for lot in self.rows.column("lot")], np.bool_)

    def __len__(self) -> int:
        return len(self.rows)

    @cached_property
    def planned_of_row(self) -> NDArray[np.bool_]:
        """For each observation whether its specimen was bought as planned, not to confirm or because of a note."""
        planned = np.array([why is WhyBought.PLANNED for why in self._specimens.column("why")], np.bool_)
        return planned[self._specimen_of_row]

    @cached_property
    def parcel_of_row(self) -> Ints:
        """For each observation the number of its specimen's parcel."""
        return codes(self._specimens.column("parcel"))[0][self._specimen_of_row]

    @cached_property
    def maker(self) -> LotFact:
        """Makers' ids."""
        return self._column("maker")

    @cached_property
    def format(self) -> LotFact:
        """Formats."""
        return self._column("format")

    @cached_property
    def cell(self) -> LotFact:
        """Makers' ids with formats."""
        return both(self.maker, self.format)

    @cached_property
    def paint(self) -> LotFact:
        """Paints' ids."""
        return self._column("paint")

    @cached_property
    def make(self) -> LotFact:
        """Paints' ids with formats: what a batch code is printed on."""
        return both(self.paint, self.format)

    @cached_property
    def _groups(self) -> list[tuple[str, ...]]:
        """For each lot what it shares with its peers, in order."""
        told = self.rows.together("group", "pigments")
        return [tuple(sorted(pigments if group is None else group)) for group, pigments in told]

    @cached_property
    def group(self) -> LotFact:
        """What peers share, such as declared Colour Index names, in order; none said is a name of its own."""
        return LotFact(*codes(self._groups))

    @cached_property
    def kind(self) -> LotFact:
        """Groups with formats."""
        return both(self.group, self.format)

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
        """Whether a lot is of some kind: its group is said, or whatever does not say it is a kind of its own."""
        return np.array([self._silent or bool(names) for names in self._groups], np.bool_)

    @cached_property
    def digests(self) -> NDArray[np.uint64]:
        """Two numbers for each lot, shape (lots, 2), hashed from its maker, format, paint, group and key."""
        columns = self.rows.together("maker", "format", "paint", "lot", "parcel")
        told = (
            (maker, str(format_), paint, list(group), lot or parcel)
            for group, (maker, format_, paint, lot, parcel) in zip(self._groups, columns, strict=True)
        )
        hashed = b"".join(blake2b(repr(one).encode(), digest_size=16).digest() for one in told)
        return np.frombuffer(hashed, np.uint64).reshape(-1, 2)

    def _group(self, column: LotFact) -> Group:
        maker = self.maker.of_lot[is_first(column.of_lot)]
        return Group(column, maker, FactPairs.of(column, self.paint), FactPairs.of(column, self.kind))

    def _column(self, fact: str) -> LotFact:
        return LotFact(*codes(self.rows.column(fact)))
