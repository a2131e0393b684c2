"""``qcledger tester``: how good the tester is, session checks and what is decided about them, control charts."""

import os
import sys
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.cli.said import tell
from qcledger.errors import bad

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.records import Record, Session
    from qcledger.report.closing import SessionChecks


@click.command()
@ledger_option
@click.option("--as", "face", type=click.Choice(["text", "csv", "json"]), default="text", help="How to print.")
@click.option("--charts", is_flag=True, help="Draw the control over the sessions instead.")
@click.option("--check", "code", metavar="CODE", help="Check one session: conditions, places, control, repeats.")
@click.option("--comparison", "title", metavar="TITLE", default="", help="With --check: which session CODE means.")
@click.option("--close", is_flag=True, help="With --check: close it; what is open is noted in the decision.")
@click.option("--void", metavar="REASON", help="With --check: void it. 'as proposed' takes the reasons of the check.")
@click.option("--keep", metavar="REASON", help="With --check: keep it as it is, whatever the check proposes.")
@click.option("--reinstate", metavar="REASON", help="With --check: count a void session again.")
def tester(
    where: str | None, face: str, charts: bool, code: str | None, title: str, close: bool, **given: str | None
) -> None:
    """Measure the tester: repeats, drift, control, and sessions to check.

    How far hidden repeats agree, which grades are told apart, how the control stood in each session, and which
    sessions are proposed for voiding. Nothing is voided but by --void; each decision is an entry of your daybook.
    """
    decisions = {name: reason for name, reason in given.items() if reason is not None}
    if close or decisions:
        _decide(where, code, title, close, decisions)
        return
    with open_ledger(where) as ledger:
        if code:
            told = _check(ledger, _session(ledger, code, title))
        else:
            told = _charts(ledger) if charts else _measured(ledger, face)
    tell(told, nl=False, data=face != "text")


def _session(ledger: "Ledger", code: str, title: str) -> "Session":
    from qcledger.bench.named import session_of

    return session_of(ledger, code, title)


def _decide(where: str | None, code: str | None, title: str, close: bool, decisions: dict[str, str]) -> None:
    from qcledger.bench.opening import keep_decided
    from qcledger.records import Session
    from qcledger.report.closing import check_session

    if code is None or len(decisions) + close > 1:
        raise bad("options", "a decision", "one of --close, --void, --keep, --reinstate, with --check CODE")
    with open_ledger(where, write=True) as ledger:
        check = check_session(ledger, _session(ledger, code, title))
        kept = _records(ledger, check, close, decisions)
        keep_decided(ledger, check.session.id, kept, "the session is closed" if close else "")
        tell(_check(ledger, ledger.get(Session, check.session.id) or check.session), nl=False)


AS_PROPOSED = "as proposed"
"""What stands for the reasons of the check."""


def _records(ledger: "Ledger", check: "SessionChecks", close: bool, decisions: dict[str, str]) -> "list[Record]":
    from qcledger.bench import closing
    from qcledger.ledger import new_id
    from qcledger.vocab import DecisionKind

    who: dict[str, Any] = {"by": ledger.daybook.tester, "at": datetime.now(UTC), "new_id": new_id}
    who["zone"] = ledger.zone
    if close:
        return closing.close(check.session, check.gaps, **who)
    ((name, reason),) = decisions.items()
    words = check.reason if reason.casefold() == AS_PROPOSED else reason
    if name == "void":
        return closing.void(check.session, words, **who)
    return [closing.decide(check.session, DecisionKind(name), words, **who)]


def _check(ledger: "Ledger", session: "Session") -> str:
    from qcledger.bench.named import by_whom
    from qcledger.report.closing import check_lines, check_session, state

    check = check_session(ledger, session)
    lines = [f"Session {check.session.code}{by_whom(ledger, session)}, {state(check)}", *check_lines(check)]
    return "\n".join(lines) + "\n"


def _charts(ledger: "Ledger") -> str:
    from qcledger.findings.control import history
    from qcledger.findings.repeats import scatter_of
    from qcledger.report import chart
    from qcledger.report.closing import criteria_of
    from qcledger.report.layout import paragraph
    from qcledger.report.strips import ink_of
    from qcledger.rubric.ladder import WIDTH

    rows, ink = ledger.tested_rows(), ink_of(sys.stdout.encoding, os.environ)
    series = chart.series_of(history(rows), criteria_of(ledger), scatter_of(rows))
    drawn = chart.charts(series, WIDTH, ink) or ["No control stood on three sheets yet."]
    return "\n".join([*drawn, "", *paragraph(chart.label(ink))]) + "\n"


def _measured(ledger: "Ledger", face: str) -> str:
    from qcledger.findings.tester import measure, side_by_side
    from qcledger.report import tester as told
    from qcledger.report.closing import criteria_of, summary, titles_of

    rows, criteria = ledger.tested_rows(), criteria_of(ledger)
    found = measure(rows)
    if face == "csv":
        return told.csv_of(found, criteria)
    if face == "json":
        return told.json_of(found, side_by_side(rows), criteria)
    lines = told.lines_of(found, side_by_side(rows), criteria)
    return "\n".join([*lines, "", "Sessions", *summary(rows, titles_of(ledger))]) + "\n"
