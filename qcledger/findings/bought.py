"""Specimens by why they were bought: planned purchases say how often, those to confirm whether that holds."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from qcledger.findings.lots import TestedLot, units_of
from qcledger.vocab import WhyBought


class BoughtCounts(NamedTuple):
    """Faulty and tested specimens that were bought for one reason."""

    faulty: int
    tested: int


def by_reason(lots: Iterable[TestedLot]) -> Mapping[WhyBought, BoughtCounts]:
    """Return the counts of each reason for buying, those without a specimen included."""
    counts = {why: [0, 0] for why in WhyBought}
    for unit in units_of(lots):
        counts[unit.row.why][0] += bool(unit.faulty)
        counts[unit.row.why][1] += 1
    return {why: BoughtCounts(*some) for why, some in counts.items()}
