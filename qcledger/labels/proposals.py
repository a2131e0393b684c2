"""Which grades of the label rubric follow from a label's text; proposed, never recorded by themselves."""

from collections.abc import Mapping

from qcledger.labels.checks import What, about, traditional
from qcledger.records import LabelVersion
from qcledger.rubric.pigments import Pigments


def proposals(label: LabelVersion, paint_name: str, pigments: Pigments) -> Mapping[str, float]:
    """Return criterion to proposed grade, for the criteria of the label rubric that its text can decide."""
    found = {
        "pigment_information": _information(label),
        "label_mismatch": _mismatch(label, paint_name, pigments),
    }
    return {criterion: grade for criterion, grade in found.items() if grade is not None}


def _information(label: LabelVersion) -> float | None:
    """Return the grade of what is said about pigments; chemical names alone leave it open."""
    if label.index_names:
        return 0 if label.constitution_numbers or label.chemical_names else 1
    return None if label.constitution_numbers or label.chemical_names else 3


def _mismatch(label: LabelVersion, paint_name: str, pigments: Pigments) -> float | None:
    """Return the grade of name against pigment; without a pigment declared there is nothing to hold against."""
    if not label.index_names:
        return None
    found = {said.what for said in about(label, paint_name, pigments)}
    if What.CONTRADICTS in found:
        return 5
    if What.NO_HUE in found:
        return 3
    return 0 if traditional(paint_name, pigments) else 1
