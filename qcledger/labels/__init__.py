"""What can be said about a label from its text alone, against our references; words, never a verdict."""

from qcledger.labels.checks import about, missing
from qcledger.labels.proposals import proposals
from qcledger.labels.said import LabelRemark
from qcledger.vocab import SaidLevel

__all__ = ["LabelRemark", "SaidLevel", "about", "missing", "proposals"]
