"""What can be said about a label from its text alone, against our references; words, never a verdict."""

from qcledger.labels.checks import about, missing
from qcledger.labels.proposals import proposals
from qcledger.labels.said import Level, Said

__all__ = ["Level", "Said", "about", "missing", "proposals"]
