"""Rubrics: what is judged, on which anchored scale, and from where it is a fault."""

from qcledger.rubric.build import load, parse
from qcledger.rubric.model import Criterion, Reading, Remark, Rubric

__all__ = ["Criterion", "Reading", "Remark", "Rubric", "load", "parse"]
