"""Findings: evidence in, how far each fault reaches and how firmly that may be said out.

    known = scales(ledger)
    findings = read(ledger.tested_rows(), lambda hash, key: known[hash, key])

Pure: rows in, frozen findings out; no ledger, no clock, no random numbers.
"""

from qcledger.findings.evidence import Evidence, gather
from qcledger.findings.finding import Check, Claim, Finding, TraitSummary
from qcledger.findings.lots import Counts, TestedLot
from qcledger.findings.overview import Findings, find, read
from qcledger.findings.strength import StrengthCheck
from qcledger.findings.trail import Recurrence

__all__ = [
    "Check",
    "Claim",
    "Counts",
    "Evidence",
    "Finding",
    "Findings",
    "Recurrence",
    "StrengthCheck",
    "TestedLot",
    "TraitSummary",
    "find",
    "gather",
    "read",
]
