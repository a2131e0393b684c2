"""Lots: the specimens of one lot taken together, which is what everything else counts."""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple, TypeVar

from qcledger.findings.evidence import Unit
from qcledger.records import TestedRow

K = TypeVar("K", bound=Hashable)
Kind = tuple[tuple[str, ...], str]
"""What makes things of two makers comparable: the same group, such as declared pigments, in the same format."""


class TestedLot(NamedTuple):
    """The tested specimens of one lot or, where no batch code was printed, of one paint in one parcel.

    Parameters
    ----------
    row
        The first specimen's row; paint, maker, format, lot and group are the same in each.
    units
        The specimens, in order of trial.
    tested, faulty
        How many there are, and how many of them are faulty.
    kind
        Its peers' group, such as its declared Colour Index names in order, and the format.
    key
        What tells this lot from every other: lot or parcel, paint and format.
    """

    row: TestedRow
    units: tuple[Unit, ...]
    tested: int
    faulty: int
    kind: Kind
    key: tuple[str, str, str]

    @property
    def coded(self) -> bool:
        """Whether a batch code was printed; only then does it count towards a minimum number of lots."""
        return self.row.lot is not None

    @property
    def group(self) -> tuple[str, ...]:
        """What it shares with its peers, such as declared Colour Index names, in order; empty if not said."""
        return self.kind[0]


@dataclass(frozen=True, slots=True)
class Counts:
    """How many were tested and how many of them were faulty; lots are those with a batch code.

    `uncoded` counts the parcels of a paint without one, which never count as lots.
    """

    tested: int
    faulty: int
    lots: int
    faulty_lots: int
    paints: int
    faulty_paints: int
    uncoded: int

    @property
    def rate(self) -> float | None:
        """Share of faulty specimens; None when nothing was tested."""
        return self.faulty / self.tested if self.tested else None


def units_of(lots: Iterable[TestedLot]) -> Iterator[Unit]:
    """Yield the specimens of some lots."""
    return (unit for lot in lots for unit in lot.units)


def lot_key(row: TestedRow) -> tuple[str, str, str]:
    """Return what tells the lot of a specimen from every other."""
    return key_of(row.lot, row.parcel, row.paint, row.format)


def key_of(lot: str | None, parcel: str, paint: str, format_: str) -> tuple[str, str, str]:
    """Return what tells a lot from every other; without a batch code it is what came in one parcel."""
    return (lot or parcel, paint, format_)


def kind_of(row: TestedRow) -> Kind:
    """Return what makes a specimen's paint comparable with other makers'."""
    return (tuple(sorted(row.peer_group)), row.format)


def lot_of(units: Iterable[Unit]) -> TestedLot:
    """Return the lot that `units` are of; there must be one at least."""
    units = tuple(units)
    row, faulty = units[0].row, [unit for unit in units if unit.faulty]
    return TestedLot(row, units, len(units), len(faulty), kind_of(row), lot_key(row))


def tally(lots: Iterable[TestedLot]) -> Counts:
    """Return the counts over `lots`."""
    lots = tuple(lots)
    bad = [lot for lot in lots if lot.faulty]
    coded = sum(lot.row.lot is not None for lot in lots)
    return Counts(
        tested=sum([lot.tested for lot in lots]),
        faulty=sum([lot.faulty for lot in bad]),
        lots=coded,
        faulty_lots=sum(lot.coded for lot in bad),
        paints=len({lot.row.paint for lot in lots}),
        faulty_paints=len({lot.row.paint for lot in bad}),
        uncoded=len(lots) - coded,
    )


def grouped(lots: Iterable[TestedLot], by: Callable[[TestedLot], K]) -> dict[K, list[TestedLot]]:
    """Return `lots` in groups, each in order."""
    groups: dict[K, list[TestedLot]] = defaultdict(list)
    for lot in lots:
        groups[by(lot)].append(lot)
    return dict(groups)


def sums(lots: Iterable[TestedLot]) -> tuple[int, int]:
    """Return the faulty and the tested specimens of `lots`."""
    faulty = tested = 0
    for lot in lots:
        faulty, tested = faulty + lot.faulty, tested + lot.tested
    return faulty, tested


def faulty_specimens(lots: Iterable[TestedLot]) -> frozenset[str]:
    """Return the ids of the faulty specimens of `lots`."""
    return frozenset(unit.row.specimen for lot in lots if lot.faulty for unit in lot.units if unit.faulty)


def faulty_parcels(lots: Iterable[TestedLot]) -> frozenset[str]:
    """Return the ids of the parcels that the faulty specimens of `lots` came in."""
    return frozenset(unit.row.parcel for lot in lots if lot.faulty for unit in lot.units if unit.faulty)


def rate_of(lots: Iterable[TestedLot]) -> float | None:
    """Return the share of faulty specimens in `lots`; None when there is none."""
    faulty, tested = sums(lots)
    return faulty / tested if tested else None
