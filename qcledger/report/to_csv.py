"""Findings as CSV: a line a finding, with the names of `rows.finding_row`; facts of labels in lines of their own."""

from collections.abc import Iterable
from datetime import date

from qcledger.exchange.codec import guard
from qcledger.exchange.csvfile import line
from qcledger.findings import Findings
from qcledger.report.frame_columns import FINDINGS
from qcledger.report.label_rows import label_rows
from qcledger.report.rows import Row, Value, finding_row, trait_row
from qcledger.text import harmless

FINDING = "finding"
"""What the column `kind` holds beside a fact of a label's."""


def findings_csv(findings: Findings) -> str:
    """Return the findings as CSV; traits instead where there is nothing else.

    The column `kind` says what a line is about: a finding, or a fact of a label, which has columns of its own behind
    those of findings. Texts that a spreadsheet would run as a formula get an apostrophe in front.
    """
    found: list[Row] = [{"kind": FINDING, **finding_row(one)} for one in findings.findings]
    labels = [row for fact in findings.label_facts for row in label_rows(fact)]
    if not (found or labels):
        return table_csv(map(trait_row, findings.traits))
    names = dict.fromkeys(name for name in ("kind", *FINDINGS, *(labels[0] if labels else ())))
    return table_csv({name: row.get(name) for name in names} for row in (*found, *labels))


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
