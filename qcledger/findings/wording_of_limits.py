"""Sentences about what the numbers still leave open: the shares they allow. Part of the wording.

Each range has its 95 % beside it. A share is that of faulty specimens.
"""

from collections.abc import Callable, Mapping, Sequence

from qcledger.findings.checks import percent
from qcledger.findings.finding import Claim, Finding
from qcledger.findings.lots import TestedLot
from qcledger.findings.scope import Allowed, Scope, allowed, within
from qcledger.findings.words import how_many, out_of
from qcledger.vocab import Extent, Standing

_BY_LOTS = "(95 %, lots allowed for)"


def still_allowed(finding: Finding, scope: Scope) -> str:
    """Return which rates the counts of a sentence allow, of a claim that holds by what it is about."""
    if not scope.counts.tested:
        return ""
    claim = finding.claim
    told = _LIMITS.get(claim.extent) if claim and finding.standing is Standing.SETTLED else None
    return told(claim, scope) if told and claim else _allows(scope.lots)


def _these_allow(claim: Claim, _: Scope) -> str:
    """Say which rates the counts of many makers allow, so that nobody takes them for one maker's."""
    left, makers = allowed(claim.lots), len({lot.row.maker for lot in claim.lots})
    span = f"{percent(left.interval.low)} to {percent(left.interval.high)}"
    over = f"Among these {left.counts.tested} of {how_many(makers, 'maker')}"
    return f"{over} the true share may be {span} {_BY_LOTS}."


def _allows(lots: Sequence[TestedLot]) -> str:
    """Say which rates the counts of `lots` allow."""
    left = allowed(lots)
    if left.counts.faulty:
        span = f"{percent(left.interval.low)} to {percent(left.interval.high)}"
        return f"The true share may be {span} {_BY_LOTS}."
    return f"Even so, {_most(left)}."


def _most(left: Allowed) -> str:
    by_lots = f", or {percent(left.most_by_lots)} where faults come by the lot"
    more = by_lots if left.most_by_lots > left.most + 0.005 else ""
    return f"up to {percent(left.most)} could be faulty{more} (95 %)"


def _other_lots_allow(claim: Claim, scope: Scope) -> str:
    bad = claim.lots[0]
    left = allowed([lot for lot in scope.lots if lot.key != bad.key and lot.coded])
    return f"In other lots, by these {left.counts.tested}, {_most(left)}."


def _lot_allows(claim: Claim, scope: Scope) -> str:
    sticker = claim.subject[-1]
    lot = next((lot for lot in scope.lots if any(unit.row.sticker == sticker for unit in lot.units)), None)
    if lot is None:  # it could not be tested at its first look
        return _allows(scope.lots)
    interval = within(lot)
    span = f"{percent(interval.low)} to {percent(interval.high)}"
    return f"In this lot, {out_of(lot.faulty, lot.tested)} being faulty, the true share may be {span} (95 %)."


_LIMITS: Mapping[Extent, Callable[[Claim, Scope], str]] = {
    Extent.PIGMENT: _these_allow,
    Extent.FORMAT: _these_allow,
    Extent.LOT: _other_lots_allow,
    Extent.SPECIMEN: _lot_allows,
}
