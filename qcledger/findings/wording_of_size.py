"""Sentences about what a fault is and how large: anchors first, the number last. Part of the wording."""

from collections.abc import Iterable, Sequence

from qcledger.findings.finding import Claim, Finding
from qcledger.findings.lots import TestedLot, units_of
from qcledger.findings.scope import Scope
from qcledger.findings.trail import grades_of
from qcledger.findings.words import banned_in, lower_first
from qcledger.rubric import Criterion
from qcledger.thing import worded
from qcledger.vocab import GRADE_NOTE, Extent

OUR_SCALE = "on a scale of our own"
_WIDE = (Extent.PIGMENT, Extent.FORMAT)
_WITHIN_A_PAINT = (Extent.LOT, Extent.SPECIMEN)


def anchor(criterion: Criterion, grade: float) -> str:
    """Return in quotes the anchor of a grade, of a half step the one below; empty where no fair words are there."""
    text = criterion.anchors.get(float(int(grade)), "").rstrip(".").replace('"', "'")
    return f'"{text}"' if text and not banned_in(text) else ""


def seen(finding: Finding, lots: Iterable[TestedLot], claim: Claim | None = None) -> str:
    """Return what the mildest of the faulty specimens showed, so that it is true of each of them.

    Parameters
    ----------
    finding
        What is told.
    lots
        Whose faulty specimens are meant.
    claim
        Only of those that it explains; None for each.
    """
    grades = [
        unit.grade
        for unit in units_of(lots)
        if unit.faulty and unit.grade is not None and (claim is None or unit.row.specimen in claim.explained)
    ]
    if not grades or not (words := anchor(finding.criterion, min(grades))):
        return ""
    worse = " or worse" if max(grades) > int(min(grades)) else ""
    return f"Seen: {words}{worse}."


def how_large(finding: Finding, scope: Scope) -> str:
    """Return the middle grade of what is told, and of what it is held against; empty where the middle is sound."""
    claim = finding.claim
    mine = claim.lots if claim else scope.lots
    if not any(lot.faulty for lot in mine):
        return ""
    whose, others = _against(finding, scope, claim)
    middle = grades_of(unit.grade for unit in units_of(mine))
    if middle is None or not finding.criterion.is_fault(middle.median):
        return ""
    usual = grades_of(unit.grade for unit in units_of(others))
    mine_is = f"The middle of these: {_middle(finding.criterion, middle.median)}"
    if usual is None:
        return f"{mine_is}. Fault grade {middle.median:g} ({GRADE_NOTE}), {OUR_SCALE}."
    theirs = f"; {whose}: {_middle(finding.criterion, usual.median)}"
    return f"{mine_is}{theirs}. Fault grades {middle.median:g} and {usual.median:g} ({GRADE_NOTE}), {OUR_SCALE}."


def _middle(criterion: Criterion, grade: float) -> str:
    return anchor(criterion, grade) or f"grade {grade:g}"


def _against(finding: Finding, scope: Scope, claim: Claim | None) -> tuple[str, Sequence[TestedLot]]:
    """Return what the grades are held against, in words, and its lots; nothing for what makers have in common."""
    if claim and claim.extent in _WIDE:
        return "", ()
    if claim and claim.extent in _WITHIN_A_PAINT:
        own = {lot.key for lot in claim.lots}
        if others := [lot for lot in scope.lots if lot.key not in own]:
            return worded("in the paint's other lots"), others
    return f"at other makers with the same {finding.criterion.peers.same}", finding.field.peers(scope.lots)


def worst_asks(criterion: Criterion) -> str:
    """Return the anchor of the worst grade as it stands within a sentence; empty where there is none."""
    return lower_first(criterion.anchors.get(max(criterion.grades, default=0.0), "")).rstrip(".")
