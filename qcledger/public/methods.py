"""What was done to come to what is said: sheets of work, what was left out, how well grades repeat."""

from collections import defaultdict
from collections.abc import Iterator
from typing import TYPE_CHECKING

from qcledger.findings import Findings
from qcledger.findings.tester import measure
from qcledger.findings.words import listed, lower_first
from qcledger.public.from_findings import WAYS, rows_counted, way_judged
from qcledger.public.view import PublicMethods, WayOfTesting
from qcledger.records import Comparison, Session
from qcledger.report.closing import criteria_of, undecided
from qcledger.report.tester import in_words
from qcledger.text import same_name

if TYPE_CHECKING:
    from qcledger.findings.drift import Drift
    from qcledger.ledger import Ledger


def methods_of(ledger: "Ledger", found: Findings, comparison: Comparison | None) -> PublicMethods:
    """Return what was done; parameters are those of `gather`."""
    from qcledger.ledger.queries import void_sessions

    units = rows_counted(found)
    used = ledger.by_id(Session, {row.session for row in units if row.session})
    with ledger.reading() as connection:
        gone = void_sessions(connection)
    in_question = [(session, drift) for session, drift in undecided(ledger) if session.id in used]
    titles = {key: one.title for key, one in criteria_of(ledger).items()}
    days = [row.day for row in units]
    void = (
        one
        for one in ledger.rows(Session)
        if one.id in gone and (comparison is None or comparison.id == one.comparison)
    )
    return PublicMethods(
        sessions=tuple(sorted(one.code for one in used.values())),
        tested_first=min(days, default=None),
        tested_last=max(days, default=None),
        ways=tuple(_ways(found)),
        testers=len({row.tester for row in units}),
        void=tuple(sorted(one.code for one in void)),
        in_question=tuple(_question(session, drift, titles) for session, drift in in_question),
        repeats=_repeats(ledger),
        rubrics=tuple(sorted({ledger.rubric(hash_).title for hash_ in {row.rubric for row in units}})),
        paper=(comparison.reference_paper or "") if comparison else "",
    )


def _ways(found: Findings) -> Iterator[WayOfTesting]:
    """Yield each way in which things were judged, those under codes first, with its sheets and criteria."""
    sheets: dict[str, set[str]] = defaultdict(set)
    judged: dict[str, set[str]] = defaultdict(set)
    for finding in found.findings:
        for unit in (unit for lot in finding.lots for unit in lot.units):
            how = way_judged(unit.row, finding.criterion)
            judged[how].add(finding.criterion.title)
            if unit.row.session:
                sheets[how].add(unit.row.session)
    for how in WAYS:
        if how in judged:
            yield WayOfTesting(how, len(sheets[how]), tuple(sorted(judged[how], key=same_name)))


def _question(session: Session, drift: "Drift", titles: dict[str, str]) -> str:
    """Return which session is in question, and on what the control moved."""
    moved = listed([lower_first(titles.get(one.key, one.key)) for one in drift.beyond])
    return f"{session.code}: the control moved{f' on {moved}' if moved else ''}"


def _repeats(ledger: "Ledger") -> str:
    """Return how grades of hidden repeats agree, of every tester by himself and none by name."""
    return " ".join(
        in_words(one.together.grades) for one in measure(ledger.tested_rows()) if one.together.grades.pairs
    )
