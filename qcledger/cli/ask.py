"""``qcledger ask``: a question to a maker about findings, in the sentences as they stand."""

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.errors import bad


@click.command()
@click.argument("maker", required=False)
@ledger_option
@click.option("--criterion", metavar="KEY", help="Only about this criterion, by its key or title.")
@click.option("--format", "format_", metavar="FORMAT", help="Only about this format.")
@click.option("--comparison", metavar="TITLE", help="The findings of this comparison; without it, of everything.")
@click.option("--about", "findings", metavar="NUMBERS", help="Only these of those listed, as in 1,3.")
@click.option("--on", "asked_on", metavar="DAY", help="The day it was asked, as in 2026-11-02. Default: today.")
@click.option("--by", "answer_by", metavar="DAY", help="The day to answer by. Default: answer_days of the settings.")
@click.option("--note", metavar="TEXT", help="What is asked beside the sentences.")
@click.option("--question", "id_", metavar="ID", help="Amend this question, where a maker was asked several times.")
@click.option("--to", metavar="MAKER", help="Amend whom it was sent to.")
@click.option("--undo", metavar="ID", help="Take back this one, as the list has it, with a --reason.")
@click.option("--reason", metavar="TEXT", help="Amend a question that is kept already, or take it back, because ...")
@click.option("--dry-run", is_flag=True, help="Show what would be asked; keep nothing.")
def ask(
    maker: str | None,
    where: str | None,
    criterion: str | None,
    format_: str | None,
    comparison: str | None,
    id_: str | None,
    to: str | None,
    undo: str | None,
    reason: str | None,
    dry_run: bool,
    **values: str | None,
) -> None:
    """Keep what a maker was asked, in the exact sentences.

    Only what is to confirm or settled can be asked about. Without MAKER, the questions so far are listed. Nothing is
    sent anywhere.

    With --reason a kept question is amended by --on, --by (empty: no day was named) and --to; its sentences are as
    they were sent.
    """
    from qcledger.bench.public.asking import CAUTION, read_question
    from qcledger.cli.public import found_of, given, list_said, say_lines, today_of
    from qcledger.cli.public import undo as take_back
    from qcledger.cli.said import say, tell
    from qcledger.records import Question
    from qcledger.report.said import offer

    if undo is not None:
        take_back(where, Question.TABLE, undo, reason)
        return
    if maker is None:
        with open_ledger(where) as ledger:
            list_said(ledger, [Question.TABLE])
        return
    if reason is not None or to is not None or id_ is not None:
        if beside := [name for name in ("findings", "note") if values[name] is not None]:
            raise bad("ask", " and ".join(beside), "what can be amended: --on, --by, --to, with --reason")
        days = {name: text for name in ("asked_on", "answer_by") if (text := values[name]) is not None}
        _amend(
            where, maker, id_, {**days, **({"maker": to} if to is not None else {})}, reason or "", dry_run=dry_run
        )
        return
    with open_ledger(where, write=not dry_run) as ledger:
        found = found_of(ledger, maker, criterion, format_, comparison, wait=True)
        offered = offer(found.findings, found.label_facts)
        today, settings = today_of(ledger)
        by, new_id = ledger.daybook.tester, ledger.new_id
        row = read_question(given(**values), offered, today, settings, by=by, new_id=new_id)
        say_lines(f"{n} {one.title}: {one.sentence}" for n, one in enumerate(offered.findings, 1))
        tell(f"! {CAUTION}", err=True)
        if dry_run:
            ledger.check([row])
            tell("dry run, nothing changed")
            return
        ledger.append([row])
        say(f"{offered.name} asked on {row.asked_on} about {len(row.findings)}, answer by {row.answer_by}")


def _amend(where: str | None, maker: str, id_: str | None, given: dict[str, str], why: str, *, dry_run: bool) -> None:
    """Amend a kept question, and print it then and now."""
    from qcledger.bench.public.answers import letters
    from qcledger.bench.public.asking import amend_question, amended_rows
    from qcledger.bench.public.deciding import read_reason
    from qcledger.bench.public.makers import maker_called, name_of
    from qcledger.bench.public.versions import changes
    from qcledger.cli.public import today_of
    from qcledger.cli.said import say, tried
    from qcledger.ledger.identity import who_is_who

    with open_ledger(where, write=not dry_run) as ledger:
        members = maker_called(ledger, maker, "MAKER").members
        found = [one for one in letters(ledger) if one.question and one.maker_id in members and id_ in (None, one.id)]
        if len(found) != 1:
            ids = " or ".join(f"{one.id} (asked {one.asked_on})" for one in found)
            raise bad("--question", id_ or "nothing", ids or "the id of a question of yours to this maker")
        row = found[0].question
        assert row is not None
        today, settings = today_of(ledger)
        days = {"asked_on": row.asked_on.isoformat(), "answer_by": row.answer_by.isoformat() if row.answer_by else ""}
        after = amend_question(ledger, {"maker": found[0].maker, **days, **given}, row, today, settings)
        changes(row, after)
        reason = read_reason(why, "--reason") if not dry_run else ""
        for word, one in (("then", row), ("now", after)):
            name = name_of(ledger, who_is_who(ledger), one.maker)
            say(f"{word}: {name} asked on {one.asked_on}, answer by {one.answer_by or 'no day'}")
        if dry_run:
            ledger.check(amended_rows(ledger, row, after))
            say(tried(why, "changed"))
            return
        ledger.append(amended_rows(ledger, row, after), reason=reason)
        say(f"amended, because: {reason}")
