"""The loose ends of findings: parcels looked at in part, what is to confirm, and what would settle the rest."""

from collections.abc import Iterator, Sequence

from qcledger.bench.due import Due, LooseEndKind
from qcledger.findings import Findings
from qcledger.findings.finding import Finding
from qcledger.findings.picked import picked
from qcledger.findings.settle import FARTHEST, purchases
from qcledger.findings.wording_of_settling import to_look_at, would_settle
from qcledger.findings.words import lower_first
from qcledger.vocab import MARKS, Standing


def half_seen(found: Findings) -> Iterator[Due]:
    """Yield a line for each parcel and criterion where pieces are to hand that settle it, with the first of them."""
    for finding in found.findings:
        for one in picked(finding):
            here = [piece for piece in one.more if piece.to_hand]
            if one.faulty and here:
                yield Due(LooseEndKind.LOOK, to_look_at(finding, one), here[0].specimen)


def to_confirm(found: Findings) -> list[Due]:
    """Return what is to confirm, each with what would settle it."""
    lines = (_line(one) for one in found.findings if one.unconfirmed)
    return [
        Due(LooseEndKind.CONFIRM, f"{MARKS[Standing.TO_CONFIRM]} {Standing.TO_CONFIRM}: {line}") for line in lines
    ]


def to_settle(found: Findings) -> list[Due]:
    """Return what else points to something, each with what would settle it; several of a criterion are one line.

    Those that need the fewest purchases come first.
    """
    others = [one for one in found.findings if not one.unconfirmed and _points(one) and purchases(one)]
    by_criterion: dict[str, list[Finding]] = {}
    for one in sorted(others, key=_needed):
        by_criterion.setdefault(one.criterion.key, []).append(one)
    return [_together(own) for own in by_criterion.values()]


def _together(findings: Sequence[Finding]) -> Due:
    """Return the loose end of a criterion's findings, which its line counts where there are several."""
    lines = tuple(Due(LooseEndKind.NEXT, _line(one)) for one in findings)
    if len(lines) == 1:
        return lines[0]
    makers = len({one.maker for one in findings})
    whose = f"of {makers} makers" if makers > 1 else f"of {findings[0].maker_name}"
    words = f"{findings[0].criterion.title}: {len(lines)} findings {whose} need more; this line lists what each needs"
    return Due(LooseEndKind.NEXT, words, more=lines)


def _points(finding: Finding) -> bool:
    return finding.claim is not None and finding.claim.standing is Standing.OPEN


def _needed(finding: Finding) -> tuple[int, str]:
    """Return how many things a finding still needs, many where that is what is said of them."""
    return sum(one.number or FARTHEST for one in purchases(finding)), finding.maker_name


def _line(finding: Finding) -> str:
    wants = would_settle(finding)
    needs = f". It needs: {lower_first(wants)}" if wants else ""
    return f"{finding.maker_name} {finding.format}, {lower_first(finding.criterion.title)}{needs}"
