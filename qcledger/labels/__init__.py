"""What can be said about a label from its text alone, against a reference of pigments; words, never a verdict."""

from qcledger.labels.checks import Said, about, missing
from qcledger.labels.proposals import proposals

__all__ = ["Said", "about", "missing", "proposals"]
