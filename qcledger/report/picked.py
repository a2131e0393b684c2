"""The loose ends of findings: parcels looked at in part, what is to confirm, and what would settle the rest."""

from collections.abc import Iterator

from qcledger.bench.due import Due, LooseEndKind
from qcledger.findings import Findings
from qcledger.findings.finding import Finding
from qcledger.findings.picked import picked
from qcledger.findings.settle import FARTHEST, purchases
from qcledger.findings.wording_of_settling import to_look_at, would_settle
from qcledger.findings.words import lower_first
from qcledger.vocab import Standing


def half_seen(found: Findings) -> Iterator[Due]:
    """Yield a line for each parcel and criterion where pieces are to hand that settle it, with the first of them."""
    for finding in found.findings:
        for one in picked(finding):
            here = [piece for piece in one.more if piece.to_hand]
            if one.faulty and here:
                yield Due(LooseEndKind.LOOK, to_look_at(finding, one), here[0].specimen)


def wanted(found: Findings) -> tuple[list[str], list[str]]:
    """Return what is to confirm, and what else points to something, each with what would settle it.

    Of the second, those that need the fewest purchases come first.
    """
    confirm = [one for one in found.findings if one.unconfirmed]
    others = [one for one in found.findings if not one.unconfirmed and _points(one) and purchases(one)]
    return [_line(one) for one in confirm], [_line(one) for one in sorted(others, key=_needed)]


def _points(finding: Finding) -> bool:
    return finding.claim is not None and finding.claim.standing is Standing.OPEN


def _needed(finding: Finding) -> tuple[int, str]:
    """Return how many things a finding still needs, many where that is what is said of them."""
    return sum(one.number or FARTHEST for one in purchases(finding)), finding.maker_name


def _line(finding: Finding) -> str:
    wants = would_settle(finding)
    needs = f". It needs: {lower_first(wants)}" if wants else ""
    return f"{finding.maker_name} {finding.format}, {lower_first(finding.criterion.title)}{needs}"
