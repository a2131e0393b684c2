"""``qcledger ask``: a question to a maker about findings, in the sentences as they stand."""

import click

from qcledger.cli.options import ledger_option, open_ledger


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
@click.option("--undo", metavar="ID", help="Take back this one, as the list has it, with a --reason.")
@click.option("--reason", metavar="TEXT", help="Why it is taken back.")
@click.option("--dry-run", is_flag=True, help="Show what would be asked; keep nothing.")
def ask(
    maker: str | None,
    where: str | None,
    criterion: str | None,
    format_: str | None,
    comparison: str | None,
    undo: str | None,
    reason: str | None,
    dry_run: bool,
    **values: str | None,
) -> None:
    """Keep what a maker was asked, in the exact sentences.

    Only what is to confirm or settled can be asked about. Without MAKER, the questions so far are listed. Nothing is
    sent anywhere.
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
    with open_ledger(where, write=not dry_run) as ledger:
        offered = offer(found_of(ledger, maker, criterion, format_, comparison, wait=True))
        today, settings = today_of(ledger)
        by, new_id = ledger.daybook.tester, ledger.new_id
        row = read_question(given(**values), offered, today, settings, by=by, new_id=new_id)
        say_lines(f"{n} {one.title}: {one.sentence}" for n, one in enumerate(offered.findings, 1))
        tell(f"! {CAUTION}", err=True)
        if dry_run:
            tell("dry run, nothing changed")
            return
        ledger.append([row])
        say(f"{offered.name} asked on {row.asked_on} about {len(row.findings)}, answer by {row.answer_by}")
