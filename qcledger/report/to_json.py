"""Findings as JSON with stable names: those of `rows`, with checks, exceptions and lots below each finding."""

import json
from datetime import date

from qcledger.findings import Finding, Findings
from qcledger.findings.finding import Claim
from qcledger.findings.labelfact import LabelFact
from qcledger.findings.papers import LeftApart
from qcledger.findings.together import REACHED, statement_of
from qcledger.findings.wording import subject
from qcledger.report.label_rows import claim_rows, grade_rows, print_row, statement_rows
from qcledger.report.rows import Value, check_row, claim_row, finding_row, lot_row, trait_row
from qcledger.text import harmless_in

FORM = 2
"""Raised when a name changes or goes; new names may come without it."""


def findings_json(findings: Findings) -> str:
    """Return ``{"form": 2, "findings": [...], "traits": [...], ...}``, indented, ended by a line feed."""
    told = {
        "form": FORM,
        "findings": [_finding(finding) for finding in findings.findings],
        "traits": [dict(trait_row(trait)) for trait in findings.traits],
        "label_facts": [_label_fact(fact) for fact in findings.label_facts],
        "blind_sessions_left_out": list(findings.blind),
        "left_apart_on_other_paper": [_left_apart(one) for one in findings.left_apart],
    }
    return json.dumps(harmless_in(told), ensure_ascii=False, indent=2, default=_day) + "\n"


def _finding(finding: Finding) -> dict[str, object]:
    by = finding.criterion.peers
    return {
        **finding_row(finding),
        "checks": [{**check_row(check, by), "met": check.met} for check in finding.checks],
        "exceptions": [_beside(finding, claim) for claim in finding.exceptions],
        "free_of_checks": [
            {"common": subject(one.common), "checks": [{**check_row(c, by), "met": c.met} for c in one.maker.checks]}
            for one in finding.free
        ],
        "lots_tested": [dict(lot_row(lot)) for lot in finding.lots],
    }


def _beside(finding: Finding, claim: Claim) -> dict[str, object]:
    """Return a claim beside the leading one; where it is to confirm or settled, with the statement it belongs to."""
    return {**claim_row(claim), "statement": statement_of(finding, claim) if claim.standing in REACHED else None}


def _label_fact(fact: LabelFact) -> dict[str, object]:
    return {
        **print_row(fact),
        "quotes": {one.field: one.printed for one in fact.quotes},
        "statements": [dict(row) for row in statement_rows(fact)],
        "grades": [dict(row) for row in grade_rows(fact)],
        "claims": [dict(row) for row in claim_rows(fact)],
    }


def _left_apart(one: LeftApart) -> dict[str, object]:
    papers = one.papers
    return {"paper": papers.other, "reference": papers.reference, "sessions": one.sessions, "results": one.results}


def _day(value: Value) -> str:
    assert isinstance(value, date)  # nothing else in a row needs help
    return value.isoformat()
