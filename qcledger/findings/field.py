"""All lots tested on one criterion, and who stands beside whom."""

from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from qcledger.findings.columns import Ints, LotFact, distinct, is_first
from qcledger.findings.evidence import Evidence, Sitting, near_in_time
from qcledger.findings.grouped import grouped
from qcledger.findings.lots import Counts, Kind, TestedLot
from qcledger.findings.shelf import Group, Shelf
from qcledger.rubric import Criterion, PeerGroup


@dataclass(frozen=True, eq=False)
class Sums:
    """Counts over the lots of each group, as columns, and the same of its peers.

    Parameters
    ----------
    faulty, tested
        Specimens.
    lots, faulty_lots
        Lots with a batch code, and those of them with a fault.
    paints
        Paints.
    peer_faulty, peer_tested
        Specimens of other makers of the same group (pigments) in the same format.
    beside
        Rate of those peers or, without peers, of the other makers; NaN where no other maker was tested.
    """

    faulty: Ints
    tested: Ints
    lots: Ints
    faulty_lots: Ints
    paints: Ints
    peer_faulty: Ints
    peer_tested: Ints
    beside: NDArray[np.float64]

    @property
    def rate(self) -> NDArray[np.float64]:
        """Share of faulty specimens; 0 where none was tested."""
        return self.faulty / np.maximum(self.tested, 1)


