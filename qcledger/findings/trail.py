"""Where the specimens of a cell came from, how and when they were tested, and how often a fault came back."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from operator import attrgetter
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from qcledger.findings.evidence import CellKey, Evidence, Unit, codes
from qcledger.findings.shelf import in_order
from qcledger.vocab import Blinding, Occasion, Why


@dataclass(frozen=True, slots=True)
class Trail:
    """Where specimens came from and how they were tested; dates are the first and the last."""

    sessions: tuple[str, ...]
    blinding: tuple[Blinding, ...]
    unpacked: int
    testers: tuple[str, ...]
    sellers: tuple[str, ...]
    parcels: int
    bought: tuple[date, date] | None
    tested: tuple[date, date] | None
    why: Mapping[Why, int]


@dataclass(frozen=True, slots=True)
class Grades:
    """Fault or trait grades: 0 none or least, 5 worst or most."""

    median: float
    lowest: float
    highest: float


class Over(StrEnum):
    """What a fault may come back in: a further comparison, or a further parcel."""

    COMPARISONS = "comparison"
    PARCELS = "parcel"


@dataclass(frozen=True, slots=True)
class Recurrence:
    """In how many of the comparisons, or parcels, that were looked at a fault was seen, and since when."""

    seen: int
    looked: int
    since: date
    over: Over = Over.COMPARISONS


def trail_of(units: Iterable[Unit]) -> Trail:
    """Return the purchases, sessions and dates of `units`."""
    rows = [unit.row for unit in units]
    bought = {row.bought_on for row in rows}
    tested = {row.trial_at for row in rows}
    blinding = Counter(row.blinding for row in rows if row.blinding is not None)
    return Trail(
        sessions=tuple(sorted({row.session_code for row in rows if row.session_code is not None})),
        blinding=tuple(kind for kind, _ in blinding.most_common()),
        unpacked=sum(row.session is None for row in rows),
        testers=tuple(sorted({row.tester for row in rows})),
        sellers=tuple(sorted({row.seller for row in rows})),
        parcels=len({row.parcel for row in rows}),
        bought=(min(bought), max(bought)) if bought else None,
        tested=(min(tested).date(), max(tested).date()) if tested else None,
        why=Counter(row.why for row in rows),
    )


def grades_of(grades: Iterable[float | None]) -> Grades | None:
    """Return the median and the ends of the grades given; None when there is none."""
    found = sorted(grade for grade in grades if grade is not None)
    if not found:
        return None
    middle = len(found) // 2
    median = found[middle] if len(found) % 2 else (found[middle - 1] + found[middle]) / 2
    return Grades(median, found[0], found[-1])


def recurrence(evidence: Evidence) -> Mapping[CellKey, Recurrence]:
    """Return in how many comparisons each fault was looked for and seen; for what is judged at unpacking, parcels.

    Each specimen counts in the comparison of its first valid trial, and in none where that trial belongs to none.
    What is judged at unpacking belongs to no comparison: there, what may show it again is another parcel.
    """
    first, specimen = in_order(evidence.specimen)
    firsts = [evidence.rows[place] for place in first.tolist()]
    cell, cells = codes((row.maker, row.format) for row in firsts)
    parcel, _ = codes(row.parcel for row in firsts)
    comparison, names = codes(map(attrgetter("comparison"), evidence.rows))
    found = {}
    for number, begin in zip(*map(np.ndarray.tolist, np.unique(evidence.criterion, return_index=True)), strict=True):
        key = evidence.rows[begin].criterion
        over = Over.PARCELS if evidence.criteria[key].seen_at is Occasion.UNPACKING else Over.COMPARISONS
        looked = (evidence.criterion == number) & (evidence.faulty >= 0)
        if over is Over.COMPARISONS and None in names:
            looked &= comparison != names.index(None)
        places = np.flatnonzero(looked)
        where = parcel[specimen[places]] if over is Over.PARCELS else comparison[places]
        for one, told in _times(cell[specimen[places]], where, evidence.faulty[places] == 1).items():
            since = evidence.rows[places[told.first]].trial_at.date()
            found[CellKey(key, *cells[one])] = Recurrence(told.seen, told.looked, since, over)
    return found


class _Times(NamedTuple):
    seen: int
    looked: int
    first: int


def _times(cell: NDArray[np.intp], where: NDArray[np.intp], faulty: NDArray[np.bool_]) -> dict[int, _Times]:
    """Return for each cell at how many of its places a fault was seen and looked for, and its first observation."""
    shape = cell.max(initial=-1) + 1, where.max(initial=-1) + 1
    at = cell * shape[1] + where
    looked, seen = (
        (np.bincount(some, minlength=shape[0] * shape[1]).reshape(shape) > 0).sum(axis=1).tolist()
        for some in (at, at[faulty])
    )
    first = np.zeros(shape[0], np.intp)
    first[cell[::-1]] = np.arange(len(cell))[::-1]
    return {
        number: _Times(seen[number], looked[number], place)
        for number, place in enumerate(first.tolist())
        if looked[number]
    }
