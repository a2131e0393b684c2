"""Which claims are one thing to say: one bad lot with two faults, or criteria that share a cause at one maker."""

from collections.abc import Collection, Iterable
from typing import NamedTuple

from qcledger.findings.finding import Claim, Finding
from qcledger.rubric import Criterion
from qcledger.thing import worded
from qcledger.vocab import Extent, Standing

_ONE_THING = (Extent.LOT, Extent.PARCEL, Extent.SPECIMEN)
"""What is one thing whatever is wrong with it: two faults of one lot are no two lots."""
_WIDE = (Extent.PIGMENT, Extent.FORMAT)
_ORDER = {extent: place for place, extent in enumerate(Extent)}


class ToldClaim(NamedTuple):
    """A claim, and a finding that it is about."""

    finding: Finding
    claim: Claim


def together(findings: Iterable[Finding], standings: Collection[Standing]) -> list[tuple[ToldClaim, ...]]:
    """Return the claims of these standings, each once however many cells it concerns, and with it what is one thing.

    Parameters
    ----------
    findings
        In the order in which they are told.
    standings
        How firmly a claim must be said to be among them.

    Returns
    -------
    list of tuple
        The widest extent first; within a tuple, one claim for each criterion.
    """
    found: dict[tuple[object, ...], dict[str, ToldClaim]] = {}
    for finding in findings:
        for claim in (finding.claim, *finding.exceptions):
            if claim and claim.standing in standings:
                own = found.setdefault(_thing(finding, claim), {})
                own.setdefault(finding.criterion.key, ToldClaim(finding, claim))
    groups = [tuple(own.values()) for own in found.values()]
    return sorted(groups, key=lambda group: _ORDER[group[0].claim.extent])


def as_one(told: ToldClaim) -> str:
    """Return why several faults are told as one."""
    cause = told.finding.criterion.shares_cause
    narrow = told.claim.extent in _ONE_THING
    return f"One {worded(told.claim.extent)}, told once" if narrow else f"One cause, told once: {cause}"


def _thing(finding: Finding, claim: Claim) -> tuple[object, ...]:
    whose = () if claim.extent in _WIDE else (finding.maker,)
    if claim.extent in _ONE_THING:
        return (claim.extent, claim.subject, *whose, finding.format, claim.standing)
    return (claim.extent, claim.subject, *whose, claim.standing, cause_of(finding.criterion))


def cause_of(criterion: Criterion) -> str:
    """Return what criteria have in common that are one cause; a criterion's own key where it shares none."""
    return criterion.shares_cause or criterion.key