@dataclass(frozen=True, eq=False)
class CriterionField:
    """All makers together on one criterion (the statistician's field), lot by lot.

    Parameters
    ----------
    criterion
        As it stood in the latest rubric it was graded with.
    evidence, shelf
        Everything that counts, and every lot of it.
    places
        Where the criterion's observations stand in the evidence, lot after lot, each in order of trial.
    starts
        For each lot of the shelf, where in `places` it begins; and one more, where the last one ends.
    shown
        For each lot of the shelf, whether it belongs to this field.
    """

    criterion: Criterion
    evidence: Evidence
    shelf: Shelf
    places: Ints
    starts: Ints
    shown: NDArray[np.bool_]

    @cached_property
    def tested(self) -> Ints:
        """Specimens tested of each lot of the shelf."""
        return np.where(self.shown, np.diff(self.starts), 0)

    @cached_property
    def faulty(self) -> Ints:
        """Faulty specimens of each lot of the shelf."""
        return self._per_lot(self.evidence.faulty[self.places] == 1)

    @cached_property
    def as_planned(self) -> "CriterionField":
        """The same with only what was bought as planned: what was bought because it looked bad is no sample."""
        planned = self.shelf.planned_of_row[self.places]
        if planned.all():
            return self
        before = np.concatenate([[0], np.cumsum(planned)])
        return replace(self, places=self.places[planned], starts=before[self.starts])

    @cached_property
    def _lots(self) -> dict[int, TestedLot]:
        return {}

    def lot(self, number: int) -> TestedLot:
        """Return a lot by its number on the shelf; something of it must have been tested."""
        if number not in self._lots:
            places = self.places[self.starts[number] : self.starts[number + 1]].tolist()
            units = tuple(map(self.evidence.unit, places))
            shelf, faulty = self.shelf, int(self.faulty[number])
            kind, key = shelf.kind.names[shelf.kind.of_lot[number]], shelf.key.names[number]
            self._lots[number] = TestedLot(units[0].row, units, len(units), faulty, kind, key)
        return self._lots[number]

    def some(self, numbers: Ints) -> tuple[TestedLot, ...]:
        """Return the lots of these numbers that belong to the field."""
        return tuple(map(self.lot, numbers[self.tested[numbers] > 0].tolist()))

    def numbers(self, column: LotFact, name: Hashable) -> Ints:
        """Return the numbers of the field's lots that have `name` in a column of the shelf."""
        number = column.number.get(name)
        lots = np.zeros(0, np.intp) if number is None else column.lots[number]
        return lots[self.tested[lots] > 0]

    @cached_property
    def lots(self) -> tuple[TestedLot, ...]:
        """Every lot, in order of its first trial."""
        return self.some(np.arange(len(self.shelf)))

    def of(self, column: LotFact, name: Hashable) -> tuple[TestedLot, ...]:
        """Return the lots that have `name` in a column of the shelf."""
        return tuple(map(self.lot, self.numbers(column, name).tolist()))

    def of_cell(self, maker: str, format_: str) -> tuple[TestedLot, ...]:
        """Return a maker's lots in a format."""
        return self.of(self.shelf.cell, (maker, format_))

    def lot_counts(self, maker: str, format_: str) -> tuple[tuple[int, int], ...]:
        """Return faulty and tested specimens of each of a maker's lots in a format, in order of first trial."""
        number = self.shelf.cell.number.get((maker, format_))
        if number is None:
            return ()
        lots = self.shelf.cell.lots[number]
        pairs = zip(self.faulty[lots].tolist(), self.tested[lots].tolist(), strict=True)
        return tuple(pair for pair in pairs if pair[1])

    @cached_property
    def counts(self) -> Counts:
        """Counts over all makers."""
        coded, bad, paints = self.shelf.coded, self.faulty > 0, self.shelf.paint.of_lot
        seen = self.tested > 0
        return Counts(
            tested=int(self.tested.sum()),
            faulty=int(self.faulty.sum()),
            lots=int((seen & coded).sum()),
            faulty_lots=int((bad & coded).sum()),
            paints=len(distinct(paints[seen])),
            faulty_paints=len(distinct(paints[bad])),
            uncoded=int((seen & ~coded).sum()),
        )

    @cached_property
    def makers(self) -> Sums:
        """Counts of each maker of the shelf."""
        return self._sums(self.shelf.makers)

    @cached_property
    def cells(self) -> Sums:
        """Counts of each maker's formats, by the cells of the shelf."""
        return self._sums(self.shelf.cells)

    @cached_property
    def faulty_of_make(self) -> Ints:
        """Faulty specimens of each paint in a format, by the makes of the shelf."""
        return self.shelf.make.sums(self.faulty)

    def faulty_parcels(self, groups: LotFact) -> Ints:
        """Return how many parcels the faulty specimens of each of `groups` came in."""
        lot, parcel = self._bad
        group, number = groups.of_lot[lot], len(groups.names)
        return np.bincount(group[is_first(parcel * number + group)], minlength=number)

    @cached_property
    def _bad(self) -> tuple[Ints, Ints]:
        """The lot and the parcel of each faulty specimen."""
        bad = (self.evidence.faulty[self.places] == 1) & self.shown[self.evidence_lots]
        return self.evidence_lots[bad], self.shelf.parcel_of_row[self.places[bad]]

    @cached_property
    def faulty_lots_of_paint(self) -> Ints:
        """Lots with a fault of each paint of the shelf, over its formats."""
        return self.shelf.paint.sums(self.faulty > 0)

    def makers_of_kind(self, kind: Kind) -> int:
        """Return how many makers were tested of this group in this format."""
        number = self.shelf.kind.number.get(kind)
        return 0 if number is None else self._makers_of_kind[number]

    @cached_property
    def _makers_of_kind(self) -> list[int]:
        kinds = self.shelf.makers.kinds
        seen, kind = kinds.among(self.tested > 0), self.shelf.kind
        makers: list[int] = np.bincount(kinds.second[seen], minlength=len(kind.names)).tolist()
        return makers

    @cached_property
    def rates_without(self) -> list[float | None]:
        """For each maker of the shelf the other makers' rate of faulty specimens; None when none was tested."""
        counts, maker = self.counts, self.shelf.maker
        faulty, tested = counts.faulty - maker.sums(self.faulty), counts.tested - maker.sums(self.tested)
        return [some / all_ if all_ else None for some, all_ in zip(faulty.tolist(), tested.tolist(), strict=True)]

    def rate_without(self, maker: str) -> float | None:
        """Return the other makers' rate of faulty specimens; None when none was tested."""
        number = self.shelf.maker.number.get(maker)
        return self.counts.rate if number is None else self.rates_without[number]

    def peers(self, lots: Iterable[TestedLot]) -> tuple[TestedLot, ...]:
        """Return other makers' lots of the kinds of `lots`, which are one maker's."""
        own = np.array([self.shelf.key.number[lot.key] for lot in lots], np.intp)
        return self.some(self.peer_numbers(own))

    def peer_numbers(self, numbers: Ints) -> Ints:
        """Return the numbers of other makers' lots of the kinds of these lots, which are one maker's."""
        kind, maker = self.shelf.kind, self.shelf.maker.of_lot
        ours = numbers[self.shelf.declared[numbers]]
        if not len(ours):
            return ours
        alike = np.zeros(len(kind.names), np.bool_)
        alike[kind.of_lot[ours]] = True
        return np.flatnonzero(alike[kind.of_lot] & (maker != maker[ours[0]]) & (self.tested > 0))

    def sittings(self, numbers: Ints, *, faulty: bool) -> set[Sitting]:
        """Return the sessions, or sittings of unpacking, in which some of these lots were faulty, or were sound."""
        session, names = self.evidence.sitting
        wanted = np.zeros(len(self.shelf), np.bool_)
        wanted[numbers] = True
        places = self.places[wanted[self.evidence_lots]]
        return {names[one] for one in distinct(session[places[self.evidence.faulty[places] == faulty]])}

    def side_by_side(self, own: Ints, others: Ints) -> set[Sitting]:
        """Return the sittings with faulty specimens of some lots that hold sound ones of others too, or are near."""
        return near_in_time(self._sitting_days(own, faulty=True), self._sitting_days(others, faulty=False))

    def _sitting_days(self, numbers: Ints, *, faulty: bool) -> dict[Sitting, date]:
        """Return the sittings of the faulty, or sound, specimens of some lots, each with the day of its last one."""
        lots = numbers[self.tested[numbers] > 0]
        begin, count = self.starts[lots], np.diff(self.starts)[lots]
        places = self.places[np.repeat(begin - np.cumsum(count) + count, count) + np.arange(count.sum())]
        places = places[self.evidence.faulty[places] == faulty]
        session, names = self.evidence.sitting
        last = dict(zip(session[places].tolist(), places.tolist(), strict=True))
        return {names[one]: self.evidence.rows[place].day for one, place in last.items()}

    @cached_property
    def evidence_lots(self) -> Ints:
        """For each of `places` the number of its lot."""
        return np.repeat(np.arange(len(self.shelf)), np.diff(self.starts))

    def without(self, keys: frozenset[Hashable]) -> "CriterionField":
        """Return the field less the lots with these keys."""
        if not keys:
            return self
        return replace(self, shown=self.shown & np.array([key not in keys for key in self.shelf.key.names], np.bool_))

    def _per_lot(self, flags: NDArray[np.bool_]) -> Ints:
        """Return how many of `flags`, one for each of `places`, are set in each lot of the shelf."""
        before = np.concatenate([[0], np.cumsum(flags)])
        return np.where(self.shown, np.diff(before[self.starts]), 0)

    def _sums(self, group: Group) -> Sums:
        groups, coded = group.column, self.shelf.coded
        peer_faulty, peer_tested = self._peer_sums(group)
        others = np.array(self.rates_without, np.float64)[group.maker]
        return Sums(
            faulty=groups.sums(self.faulty),
            tested=groups.sums(self.tested),
            lots=groups.sums((self.tested > 0) & coded),
            faulty_lots=groups.sums((self.faulty > 0) & coded),
            paints=np.bincount(group.paints.first[group.paints.among(self.tested > 0)], minlength=len(groups.names)),
            peer_faulty=peer_faulty,
            peer_tested=peer_tested,
            beside=np.where(peer_tested > 0, peer_faulty / np.maximum(peer_tested, 1), others),
        )

    def _peer_sums(self, group: Group) -> Iterator[Ints]:
        """Yield for each group, which is of one maker, faulty and tested of other makers' lots of its kinds."""
        groups, declared = group.column, self.shelf.declared
        own = group.kinds.among((self.tested > 0) & declared)
        for values in (self.faulty, self.tested):
            known = np.where(declared, values, 0)
            of_kind = self.shelf.kind.sums(known)[group.kinds.second[own]]
            everybody = np.bincount(group.kinds.first[own], of_kind, len(groups.names))
            yield everybody.astype(np.intp) - groups.sums(known)


