"""What a finding's sentence counts: the specimens that its claim speaks about, and those it is held against."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from qcledger.findings.cells import LEVEL
from qcledger.findings.finding import Finding
from qcledger.findings.lots import Counts, TestedLot, tally
from qcledger.findings.trail import Trail, trail_of
from qcledger.stats.clustered import lot_aware
from qcledger.stats.proportion import Interval, clopper_pearson, upper_limit
from qcledger.vocab import Extent, formats_in_order

_OF_THE_PAINT = (Extent.LOT, Extent.PARCEL, Extent.SPECIMEN)


@dataclass(frozen=True, slots=True)
class Allowed:
    """What the counts of some lots still allow.

    Parameters
    ----------
    counts
        Of the lots.
    interval
        Lot-aware 95 % interval of their rate.
    most, most_by_lots
        Highest rate still allowed, one-sided 95 %: taking specimens as independent, and lot-aware.
    """

    counts: Counts
    interval: Interval
    most: float
    most_by_lots: float


@dataclass(frozen=True, slots=True)
class Scope:
    """The specimens a sentence counts.

    Parameters
    ----------
    paints, formats
        Names of the paints, and the formats.
    lots, counts, trail
        The lots, their counts, and where they came from.
    """

    paints: tuple[str, ...]
    formats: tuple[str, ...]
    lots: tuple[TestedLot, ...]
    counts: Counts
    trail: Trail


def scope_of(finding: Finding) -> Scope:
    """Return what the sentence about `finding` counts: a paint in the format, a cell, or a maker over its formats."""
    claim = finding.claim
    if claim is None or claim.extent in (Extent.PIGMENT, Extent.FORMAT):
        return _scope(finding.lots)
    if claim.extent is Extent.PARCEL and claim.lots[0].coded:  # beside the other parcels of whatever it sells
        return _scope(finding.lots)
    if claim.extent in _OF_THE_PAINT:
        paints = {lot.row.paint for lot in claim.lots}
        return _scope([lot for lot in finding.lots if lot.row.paint in paints])
    return _scope(claim.lots)


def allowed(lots: Sequence[TestedLot]) -> Allowed:
    """Return what the counts of `lots` still allow."""
    counts, faulty, tested = tally(lots), tuple(lot.faulty for lot in lots), tuple(lot.tested for lot in lots)
    return Allowed(
        counts=counts,
        interval=_lot_aware(faulty, tested, LEVEL),
        most=upper_limit(counts.faulty, counts.tested, LEVEL),
        most_by_lots=_lot_aware(faulty, tested, 2 * LEVEL - 1).high,
    )


@lru_cache(maxsize=4096)
def _lot_aware(faulty: tuple[int, ...], tested: tuple[int, ...], level: float) -> Interval:
    """Return a lot-aware interval; a page of many makers asks for the same few shapes thousands of times."""
    return lot_aware(faulty, tested, level)


def within(lot: TestedLot) -> Interval:
    """Return the exact 95 % interval of the rate within one lot."""
    return clopper_pearson(lot.faulty, lot.tested, LEVEL)


def _scope(lots: Sequence[TestedLot]) -> Scope:
    return Scope(
        paints=tuple(sorted({lot.row.paint_name for lot in lots})),
        formats=formats_in_order(lot.row.format for lot in lots),
        lots=tuple(lots),
        counts=tally(lots),
        trail=trail_of(unit for lot in lots for unit in lot.units),
    )
