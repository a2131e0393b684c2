"""Rubrics: what is judged, on which anchored scale, and from where it is a fault."""

from qcledger.rubric.build import Declared, declared, load, parse
from qcledger.rubric.model import Criterion, LabelPart, PeerGroup, Reading, Remark, Rubric, RubricStage

__all__ = [
    "Criterion",
    "Declared",
    "LabelPart",
    "PeerGroup",
    "Reading",
    "Remark",
    "Rubric",
    "RubricStage",
    "declared",
    "load",
    "parse",
]
