"""``qcledger sheet``: plan a run sheet, look at it, print it, and open it early."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from qcledger.cli.asked import condition_options, noted, of_work
from qcledger.cli.options import PathInUtf8, ledger_option, open_ledger
from qcledger.cli.said import tell
from qcledger.errors import bad
from qcledger.settings import load_settings
from qcledger.text import one_line
from qcledger.vocab import Blinding

if TYPE_CHECKING:
    from qcledger.bench.begin import SheetPlan
    from qcledger.bench.offer import Offer
    from qcledger.ledger import Ledger
    from qcledger.records import Session

F = TypeVar("F", bound=Callable[..., Any])

PLAN: Final = (
    ("comparison", "TITLE", "With --plan: an open one by its title, or a new one. Else: which session CODE means."),
    ("rubric", "KEYS", "With --plan: the rubrics of a new comparison, parted by commas."),
    ("specimens", "STICKERS", "With --plan: as in OV 0147-0152; without, those of the comparison not tested yet."),
    ("criteria", "KEYS", "With --plan: only these criteria; without, everything the rubrics hold."),
    ("control", "STICKER", "With --plan: the specimen that comes first and last on every sheet."),
    ("repeats", "N", "With --plan: hidden repeats; without, one in ten."),
    ("blinding", "HOW", f"With --plan: {', '.join(Blinding)}. Without: {Blinding.SHUFFLED}."),
    ("testers", "NAMES", "With --plan: a sheet of the same specimens for each of these names."),
    ("start", "HOUR", "With --plan: when the first stage begins, as in 2026-03-09 09:00; without, now."),
    ("on-paper", "TEXT", "With --plan: the paper of the sheet; without, the comparison's, or as last time."),
    ("paper-lot", "TEXT", "With --plan: its lot."),
    ("lamp", "TEXT", "With --plan: the lamp; temperature and humidity of the air likewise."),
    ("temperature", "C", ""),
    ("humidity", "%", ""),
    ("although", "REASON", "With --plan: why what has not dried is tested beside what is bought dry all the same."),
)
"""What a plan may be told, by option."""


def plan_options(command: F) -> F:
    """Add the options of a plan to a command."""
    for name, metavar, told in reversed(PLAN):
        command = click.option(f"--{name}", metavar=metavar, default="", help=told, show_default=False)(command)
    return command


@click.command()
@click.argument("code", required=False, default="")
@ledger_option
@click.option("--plan", "is_plan", is_flag=True, help="Lay out a new run sheet; CODE, if given, becomes its code.")
@plan_options
@condition_options
@click.option(
    "--weak-first", is_flag=True, help="With --plan: weak colours before strong ones, by the pigments' reference."
)
@click.option("--other-paper", is_flag=True, help="With --plan: another paper than the comparison's, kept apart.")
@click.option("--dry-run", is_flag=True, help="With --plan: say what would be laid out; keep nothing.")
@click.option("--print", "page", type=PathInUtf8(), help="Write the run sheet as an HTML file to print.")
@click.option("--paper", type=click.Choice(["A4", "letter"]), default="A4", help="What is printed on.")
@click.option("--key", type=PathInUtf8(), help="Write the key for the person named by --for; recorded.")
@click.option("--for", "person", metavar="NAME", default="", help="With --key: who prepares the sheet.")
@click.option("--strips", type=PathInUtf8(), help="Write strips to fold for a tester alone; recorded.")
@click.option("--open-early", metavar="REASON", default=None, help="Open the codes before the session is closed.")
@click.option("--put-down", is_flag=True, help="Say what is put on the paper, step by step, with amounts and areas.")
@click.option("--rebuild", is_flag=True, help="Make the sheet anew from its seed and say whether it agrees.")
@click.option("--poured", metavar="STICKERS", default="", help="Record that these were poured, to dry.")
@click.option("--day", metavar="DATE", default="", help="With --poured: on which day; without, today.")
def sheet(code: str, where: str | None, is_plan: bool, page: Path | None, **given: Any) -> None:
    """Plan a run sheet with blind codes, show it, or print it.

    Without CODE the sheets at work are listed. With CODE that session's sheet is shown; while it is blind, by codes
    only. Where several sessions have the code, --comparison says which. --plan lays out a new one: codes, a balanced
    order, control and hidden repeats.
    """
    if given["poured"]:
        _pour(where, given["poured"], given["day"])
    elif is_plan:
        _plan(where, code, given)
    elif not code:
        _list(where)
    else:
        _one(where, code, page, given)


def _now() -> datetime:
    return datetime.now(UTC)


def _list(where: str | None) -> None:
    from qcledger.bench import sheets

    with open_ledger(where) as ledger:
        heads = sheets.open_sheets(ledger)
    for head in heads:
        blind = f"blind, {head.session.blinding}" if head.session.is_blind else "open"
        name = one_line(f"{head.session.code} {head.comparison}")
        tell(f"{name}: {head.stage}, {head.done} of {head.of}; {blind}; tester {one_line(head.session.tester)}")
    if not heads:
        tell("No sheet is at work. qcledger sheet --plan lays one out.")


# Planning


def _plan(where: str | None, code: str, given: dict[str, Any]) -> None:
    from qcledger.bench import wishes
    from qcledger.bench.offer import offer
    from qcledger.ledger import new_id
    from qcledger.report.sheet import proposed

    names = [name.replace("-", "_") for name, *_ in PLAN]
    with open_ledger(where, write=True) as ledger:
        offered = offer(ledger)
        values = _as_last_time(offered) | {name: given[name] for name in names if given[name]}
        work = offered.worked(values.get("comparison", ""), values.get("rubric", ""))
        values = of_work(work, values) | noted(given, work)
        values |= {"session": code, "weak_first": "yes" if given["weak_first"] else ""}
        values["paper"] = given["on_paper"] or offered.paper(values.get("comparison", ""))
        values["paper_lot"] = given["paper_lot"] or offered.lots.get(values["paper"], "")
        if not values["paper"]:
            raise bad("--on-paper", "", "the paper of the sheet: type, weight, surface")
        asking = wishes.Asking(load_settings(), _now(), new_id(), wishes.new_seed())
        proposal = wishes.propose(values, ledger, asking)
        _refuse_other_paper(proposal.wish.plan, wanted=given["other_paper"])
        if given["dry_run"]:
            ledger.check(wishes.rows(proposal, ledger))
        else:
            wishes.keep(proposal, ledger)
        _tell(proposed(proposal))
    if given["dry_run"]:
        tell("dry run, nothing kept")


def _as_last_time(offered: "Offer") -> dict[str, str]:
    """Return what a form would show at first: tools and lamp as last time; not what is on the sheet."""
    kept = {"comparison", "rubric", "water", "brush", "lamp"}
    values = {name: text for name, text in offered.proposed().items() if name in kept}
    return {"blinding": str(Blinding.SHUFFLED), **values}


def _refuse_other_paper(plan: "SheetPlan", *, wanted: bool) -> None:
    """Refuse a sheet that would not count, unless that is wanted; several sheets of one plan share a paper."""
    if plan.is_apart and not wanted:
        raise bad("--on-paper", plan.paper, f"{plan.comparison.reference_paper}, or --other-paper: {plan.said}")


def _tell(lines: "list[str]") -> None:
    from qcledger.report.layout import paragraph

    for line in lines:
        tell("\n".join(paragraph(line, rest="    ")))


def _pour(where: str | None, text: str, day: str) -> None:
    from qcledger import figures
    from qcledger.bench.offer import offer
    from qcledger.bench.poured import pour
    from qcledger.ledger import new_id

    order = load_settings().dates
    typed_day = figures.day(day, "--day", order) if day else None
    with open_ledger(where, write=True) as ledger:
        today = ledger.day(_now())
        on = typed_day or today
        offered = offer(ledger)
        found, way = offered.find(text, "--poured"), offered.pouring
        ledger.append(pour(found, on, way, today=today, new_id=new_id, how=offered.bought))
    tell(f"{way.done if way else 'poured'} on {on}: {', '.join(one.sticker for one in found)}")


# One sheet


def _one(where: str | None, code: str, page: Path | None, given: dict[str, Any]) -> None:
    """Do what is asked with a session's sheet; without anything asked, show it."""
    from qcledger.bench.named import session_of

    writes = given["open_early"] is not None or given["key"] or given["strips"]
    with open_ledger(where, write=bool(writes)) as ledger:
        session = session_of(ledger, code, given["comparison"])
        if given["open_early"] is not None:
            _open_early(ledger, session, given["open_early"])
        elif given["put_down"]:
            _put_down(ledger, session)
        elif given["rebuild"]:
            _rebuild(ledger, session)
        elif given["key"]:
            _key(ledger, session, given["key"], given["person"], given["paper"])
        elif given["strips"]:
            _strips(ledger, session, given["strips"], given["paper"])
        else:
            _show(ledger, session, page, given["paper"])


