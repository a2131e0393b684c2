"""Prices beside what was found: for each maker what it cost, and the highest share of faulty ones its counts allow.

The share is the upper limit and never the rate, so that a maker of whom little was looked at never looks best: one of
whom nothing was stands at 100 %. It is for the tester alone. In public it would have to leave out what is open, and
what is settled and what is none found are chosen by the very thing that the drawing is about.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from qcledger.findings.finding import Finding
from qcledger.findings.lots import TestedLot
from qcledger.findings.price_groups import Comparable, PriceSummary, tables
from qcledger.findings.prices import PricedPiece, Sold
from qcledger.findings.scope import allowed


@dataclass(frozen=True, slots=True)
class PricePoint:
    """One maker in one format and size: its prices, its counts in the format, and the share that they allow.

    `up_to` is the one-sided 95 % upper limit of the share of faulty ones, from 0 to 1: the higher of that of the
    specimens taken by themselves and that which allows for faults that come by the lot.
    """

    maker: str
    prices: PriceSummary
    faulty: int
    tested: int
    up_to: float


@dataclass(frozen=True, slots=True)
class PricesBeside:
    """The makers whose prices may be compared, A to Z."""

    of: Comparable
    points: tuple[PricePoint, ...]


def beside(
    pieces: Iterable[PricedPiece], findings: Iterable[Finding], pigment: str | None = None
) -> list[PricesBeside]:
    """Return prices beside what was found on one criterion.

    Parameters
    ----------
    pieces
        With their prices; shares of sets, and pieces without a price, are left out.
    findings
        Of one criterion, of each maker and format at most one.
    pigment
        A Colour Index name in normal form: only lots of paints that declare it are counted; None for every lot. The
        pieces are those to show, already.
    """
    found = {(one.maker_name, str(one.format)): one for one in findings}
    shown = (one for one in pieces if one.sold is Sold.SINGLE and one.minor is not None)
    return [
        PricesBeside(
            table.of,
            tuple(
                _point(maker, prices, _lots(found.get((maker, table.of.format)), pigment))
                for maker, prices in table.groups
            ),
        )
        for table in tables(shown)
    ]


def _lots(finding: Finding | None, pigment: str | None) -> list[TestedLot]:
    lots = finding.lots if finding else ()
    return [lot for lot in lots if pigment is None or pigment in lot.row.pigments]


def _point(maker: str, prices: PriceSummary, lots: Sequence[TestedLot]) -> PricePoint:
    left = allowed(lots) if lots else None
    if left is None or not left.counts.tested:
        return PricePoint(maker, prices, 0, 0, 1.0)
    return PricePoint(maker, prices, left.counts.faulty, left.counts.tested, max(left.most, left.most_by_lots))