def fields(evidence: Evidence) -> dict[str, CriterionField]:
    """Return the field of each criterion on which faults were judged."""
    shelves, found = _Shelves(evidence), {}
    for key, judged in evidence.judged.items():
        known, shelf = shelves[evidence.criteria[key].peers]
        lots = shelf.lot_of_row[judged]
        places = judged[np.argsort(lots, kind="stable")]
        starts = np.concatenate([[0], np.cumsum(np.bincount(lots, minlength=len(shelf)))])
        shown = np.ones(len(shelf), np.bool_)
        found[key] = CriterionField(evidence.criteria[key], known, shelf, places, starts, shown)
    return found


class _Shelves(dict[PeerGroup, tuple[Evidence, Shelf]]):
    """Evidence and its lots as each way of making peers groups them; made once where they cannot differ."""

    def __init__(self, evidence: Evidence) -> None:
        self._evidence = evidence
        self._each_says = all(evidence.rows.column("pigments"))

    def __missing__(self, by: PeerGroup) -> tuple[Evidence, Shelf]:
        known = grouped(self._evidence, by)
        alike = (other for one, other in self.items() if one.part == by.part and known is self._evidence)
        self[by] = found = (next(alike, None) if self._each_says else None) or (
            known,
            Shelf(known.rows, known.specimen, silent=by.silent),
        )
        return found


def empty_field(criterion: Criterion, evidence: Evidence) -> CriterionField:
    """Return the field of a criterion on which no fault was judged."""
    none = np.zeros(0, np.intp)
    shelf = Shelf(evidence.rows.some(()), none)
    return CriterionField(criterion, evidence, shelf, none, np.zeros(1, np.intp), np.zeros(0, np.bool_))
