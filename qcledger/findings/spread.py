"""Whether a maker's faults are spread over its paints and its purchases, or one of these is behind most of them.

One bad paint beside a stray fault is not its maker, nor is one bad delivery. So the maker's other paints have to be
worse than their peers by themselves. Its other parcels have to as well, unless its parcels are as much alike as
chance makes them: asking it of all would cost a sixth of what is found where a whole format is bad.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from qcledger.findings import checks
from qcledger.findings.checks import percent
from qcledger.findings.evidence import Unit
from qcledger.findings.field import CriterionField
from qcledger.findings.finding import Check, CheckName
from qcledger.findings.lots import TestedLot, lot_of, sums
from qcledger.findings.strength import Suspect, exchange_p, suspect_p
from qcledger.findings.words import how_many, out_of

_NEEDED = (
    f"faults in {checks.MIN_FAULTY} or more paints, {percent(checks.DELTA)} above their peers, "
    f"p {checks.SPREAD_LEVEL:g} or less"
)


def worst_paints(lots: Sequence[TestedLot]) -> tuple[str, ...]:
    """Return the paints with the most faulty specimens: one, or several that have as many."""
    faulty: Counter[str] = Counter()
    for lot in lots:
        faulty[lot.row.paint] += lot.faulty
    most = max(faulty.values())
    return tuple(paint for paint, count in faulty.items() if count == most)


def over_paints(planned: CriterionField, suspect: Suspect, worst: Sequence[str]) -> Check:
    """Return whether a suspect's paints without the worst are worse than their peers, whichever of equal ones it is.

    Parameters
    ----------
    planned
        The field, with only what was bought as planned.
    suspect
        With the numbers of its lots in it.
    worst
        The paints left out, one at a time.
    """
    least = min((_without_paint(planned, suspect, paint) for paint in worst), key=_clearness)
    lacking = 0 if least.met else max(checks.MIN_FAULTY - least.bad, 1)
    return Check(CheckName.WITHOUT_WORST, least.met, least.told, _NEEDED, missing=lacking)


def over_parcels(planned: CriterionField, lots: Sequence[TestedLot]) -> Check:
    """Return whether a suspect's parcels are alike or, without any that is worse than the others, worse than peers.

    A lot that came in two parcels is two lots here. A parcel of one specimen could not tell, so it is not asked.
    """
    pieces: dict[tuple[Hashable, str], list[Unit]] = defaultdict(list)
    for lot in lots:
        for unit in lot.units:
            pieces[lot.key, unit.row.parcel].append(unit)
    parcels: dict[str, list[TestedLot]] = defaultdict(list)
    for (_, parcel), units in pieces.items():
        parcels[parcel].append(lot_of(units))
    asked = [parcel for parcel, own in parcels.items() if sums(own)[1] >= checks.MIN_FAULTY and len(parcels) > 1]
    others = {one: [lot for parcel, own in parcels.items() if parcel != one for lot in own] for one in asked}
    unlike = {one: exchange_p(parcels[one], others[one], lambda lot: lot.row.format) * len(asked) for one in asked}
    needed = f"parcels as alike as chance makes them, p above {checks.EXACT_LEVEL:g}, or without the worst {_NEEDED}"
    apart = [parcel for parcel, p in unlike.items() if p <= checks.EXACT_LEVEL]
    if not apart:
        p = min([*unlike.values(), 1.0])
        return Check(CheckName.WITHOUT_PARCEL, True, f"its parcels are alike, {checks.chance(p)}", needed)
    least = min((_without_parcel(planned, others[parcel]) for parcel in apart), key=_clearness)
    return Check(CheckName.WITHOUT_PARCEL, least.met, least.told, needed, missing=0 if least.met else 1)


class _Left(NamedTuple):
    """What is left without a paint or parcel: in words, its paints with a fault, whether it is worse by itself, p."""

    told: str
    bad: int
    met: bool
    p: float


def _clearness(left: _Left) -> tuple[bool, float]:
    return left.met, -left.p


def _without_paint(planned: CriterionField, suspect: Suspect, worst: str) -> _Left:
    paint = planned.shelf.paint
    rest = suspect.numbers[paint.of_lot[suspect.numbers] != paint.number[worst]]
    peers = planned.peer_numbers(rest) if len(rest) else rest
    counts = [int(some[lots].sum()) for lots in (rest, peers) for some in (planned.faulty, planned.tested)]
    bad = len(np.unique(paint.of_lot[rest[planned.faulty[rest] > 0]]))
    return _by_itself(counts, bad, lambda: suspect_p(planned, replace(suspect, numbers=rest)))


def _without_parcel(planned: CriterionField, rest: Sequence[TestedLot]) -> _Left:
    peers, bad = planned.peers(rest), len({lot.row.paint for lot in rest if lot.faulty})
    return _by_itself((*sums(rest), *sums(peers)), bad, lambda: exchange_p(rest, peers, lambda lot: lot.kind))


def _by_itself(counts: Sequence[int], bad: int, p_value: Callable[[], float]) -> _Left:
    """Return what is left without the worst, and whether it is worse than its peers by itself.

    Parameters
    ----------
    counts
        Faulty and tested of it, then of its peers.
    bad
        Paints with a fault in it.
    p_value
        Works out the chance of it; asked only where the counts are far enough apart.
    """
    some, tested, others, all_ = counts
    far = some / max(tested, 1) - others / max(all_, 1) > checks.DELTA
    p = p_value() if far and all_ else 1.0
    told = f"{out_of(some, tested)}, faults in {how_many(bad, 'paint')}, beside {out_of(others, all_)}"
    return _Left(f"{told}; {checks.chance(p)}", bad, bad >= checks.MIN_FAULTY and far and p <= checks.SPREAD_LEVEL, p)
