"""Phrases about what leads a finding: what it explains, whom it clears, what came later. Part of the wording."""

from qcledger.findings.bought import by_reason
from qcledger.findings.finding import Claim, Finding
from qcledger.findings.scope import Scope
from qcledger.findings.words import out_of
from qcledger.vocab import Extent, WhyBought

_CLEARS = {
    Extent.PAINT: ", not to the maker's others",
    Extent.SPECIMEN: ", not to its lot or its maker",
    **dict.fromkeys((Extent.PIGMENT, Extent.FORMAT, Extent.LOT, Extent.PARCEL), ", not to the maker"),
}
"""Said where what is left over is no more than the other makers show."""
_BOUGHT_LATER = {
    WhyBought.TO_CONFIRM: "bought later to confirm",
    WhyBought.NOTE: "bought because of a reader's note",
}


def clears(finding: Finding, claim: Claim) -> str:
    """Return whom a claim clears, for the end of what it points to; empty where more is left over than at peers."""
    return _CLEARS.get(claim.extent, "") if finding.clears else ""


def explains(finding: Finding) -> str:
    """Return how many of the faulty specimens the leading claim explains; empty where that is each of them."""
    some, total = finding.explains
    return f"It explains {out_of(some, total)} faulty ones." if finding.claim and some < total else ""


def planned_and_later(scope: Scope) -> str:
    """Return the counts by why they were bought, for the end of a sentence; empty where each was planned."""
    bought = by_reason(scope.lots)
    later = [f"{out_of(*bought[why])} {words}" for why, words in _BOUGHT_LATER.items() if bought[why].tested]
    if not later or not bought[WhyBought.PLANNED].tested:
        return ""
    return f": {out_of(*bought[WhyBought.PLANNED])} as planned; {'; '.join(later)}"
