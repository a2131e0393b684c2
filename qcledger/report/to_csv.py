"""Findings as CSV: one line a finding, with the names of `rows.finding_row`."""

from collections.abc import Iterable
from datetime import date

from qcledger.exchange.codec import guard
from qcledger.exchange.csvfile import line
from qcledger.findings import Findings
from qcledger.report.rows import Row, Value, finding_row, trait_row
from qcledger.text import harmless


def findings_csv(findings: Findings) -> str:
    """Return the findings as CSV; traits instead where there is nothing else.

    Texts that a spreadsheet would run as a formula get an apostrophe in front.
    """
    rows = [*map(finding_row, findings.findings)] or [*map(trait_row, findings.traits)]
    return table_csv(rows)


def table_csv(rows: Iterable[Row]) -> str:
    """Return rows of named values as CSV under their names; nothing without rows."""
    rows = list(rows)
    if not rows:
        return ""
    return line(rows[0]) + "".join(line(map(_cell, row.values())) for row in rows)


def _cell(value: Value) -> str:
    if value is None:
        return ""
    if isinstance(value, date):
        return value.isoformat()
    return guard(harmless(value)) if isinstance(value, str) else repr(value)
