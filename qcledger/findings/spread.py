"""Whether a maker's faults are spread over its paints and its purchases, or one of these is behind most of them.

One bad paint beside a stray fault is not its maker, nor is one bad delivery. So the maker's other paints have to be
worse than their peers by themselves. Its other parcels have to as well, unless its parcels are as much alike as
chance makes them: asking it of all would cost a sixth of what is found where a whole format is bad.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import replace

import numpy as np

from qcledger.findings import checks
from qcledger.findings.checks import percent
from qcledger.findings.evidence import Unit
from qcledger.findings.field import Field
from qcledger.findings.finding import Check, What
from qcledger.findings.lots import Lot, lot_of, sums
from qcledger.findings.strength import STRICT, Suspect, exchange_p, suspect_p
from qcledger.findings.words import how_many, out_of

_NEEDED = (
    f"faults in {checks.MIN_FAULTY} or more paints, {percent(checks.DELTA)} above their peers, p {STRICT:g} or less"
)


def worst_paint(lots: Sequence[Lot]) -> str:
    """Return the paint with the most faulty specimens, of equal ones that with the higher rate, or met first."""
    return _worst((lot.row.paint, lot) for lot in lots)


def stands_out(lots: Sequence[Lot], paint: str) -> bool:
    """Return whether a paint of a suspect is worse than its others together."""
    own, rest = (sums(lot for lot in lots if (lot.row.paint == paint) == mine) for mine in (True, False))
    return own[0] * rest[1] > rest[0] * own[1] or not rest[1]


def over_paints(planned: Field, suspect: Suspect, worst: str) -> Check:
    """Return whether a suspect's paints without the worst are worse than their peers.

    Parameters
    ----------
    planned
        The field, with only what was bought as planned.
    suspect
        With the numbers of its lots in it.
    worst
        The paint left out.
    """
    paint = planned.shelf.paint
    rest = suspect.numbers[paint.of_lot[suspect.numbers] != paint.number[worst]]
    peers = planned.peer_numbers(rest) if len(rest) else rest
    counts = [int(some[lots].sum()) for lots in (rest, peers) for some in (planned.faulty, planned.tested)]
    bad = len(np.unique(paint.of_lot[rest[planned.faulty[rest] > 0]]))
    found, met = _by_itself(counts, bad, lambda: suspect_p(planned, replace(suspect, numbers=rest)))
    lacking = 0 if met else max(checks.MIN_FAULTY - bad, 1)
    return Check(What.WITHOUT_WORST, met, found, _NEEDED, missing=lacking)


def over_parcels(planned: Field, lots: Sequence[Lot]) -> Check:
    """Return whether a suspect's parcels are alike or, without the worst one, still worse than their peers.

    A lot that came in two parcels is two lots here.
    """
    pieces: dict[tuple[Hashable, str], list[Unit]] = defaultdict(list)
    for lot in lots:
        for unit in lot.units:
            pieces[lot.key, unit.row.parcel].append(unit)
    parts = [(parcel, lot_of(units)) for (_, parcel), units in pieces.items()]
    worst, number = _worst(parts), len({parcel for parcel, _ in parts})
    inside, rest = ([lot for parcel, lot in parts if (parcel == worst) == mine] for mine in (True, False))
    unlike = min(exchange_p(inside, rest, lambda lot: lot.row.format) * number, 1.0) if rest else 1.0
    needed = f"parcels as alike as chance makes them, p above {checks.EXACT_LEVEL:g}, or without the worst {_NEEDED}"
    if unlike > checks.EXACT_LEVEL:
        return Check(What.WITHOUT_PARCEL, True, f"its parcels are alike, {checks.chance(unlike)}", needed)
    peers, bad = planned.peers(rest), len({lot.row.paint for lot in rest if lot.faulty})
    found, met = _by_itself((*sums(rest), *sums(peers)), bad, lambda: exchange_p(rest, peers, lambda lot: lot.kind))
    return Check(What.WITHOUT_PARCEL, met, found, needed, missing=0 if met else 1)


def _worst(parts: Iterable[tuple[str, Lot]]) -> str:
    faulty: Counter[str] = Counter()
    tested: Counter[str] = Counter()
    for name, lot in parts:
        faulty[name] += lot.faulty
        tested[name] += lot.tested
    return max(faulty, key=lambda name: (faulty[name], faulty[name] / tested[name]))


def _by_itself(counts: Sequence[int], bad: int, p_value: Callable[[], float]) -> tuple[str, bool]:
    """Return what is left without the worst, in words, and whether it is worse than its peers by itself.

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
    return f"{told}; {checks.chance(p)}", bad >= checks.MIN_FAULTY and far and p <= STRICT
