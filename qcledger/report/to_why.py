"""Why: everything that led to the findings about one maker, as text for its tester."""

from collections.abc import Iterator, Sequence

from qcledger.findings import Check, Finding, Lot
from qcledger.findings.checks import percent
from qcledger.findings.wording import in_short, recurring, sentence, set_apart, subject, would_settle
from qcledger.report.layout import columns, paragraph
from qcledger.report.rows import lot_row
from qcledger.vocab import GRADE_NOTE, MARKS, Standing

_LOTS = (18, 10, 7, 15, 24)
_LOTS_HEAD = ("paint", "lot", "faulty", "sessions", "sellers")
_PRIVATE = "For you only: until specimens bought to confirm bear it out, it is published as not settled."


def why_text(findings: Sequence[Finding]) -> str:
    """Return the sentences that may be published about `findings`, and everything behind them.

    Findings without a fault are told in one line each, after the others.
    """
    faulty = [finding for finding in findings if finding.counts.faulty]
    parts = ["\n".join(_why(finding)) for finding in faulty]
    if sound := [finding for finding in findings if not finding.counts.faulty]:
        parts.append("\n".join(("Without a fault", *(line for finding in sound for line in _sound(finding)))))
    return "\n\n".join((f"fault grade: {GRADE_NOTE}", *parts)) + "\n"


def _why(finding: Finding) -> Iterator[str]:
    yield from paragraph(f"{finding.maker_name}, {finding.format}, {finding.criterion.title}")
    yield from paragraph(in_short(finding), "  ")
    yield ""
    yield from paragraph(sentence(finding), "  ")
    if finding.standing is Standing.TO_CONFIRM:
        yield from paragraph(_PRIVATE, "  ")
    yield ""
    worst_first = sorted(finding.lots, key=lambda lot: -lot.faulty)
    yield from columns([_LOTS_HEAD, *map(_lot, worst_first)], _LOTS)
    yield ""
    for check in finding.checks:
        yield from paragraph(_check(check), "  ", "      ")
    yield ""
    yield from _numbers(finding)


def _lot(lot: Lot) -> tuple[str, ...]:
    told = lot_row(lot)
    return (
        str(told["paint"]),
        str(told["lot"] or "no code"),
        f"{lot.faulty}/{lot.tested}",
        str(told["sessions"] or "unpacking"),
        str(told["sellers"]),
    )


def _check(check: Check) -> str:
    return f"{'yes' if check.met else 'no'} {check.name}: {check.found} (needed {check.needed})"


def _numbers(finding: Finding) -> Iterator[str]:
    for claim in finding.exceptions:
        yield from paragraph(f"also {MARKS[claim.standing]} {claim.standing}: {subject(claim)}", "  ")
    for text in (
        _rates(finding),
        set_apart(finding.apart, finding.missing, finding.reader_notes),
        f"The fault was {recurring(finding.recurrence)}." if finding.recurrence else "",
        would_settle(finding),
    ):
        if text:
            yield from paragraph(text, "  ")


def _rates(finding: Finding) -> str:
    counts, grades = finding.counts, finding.grades
    raw = f"Rate {percent(counts.rate or 0)}"
    wilson = f"Wilson {percent(finding.wilson.low)} to {percent(finding.wilson.high)}"
    lots = f"by lots {percent(finding.lot_aware.low)} to {percent(finding.lot_aware.high)}"
    median = f"; median grade {grades.median:g}" if grades else ""
    return f"{raw}, {wilson}, {lots} (95 %); other makers {percent(finding.usual_rate)}{median}."


def _sound(finding: Finding) -> Iterator[str]:
    yield from paragraph(f"{in_short(finding)}: {sentence(finding)}", "  ")
