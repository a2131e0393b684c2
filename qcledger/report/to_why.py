"""Why: everything that led to the findings about one maker, as text for its tester."""

from collections.abc import Iterator, Sequence

from qcledger.findings import Finding
from qcledger.findings.labelfact import LabelFact
from qcledger.findings.wording import in_short, sentence, so_far
from qcledger.findings.wording_of_settling import would_settle
from qcledger.findings.words import lower_first
from qcledger.report.labels_text import label_section
from qcledger.report.layout import paragraph
from qcledger.report.parts import parts_of
from qcledger.report.strips import SHADED, Ink
from qcledger.rubric.ladder import WIDTH
from qcledger.vocab import GRADE_NOTE

_INDENT = "  "


def why_text(findings: Sequence[Finding], ink: Ink = SHADED, labels: Sequence[LabelFact] = ()) -> str:
    """Return the sentences that may be published about `findings`, and everything behind them.

    Findings without a fault are told in one paragraph each, after the others; facts of `labels` come last.
    """
    faulty = [finding for finding in findings if finding.tells_of_a_fault]
    parts = ["\n".join(_why(finding, ink)) for finding in faulty]
    if sound := [finding for finding in findings if not finding.tells_of_a_fault]:
        parts.append("\n".join(("Without a fault", *(line for finding in sound for line in _sound(finding)))))
    if told := label_section(labels, full=True):
        parts.append("\n".join(told))
    return "\n\n".join((f"fault grade: {GRADE_NOTE}, on our own scale", *parts)) + "\n"


def _why(finding: Finding, ink: Ink) -> Iterator[str]:
    yield from paragraph(f"{finding.maker_name}, {finding.format}, {finding.criterion.title}")
    for part in parts_of(finding, WIDTH - len(_INDENT), ink):
        yield f"\n{part.title}"
        yield from (f"{_INDENT}{line}".rstrip() for line in part.lines)


def _sound(finding: Finding) -> Iterator[str]:
    wanted = would_settle(finding)
    told, *_ = so_far(finding) or (sentence(finding),)
    more = f" What would settle it, either way: {lower_first(wanted)}" if wanted else ""
    yield from paragraph(f"{in_short(finding)}: {told}{more}", _INDENT, _INDENT * 2)
