"""How sure a finding is, in one sentence for its tester. Part of the wording.

It comes right behind the statement: what was asked of a claim and what came out, or what is lacking.
"""

from collections.abc import Callable, Mapping

from qcledger.findings.checks import percent
from qcledger.findings.finding import Claim, Finding
from qcledger.findings.wording_of_checks import as_strong
from qcledger.findings.wording_of_checks import in_short as stress_in_short
from qcledger.findings.wording_of_counts import WIDE
from qcledger.findings.wording_of_free import FREE, common_at
from qcledger.findings.words import listed, out_of
from qcledger.thing import worded
from qcledger.vocab import Standing

_NAMED = 3
"""Most lacking checks that are named."""


def put_to(claim: Claim) -> str:
    """Return what a claim was put to, in short: fair fields as strong, and stress checks in which it stands."""
    fair = claim.chance.fair if claim.chance else None
    stress = claim.stress if claim.stress and claim.stress.checks else None
    told = (
        f"In {as_strong(fair)} simulated rounds with no maker worse it looked this bad" if fair else "",
        stress_in_short(stress) if stress else "",
    )
    joined = "; ".join(part for part in told if part)
    return f"{joined[:1].upper()}{joined[1:]}." if joined else ""


def how_sure(finding: Finding) -> str:
    """Return how sure it is, in one sentence or two."""
    return _SURE[finding.standing](finding)


def _settled(finding: Finding) -> str:
    claim = finding.claim
    if claim is None:
        return "It is settled."
    shown = f"{common_at(claim)} show it. " if claim.extent in WIDE else ""
    rests = f"{shown}{put_to(claim)}".strip()
    return f"It is settled. {rests}".strip()


def _none_found(finding: Finding) -> str:
    free = f", and this maker is {FREE}" if finding.free else ""
    return (
        f"Enough was looked at to say so{free}; up to {percent(finding.still_allowed)} could still be faulty (95 %)."
    )


def _to_confirm(finding: Finding) -> str:
    rests = put_to(finding.claim) if finding.claim else ""
    return f"It looks like it and is not confirmed yet{_lacking(finding)}. {rests}".strip()


def _checking(_: Finding) -> str:
    return "It is still being worked out how often chance alone looks like this."


def _open(finding: Finding) -> str:
    return f"It cannot be said yet{_lacking(finding)}."


def _lacking(finding: Finding) -> str:
    """Return how many of the checks are lacking, and the first of them by name; empty where none is."""
    names = [worded(check.name) for check in finding.checks if not check.met]
    more = [f"{len(names) - _NAMED} more"] if len(names) > _NAMED else []
    told = f"{out_of(len(names), len(finding.checks))} checks lacking: {listed([*names[:_NAMED], *more])}"
    return f"; {told}" if names else ""


_SURE: Mapping[Standing, Callable[[Finding], str]] = {
    Standing.SETTLED: _settled,
    Standing.NONE_FOUND: _none_found,
    Standing.TO_CONFIRM: _to_confirm,
    Standing.CHECKING: _checking,
    Standing.OPEN: _open,
}
