"""Sentences about what the numbers still leave open: the rates they allow. Part of the wording."""

from collections.abc import Callable, Mapping, Sequence

from qcledger.findings.checks import percent
from qcledger.findings.finding import Claim, Finding
from qcledger.findings.lots import TestedLot
from qcledger.findings.scope import Allowed, Scope, allowed, within
from qcledger.findings.words import how_many, out_of
from qcledger.vocab import Extent, Standing


def still_allowed(finding: Finding, scope: Scope) -> str:
    """Return which rates the counts of a sentence allow, of a claim that holds by what it is about."""
    claim = finding.claim
    told = _LIMITS.get(claim.extent) if claim and finding.standing is Standing.HOLDS else None
    return told(claim, scope) if told and claim else _allows(scope.lots)


def _these_allow(claim: Claim, _: Scope) -> str:
    """Say which rates the counts of many makers allow, so that nobody takes them for one maker's."""
    left, makers = allowed(claim.lots), len({lot.row.maker for lot in claim.lots})
    span = f"{percent(left.interval.low)} to {percent(left.interval.high)}"
    over = f"these {left.counts.tested} over {how_many(makers, 'maker')}"
    return f"Counted by lots, {over} allow a rate of {span} among them."


def _allows(lots: Sequence[TestedLot]) -> str:
    """Say which rates the counts of `lots` allow."""
    left = allowed(lots)
    if left.counts.faulty:
        span = f"{percent(left.interval.low)} to {percent(left.interval.high)}"
        return f"Counted by lots, these numbers allow a rate of {span}."
    sound = "One sound one" if left.counts.tested == 1 else f"None of {left.counts.tested}"
    return f"{sound} still allows a rate of {_most(left)}."


def _most(left: Allowed) -> str:
    by_lots = f", or {percent(left.most_by_lots)} if faults come by the lot"
    return f"up to {percent(left.most)}{by_lots if left.most_by_lots > left.most + 0.005 else ''}"


def _other_lots_allow(claim: Claim, scope: Scope) -> str:
    bad = claim.lots[0]
    left = allowed([lot for lot in scope.lots if lot.key != bad.key and lot.coded])
    parcels = {unit.row.parcel for unit in bad.units}
    shipped = " Its specimens came in one parcel, so the way there is not ruled out." if len(parcels) == 1 else ""
    return f"The {left.counts.tested} from other lots still allow a rate there of {_most(left)}.{shipped}"


def _lot_allows(claim: Claim, scope: Scope) -> str:
    sticker = claim.subject[-1]
    lot = next((lot for lot in scope.lots if any(unit.row.sticker == sticker for unit in lot.units)), None)
    if lot is None:  # it could not be tested at its first look
        return _allows(scope.lots)
    interval = within(lot)
    span = f"{percent(interval.low)} to {percent(interval.high)}"
    counts = out_of(lot.faulty, lot.tested)
    return f"{counts[0].upper()}{counts[1:]} still allows a rate of {span} in this lot."


_LIMITS: Mapping[Extent, Callable[[Claim, Scope], str]] = {
    Extent.PIGMENT: _these_allow,
    Extent.FORMAT: _these_allow,
    Extent.LOT: _other_lots_allow,
    Extent.SPECIMEN: _lot_allows,
}
