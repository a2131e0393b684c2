"""Facts of labels as named values, the same for CSV, JSON and a notebook; the names are stable."""

from collections.abc import Iterator

from qcledger.findings.labelfact import ClaimBeside, LabelFact, LabelGrade, LabelStatement
from qcledger.findings.wording_of_labels import label_sentence
from qcledger.report.rows import Row
from qcledger.vocab import LabelFactKind

LABEL_FACT = "label fact"
"""What the column `kind` holds beside a finding's."""
_NO_STATEMENT: Row = {
    "about": "print", "field": None, "words": None, "level": None, "said": None, "reference": None,
    "reference_source": None, "criterion": None, "criterion_title": None, "grade": None, "ask_first": None,
}  # fmt: skip
_FIRST = {LabelFactKind.WORDS: "maker", LabelFactKind.SAFETY: "maker, seller and authority"}
"""Who is asked before anything of it is told."""


def label_rows(fact: LabelFact) -> Iterator[Row]:
    """Yield a row for each statement, grade and claim of one print; a print without any has one row."""
    common = print_row(fact)
    told = [*statement_rows(fact), *grade_rows(fact), *claim_rows(fact)]
    for one in told or [{}]:
        yield {**common, **_NO_STATEMENT, **one}


def print_row(fact: LabelFact) -> Row:
    """Return what all rows of one print have in common."""
    said = fact.said
    return {
        "kind": LABEL_FACT,
        "maker": fact.maker_name,
        "paint": fact.paint_name,
        "format": fact.format,
        "label": fact.label,
        "label_since": fact.since,
        "read_on": fact.read_on or None,
        "printed": "; ".join(f"{one.title}: {one.printed}" for one in fact.quotes) or None,
        "specimens_with_label": len(fact.stickers),
        "stickers": ", ".join(fact.stickers),
        "held_against": int(fact.against),
        "photos": len(fact.photos),
        "label_sentence": label_sentence(fact) or None,
        "kept_private": said.private or None,
        "asked_and_answered": " ".join(said.asked) or None,
        "decided": " ".join(said.decided) or None,
    }


def statement_rows(fact: LabelFact) -> Iterator[Row]:
    """Yield what is said of a print."""
    for one in fact.statements:
        yield {"about": "statement", **_statement(one)}


def _statement(one: LabelStatement) -> Row:
    return {
        "field": one.quoted.field or None,
        "words": one.quoted.printed or None,
        "level": str(one.level),
        "said": one.words,
        "reference": "; ".join(reference.fact for reference in one.references) or None,
        "reference_source": "; ".join(reference.source for reference in one.references) or None,
        "ask_first": _FIRST[one.kind],
    }


def grade_rows(fact: LabelFact) -> Iterator[Row]:
    """Yield the tester's grades of a print."""
    for one in fact.grades:
        yield {"about": "grade", **_grade(one)}


def _grade(one: LabelGrade) -> Row:
    criterion = one.criterion
    return {
        "said": criterion.anchors.get(one.grade),
        "criterion": criterion.key,
        "criterion_title": criterion.title,
        "grade": one.grade,
        "ask_first": _FIRST[criterion.label_fact or LabelFactKind.WORDS],
    }


def claim_rows(fact: LabelFact) -> Iterator[Row]:
    """Yield the claims of a print beside what was seen."""
    for one in fact.claims:
        yield {"about": "claim", **_claim(one)}


def _claim(one: ClaimBeside) -> Row:
    low, high = one.grades
    return {
        "field": "claims",
        "words": one.claim,
        "said": f"unlike the claim in {one.unlike} of {one.graded} graded, grades {low:g} to {high:g}",
        "criterion": one.criterion.key,
        "criterion_title": one.criterion.title,
        "ask_first": _FIRST[LabelFactKind.WORDS],
    }
