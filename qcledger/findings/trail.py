"""Where the specimens of a cell came from, and how and when they were tested."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from qcledger.findings.evidence import CellKey, Evidence, Unit
from qcledger.records import TestedRow
from qcledger.vocab import Blinding, Format, Why


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


@dataclass(frozen=True, slots=True)
class Recurrence:
    """In how many of the comparisons that looked a fault was seen, and since when."""

    seen: int
    looked: int
    since: date


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
    """Return in how many comparisons each fault was looked for and seen.

    Each specimen counts in the comparison of its first valid trial. What was seen at unpacking belongs to the
    comparison in which the specimen came to the bench; a specimen that never did is left out.
    """
    home: dict[str, str] = {}
    for row in evidence.rows:
        if row.comparison is not None:
            home.setdefault(row.specimen, row.comparison)
    looked: dict[tuple[str, str, Format], dict[str, bool]] = {}
    since: dict[tuple[str, str, Format], TestedRow] = {}
    for row, faulty in zip(evidence.rows, evidence.faulty.tolist(), strict=True):
        comparison = row.comparison or home.get(row.specimen)
        if comparison is not None and faulty >= 0:
            key = (row.criterion, row.maker, row.format)
            since.setdefault(key, row)
            seen = looked.setdefault(key, {})
            seen[comparison] = seen.get(comparison, False) or faulty == 1
    return {
        CellKey(*key): Recurrence(sum(seen.values()), len(seen), since[key].trial_at.date())
        for key, seen in looked.items()
    }
