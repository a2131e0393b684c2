"""Which grades of the label rubric follow from a label's text; proposed, never recorded by themselves."""

from collections.abc import Mapping
from typing import Final

from qcledger.labels.checks import about, name_of
from qcledger.labels.declared import tells_more
from qcledger.labels.naming import Fits
from qcledger.labels.said import Trust
from qcledger.records import LabelVersion
from qcledger.rubric.model import is_published
from qcledger.rubric.proposal import Proposal
from qcledger.rubric.reference import Reference
from qcledger.vocab import ProposedFrom, SaidLevel

PIGMENT_FIELDS: Final = ("constitution_numbers", "chemical_names")
"""Fields that speak of the pigments; claims are quoted, and grade nothing."""
OF_NAME: Final = {Fits.ALL: 0, Fits.SUBSTITUTE: 0, Fits.FANCY: 0, Fits.NOT: 3}
"""Grade of how a name fits; what cannot be told is graded by nobody but the tester."""


def proposals(
    label: LabelVersion, paint_name: str, reference: Reference, trust: Trust = is_published
) -> Mapping[ProposedFrom, Proposal]:
    """Return what a label's text decides, each with grade and reason; rubrics say which criteria follow from it."""
    found = {
        ProposedFrom.PIGMENTS: _information(label),
        ProposedFrom.NAME: _mismatch(label, paint_name, reference, trust),
    }
    return {what: one for what, one in found.items() if one is not None}


def _information(label: LabelVersion) -> Proposal | None:
    """Return the grade of what is said about pigments; chemical names alone leave it open."""
    numbers = tells_more(label)
    if label.index_names:
        more = "numbers or chemical names are" if numbers else "neither numbers nor chemical names are"
        return Proposal(0 if numbers else 1, f"index names are typed, {more}")
    return None if numbers else Proposal(3, "nothing about pigments is typed: none found on this label")


def _mismatch(label: LabelVersion, paint_name: str, reference: Reference, trust: Trust) -> Proposal | None:
    """Return the grade of name against pigment; without a pigment declared there is nothing to hold against."""
    said = [one for one in about(label, paint_name, reference, trust) if one.field in PIGMENT_FIELDS]
    against = [one for one in said if one.level is SaidLevel.CONTRADICTS]
    if against:
        return Proposal(5, against[0].words)
    fits = name_of(label, paint_name, reference, trust)
    grade = OF_NAME.get(fits.fits)
    is_doubtful = any(one.level is SaidLevel.DIFFERS or one.held_back for one in said)
    return None if grade is None or (is_doubtful and grade < OF_NAME[Fits.NOT]) else Proposal(grade, fits.because)
