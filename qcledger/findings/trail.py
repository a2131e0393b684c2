"""Where the specimens of a cell came from, how and when they were tested, and how often a fault came back."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from qcledger.findings.columns import Ints, is_first
from qcledger.findings.evidence import CellKey, Evidence, Unit
from qcledger.ledger.collector import resting
from qcledger.vocab import Blinding, Occasion, WhyBought


@dataclass(frozen=True, slots=True)
class Trail:
    """Where specimens came from and how they were tested; dates are the first and the last.

    `sessions` holds the code of each; two sessions may have one code. `undried` are the stickers of tubes that met
    pans before they had dried.
    """

    sessions: tuple[str, ...]
    blinding: tuple[Blinding, ...]
    unpacked: int
    testers: tuple[str, ...]
    sellers: tuple[str, ...]
    parcels: int
    bought: tuple[date, date] | None
    tested: tuple[date, date] | None
    why: Mapping[WhyBought, int]
    undried: tuple[str, ...] = ()


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
    sessions = {row.session: row.session_code or "" for row in rows if row.session is not None}
    bought = {row.bought_on for row in rows}
    tested = {row.day for row in rows}
    blinding = Counter(row.blinding for row in rows if row.blinding is not None)
    return Trail(
        sessions=tuple(sorted(sessions.values())),
        blinding=tuple(kind for kind, _ in blinding.most_common()),
        unpacked=sum(row.session is None for row in rows),
        testers=tuple(sorted({row.tester for row in rows})),
        sellers=tuple(sorted({row.seller for row in rows})),
        parcels=len({row.parcel for row in rows}),
        bought=(min(bought), max(bought)) if bought else None,
        tested=(min(tested), max(tested)) if tested else None,
        why=Counter(row.why for row in rows),
        undried=tuple(sorted(row.sticker for row in rows if row.undried)),
    )


def grades_of(grades: Iterable[float | None]) -> Grades | None:
    """Return the median and the ends of the grades given; None when there is none."""
    found = sorted(grade for grade in grades if grade is not None)
    if not found:
        return None
    middle = len(found) // 2
    median = found[middle] if len(found) % 2 else (found[middle - 1] + found[middle]) / 2
    return Grades(median, found[0], found[-1])


class PaintKey(NamedTuple):
    """One paint in one cell: a criterion's key, a maker's id, a format, a paint's id."""

    criterion: str
    maker: str
    format: str
    paint: str


@resting()
def recurrence(evidence: Evidence) -> Mapping[CellKey | PaintKey, Recurrence]:
    """Return in how many comparisons each fault was looked for and seen; for what is judged at unpacking, parcels.

    Each specimen counts in the comparison of its first valid trial, and in none where that trial belongs to none.
    What is judged at unpacking belongs to no comparison: there, what may show it again is another parcel. Of each
    paint it is counted apart as well: where the paint never was, nobody looked for its fault.
    """
    return _recurring(evidence, CellKey) | _recurring(evidence, PaintKey)


def _recurring(evidence: Evidence, kind: type[CellKey] | type[PaintKey]) -> dict[CellKey | PaintKey, Recurrence]:
    cell, cells = evidence.of_specimen(*kind._fields[1:])
    parcel, _ = evidence.of_specimen("parcel")
    comparison, comparisons = evidence.of_trial("comparison")
    found: dict[CellKey | PaintKey, Recurrence] = {}
    for key, judged in evidence.judged.items():
        over, where, places = Over.COMPARISONS, comparison, judged
        if evidence.criteria[key].seen_at is Occasion.UNPACKING:
            over, where = Over.PARCELS, parcel
        elif (None,) in comparisons:
            places = judged[comparison[judged] != comparisons.index((None,))]
        for one, seen, looked, first in _times(cell[places], where[places], evidence.faulty[places] == 1):
            since = evidence.rows[places[first]].day
            found[kind(key, *cells[one])] = Recurrence(seen, looked, since, over)
    return found


def _times(cell: Ints, where: Ints, faulty: NDArray[np.bool_]) -> Iterator[tuple[int, int, int, int]]:
    """Yield each cell, at how many of its places a fault was seen and looked for, and its first observation."""
    shape = cell.max(initial=-1) + 1, where.max(initial=-1) + 1
    at = cell * shape[1] + where
    looked, seen = (
        (np.bincount(some, minlength=shape[0] * shape[1]).reshape(shape) > 0).sum(axis=1).tolist()
        for some in (at, at[faulty])
    )
    first = np.flatnonzero(is_first(cell))
    for number, place in zip(cell[first].tolist(), first.tolist(), strict=True):
        yield number, seen[number], looked[number], place
