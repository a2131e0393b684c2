"""Findings on paper: one row builder, and its faces as text, CSV and JSON."""

from qcledger.report.strips import ink_of
from qcledger.report.to_csv import findings_csv
from qcledger.report.to_json import findings_json
from qcledger.report.to_text import findings_text
from qcledger.report.to_why import why_text

__all__ = ["findings_csv", "findings_json", "findings_text", "ink_of", "why_text"]
