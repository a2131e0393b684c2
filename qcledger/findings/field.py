"""All lots tested on one criterion, and who stands beside whom."""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

from qcledger.findings.evidence import Unit
from qcledger.findings.lots import Counts, Kind, Lot, lot_of, tally
from qcledger.rubric import Criterion
from qcledger.vocab import Format

K = TypeVar("K", bound=Hashable)
Sums = tuple[int, int]
"""Faulty and tested specimens."""

_NONE: Sums = (0, 0)


@dataclass(frozen=True)
class Field:
    """All makers together on one criterion (the statistician's field), lot by lot.

    Parameters
    ----------
    criterion
        As it stood in the latest rubric it was graded with.
    lots
        Every lot, in order of its first trial.
    """

    criterion: Criterion
    lots: tuple[Lot, ...]

    @cached_property
    def counts(self) -> Counts:
        """Counts over all makers."""
        return tally(self.lots)

    @cached_property
    def by_maker(self) -> Mapping[str, Sequence[Lot]]:
        """The lots of each maker, by its id."""
        return grouped(self.lots, lambda lot: lot.row.maker)

    @cached_property
    def by_cell(self) -> Mapping[tuple[str, Format], Sequence[Lot]]:
        """The lots of each maker in each format."""
        return grouped(self.lots, lambda lot: (lot.row.maker, lot.row.format))

    @cached_property
    def by_kind(self) -> Mapping[Kind, Sequence[Lot]]:
        """The lots of the same declared pigments in the same format; undeclared pigments are of no kind."""
        return grouped((lot for lot in self.lots if lot.pigments), lambda lot: lot.kind)

    @cached_property
    def by_paint(self) -> Mapping[str, Sequence[Lot]]:
        """The lots of each paint, over its formats."""
        return grouped(self.lots, lambda lot: lot.row.paint)

    @cached_property
    def _sums(self) -> Mapping[str, Sums]:
        return {maker: sums(lots) for maker, lots in self.by_maker.items()}

    @cached_property
    def _sums_of_kind(self) -> Mapping[Kind, Mapping[str, Sums]]:
        """For each kind the sums of each maker, and of all makers under an empty name."""
        found: dict[Kind, dict[str, Sums]] = {}
        for kind, lots in self.by_kind.items():
            found[kind] = {maker: sums(own) for maker, own in grouped(lots, lambda lot: lot.row.maker).items()}
            found[kind][""] = sums(lots)
        return found

    def makers_of_kind(self, kind: Kind) -> int:
        """Return how many makers were tested with the same pigments in the same format."""
        return len(self._sums_of_kind[kind]) - 1

    def rate_without(self, maker: str) -> float | None:
        """Return the other makers' rate of faulty specimens; None when none was tested."""
        ours, counts = self._sums.get(maker, _NONE), self.counts
        tested = counts.tested - ours[1]
        return (counts.faulty - ours[0]) / tested if tested else None

    def peer_sums(self, maker: str, kinds: Iterable[Kind]) -> Sums:
        """Return the faulty and tested specimens of other makers' paints of `kinds`."""
        faulty = tested = 0
        for of_kind in (self._sums_of_kind[kind] for kind in kinds if kind in self._sums_of_kind):
            own, everyone = of_kind.get(maker, _NONE), of_kind[""]
            faulty, tested = faulty + everyone[0] - own[0], tested + everyone[1] - own[1]
        return faulty, tested

    def peers(self, lots: Iterable[Lot]) -> tuple[Lot, ...]:
        """Return other makers' lots of the kinds of `lots`, which are one maker's."""
        kinds = dict.fromkeys(lot.kind for lot in lots)
        own = {lot.row.maker for lot in lots}
        return tuple(lot for kind in kinds for lot in self.by_kind.get(kind, ()) if lot.row.maker not in own)

    def without(self, keys: frozenset[Hashable]) -> "Field":
        """Return the field less the lots with these keys."""
        return Field(self.criterion, tuple(lot for lot in self.lots if lot.key not in keys)) if keys else self


def grouped(lots: Iterable[Lot], by: Callable[[Lot], K]) -> dict[K, list[Lot]]:
    """Return `lots` in groups, each in order."""
    groups: dict[K, list[Lot]] = defaultdict(list)
    for lot in lots:
        groups[by(lot)].append(lot)
    return dict(groups)


def sums(lots: Iterable[Lot]) -> Sums:
    """Return the faulty and the tested specimens of `lots`."""
    faulty = tested = 0
    for lot in lots:
        faulty, tested = faulty + lot.faulty, tested + lot.tested
    return faulty, tested


def fields(units: Iterable[Unit], criteria: Mapping[str, Criterion]) -> dict[str, Field]:
    """Return the field of each criterion on which `units` were judged."""
    lots: dict[str, dict[Hashable, list[Unit]]] = defaultdict(dict)
    for unit in units:
        row = unit.row
        of_criterion, key = lots[row.criterion], (row.lot or row.parcel, row.paint, row.format)
        if key in of_criterion:
            of_criterion[key].append(unit)
        else:
            of_criterion[key] = [unit]
    return {key: Field(criteria[key], tuple(map(lot_of, by_lot.values()))) for key, by_lot in lots.items()}