def _show(ledger: "Ledger", session: "Session", page: Path | None, paper: str) -> None:
    from qcledger.bench.facts import of_session
    from qcledger.report.printing import print_sheet
    from qcledger.report.sheet import sheet_text
    from qcledger.report.sheet_print import Paper

    if page is None:
        tell(sheet_text(*of_session(ledger, session)), nl=False)
    else:
        tell(print_sheet(ledger, session, page, Paper(paper)))


def _open_early(ledger: "Ledger", session: "Session", reason: str) -> None:
    from qcledger.bench.blind import open_early

    ledger.append([open_early(session, reason, _now())], reason=f"opened early: {one_line(reason)}")
    tell(f"session {one_line(session.code)} is open from now on; findings print it as not blind")


def _put_down(ledger: "Ledger", session: "Session") -> None:
    from qcledger.bench.facts import of_session
    from qcledger.report.sheet import put_down_text

    tell(put_down_text(of_session(ledger, session)[1]), nl=False)


def _rebuild(ledger: "Ledger", session: "Session") -> None:
    from qcledger.bench.planning import rebuild
    from qcledger.records import RunRow

    if not rebuild(session).agrees(ledger.rows(RunRow, session=session.id)):
        raise bad(f"session {session.code}", "another sheet than its seed makes", "the sheet as it was laid out")
    tell(f"session {one_line(session.code)}: its seed makes the same sheet, place by place")


def _key(ledger: "Ledger", session: "Session", path: Path, person: str, paper: str) -> None:
    from qcledger.bench.blind import key_given
    from qcledger.bench.facts import of_session
    from qcledger.bench.faults import title_of
    from qcledger.report.printing import check_free, write_page
    from qcledger.report.sheet_print import Paper, key_sheet

    noted = key_given(session, person, _now())
    check_free(path)
    facts, stages = of_session(ledger, session)
    names = [title_of(ledger, line.specimen) for line in stages[0].lines]
    ledger.append([noted], reason=f"key sheet printed for {one_line(person)}")
    tell(write_page(path, key_sheet(facts, stages[0], names, Paper(paper))))


def _strips(ledger: "Ledger", session: "Session", path: Path, paper: str) -> None:
    from qcledger.report.printing import print_strips
    from qcledger.report.sheet_print import Paper

    tell(print_strips(ledger, session, path, _now(), Paper(paper)))
