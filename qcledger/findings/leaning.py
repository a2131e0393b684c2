"""What an open cell points to: the likeliest extent, never one that its own checks speak against."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from qcledger.findings import checks
from qcledger.findings.evidence import Unit
from qcledger.findings.finding import CheckName, Claim
from qcledger.findings.lots import TestedLot, lot_of, units_of
from qcledger.findings.pooled import Level, Pooled, Reach
from qcledger.vocab import Extent

_MAKERS = (Extent.MAKER, Extent.MAKER_FORMAT)
UNKNOWN = 0.5
"""Stands for a chance that the pooled model does not tell."""


def likeliest_first(
    pointed: Sequence[Claim], open_: frozenset[str], cell: tuple[str, str], pooled: Pooled | None
) -> list[Claim]:
    """Return what the faults that nothing explains point to, the likeliest first.

    Parameters
    ----------
    pointed
        Claims whose pattern is there and that are not settled, the widest first.
    open_
        Faulty specimens that no standing claim explains.
    cell
        The maker's id and the format.
    pooled
        What the pooled model says, if it has answered.

    Notes
    -----
    First comes what explains most of them; of those that explain as many the likelier by the pooled model, and
    without it the wider. A claim is left out that says nothing of a specimen which no likelier one speaks of.
    """
    concerned = [claim for one in pointed if (claim := _narrowed(one, cell[1])).explained & open_]
    concerned.sort(key=lambda claim: (-len(claim.explained & open_), -_chance(claim, cell, pooled)))
    kept: list[Claim] = []
    spoken: frozenset[str] = frozenset()
    for claim in concerned:
        if claim.explained & open_ - spoken:
            kept.append(claim)
            spoken |= claim.explained
    return kept


def _narrowed(claim: Claim, format_: str) -> Claim:
    """Return a claim about a maker as one about the parcel or the paint that is behind it, where its checks say so.

    Its parcels are told apart by a test of chance, so the worst is the likelier wherever that check fails. That the
    other paints show too little may be for want of them: there the worst has to hold most of the faults.
    """
    lacking = {check.name for check in claim.unmet}
    units = [unit for unit in units_of(claim.lots) if unit.faulty and unit.row.format == format_]
    if claim.extent not in _MAKERS or not units:
        return claim
    if CheckName.WITHOUT_PARCEL in lacking:
        parcel, _ = _most(unit.row.parcel for unit in units)
        return _of_parcel(claim, [unit for unit in units_of(claim.lots) if unit.row.parcel == parcel])
    paint, count = _most(unit.row.paint for unit in units)
    if CheckName.WITHOUT_WORST in lacking and count > checks.MOST * len(units):
        return _of_lots(claim, Extent.PAINT, [lot for lot in claim.lots if lot.row.paint == paint])
    return claim


def _most(names: Iterable[str]) -> tuple[str, int]:
    """Return the name that comes most often, the first of equals, and how often."""
    return Counter(names).most_common(1)[0]


def _of_parcel(claim: Claim, units: Sequence[Unit]) -> Claim:
    lots: dict[object, list[Unit]] = {}
    for unit in units:
        lots.setdefault(unit.row.lot or unit.row.paint, []).append(unit)
    row = units[0].row
    found = _of_lots(claim, Extent.PARCEL, [lot_of(own) for own in lots.values()])
    return replace(found, subject=(row.seller, row.bought_on.isoformat()))


def _of_lots(claim: Claim, extent: Extent, lots: Sequence[TestedLot]) -> Claim:
    explained = frozenset(unit.row.specimen for unit in units_of(lots) if unit.faulty)
    subject = (lots[0].row.paint_name,)
    return replace(claim, extent=extent, subject=subject, lots=tuple(lots), explained=explained)


def _chance(claim: Claim, cell: tuple[str, str], pooled: Pooled | None) -> float:
    """Return the chance that what a claim is about is the worse, by the pooled model."""
    found = [level.above for level in _levels(claim, cell, pooled) if level is not None] if pooled else []
    return max(found, default=UNKNOWN)


def _levels(claim: Claim, cell: tuple[str, str], pooled: Pooled) -> Iterator[Level | Reach | None]:
    maker, format_ = cell
    match claim.extent:
        case Extent.PIGMENT:
            yield from (pooled.pigments.get((name,)) for name in claim.subject)
        case Extent.FORMAT:
            yield pooled.formats.get((format_,))
        case Extent.MAKER:
            yield pooled.makers.get((maker,))
        case Extent.MAKER_FORMAT:
            yield pooled.reach((maker, format_))
        case Extent.PAINT:
            yield pooled.paints.get((claim.lots[0].row.paint, format_))
        case Extent.LOT:
            yield pooled.lots.get(tuple(map(str, claim.lots[0].key)))
