"""Which claims are one thing to say: one bad lot with two faults, or criteria that share a cause at one maker."""

from collections.abc import Collection, Iterable, Mapping
from typing import NamedTuple

from qcledger.findings.evidence import CellKey
from qcledger.findings.finding import Claim, Finding
from qcledger.findings.wording import subject
from qcledger.findings.words import listed, lower_first
from qcledger.rubric import Criterion
from qcledger.thing import worded
from qcledger.vocab import Extent, Standing

REACHED = (Standing.TO_CONFIRM, Standing.SETTLED)
"""How firmly something must be said to be a statement."""
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
    groups = [
        tuple({one.finding.criterion.key: one for one in reversed(own)}.values())[::-1]
        for own in _by_thing(findings, standings)
    ]
    return sorted(groups, key=lambda group: _ORDER[group[0].claim.extent])


def told_beside(findings: Iterable[Finding], standings: Collection[Standing]) -> Mapping[CellKey, str]:
    """Return of each cell whose leading claim is told together with other faults with which: ``one lot with froth``.

    Parameters
    ----------
    findings, standings
        As for `together`.
    """
    found: dict[CellKey, str] = {}
    for own in _by_thing(findings, standings):
        titles = {one.finding.criterion.key: one.finding.criterion.title for one in own}
        for finding, claim in own:
            others = [lower_first(title) for key, title in titles.items() if key != finding.criterion.key]
            if others and claim is finding.claim:
                what = str(claim.extent) if claim.extent in _ONE_THING else "cause"
                cell = CellKey(finding.criterion.key, finding.maker, finding.format)
                found[cell] = f"one {what} with {listed(others)}"
    return found


def statement_of(finding: Finding, claim: Claim) -> str:
    """Return the name of the statement that a claim belongs to: the same for all claims that are one thing to say."""
    narrow = claim.extent in _ONE_THING
    whose = "" if claim.extent in (*_WIDE, Extent.MAKER) else f", {finding.maker_name}"
    what = f" {finding.format}" if narrow else f"; {finding.criterion.shares_cause or finding.criterion.title}"
    return f"{claim.standing}: {subject(claim)}{whose}{what}"


def as_one(told: ToldClaim) -> str:
    """Return why several faults are told as one."""
    cause = told.finding.criterion.shares_cause
    narrow = told.claim.extent in _ONE_THING
    return f"One {worded(told.claim.extent)}, told once" if narrow else f"One cause, told once: {cause}"


def _by_thing(findings: Iterable[Finding], standings: Collection[Standing]) -> list[list[ToldClaim]]:
    found: dict[tuple[object, ...], list[ToldClaim]] = {}
    for finding in findings:
        for claim in (finding.claim, *finding.exceptions):
            if claim and claim.standing in standings:
                found.setdefault(_thing(finding, claim), []).append(ToldClaim(finding, claim))
    return [*found.values()]


def _thing(finding: Finding, claim: Claim) -> tuple[object, ...]:
    whose = () if claim.extent in _WIDE else (finding.maker,)
    if claim.extent in _ONE_THING:
        return (claim.extent, claim.subject, *whose, finding.format, claim.standing)
    return (claim.extent, claim.subject, *whose, claim.standing, cause_of(finding.criterion))


def cause_of(criterion: Criterion) -> str:
    """Return what criteria have in common that are one cause; a criterion's own key where it shares none."""
    return criterion.shares_cause or criterion.key
