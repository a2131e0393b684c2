"""``qcledger letter``: the letter to one maker, before anything is printed."""

from datetime import timedelta
from pathlib import Path

import click

from qcledger.cli.options import PathInUtf8, ledger_option, open_ledger
from qcledger.cli.said import say, tell


@click.command()
@click.argument("maker")
@ledger_option
@click.option("--by", "answer_by", metavar="DAY", help="The day to answer by. Default: answer_days of the settings.")
@click.option("--comparison", metavar="TITLE", help="Of this comparison; without it, of everything tested so far.")
@click.option("--html", "page", metavar="FILE", type=PathInUtf8(), help="Write it as a page with photos instead.")
@click.option("--force", is_flag=True, help="Replace a file that stands there.")
def letter(
    maker: str, where: str | None, answer_by: str | None, comparison: str | None, page: Path | None, force: bool
) -> None:
    """Write the letter to a MAKER, with the exact words that would be printed.

    It goes to stdout as plain text, or with --html into a file. It tells what the words rest on, how they were tried,
    what is not known, and how to answer. Other makers are counted in it and not named.

    Nothing is sent, and nothing is recorded: `qcledger ask` keeps that you asked.
    """
    from qcledger.bench.public.asking import CAUTION
    from qcledger.cli.findings import AskedNames, match, of_ledger
    from qcledger.cli.public import today_of
    from qcledger.errors import bad
    from qcledger.figures import day
    from qcledger.public import place
    from qcledger.public.letter import letter_to
    from qcledger.public.to_letter import letter_html, letter_text

    if page is not None:
        place.refuse_taken(page, force=force, alone=True)
    with open_ledger(where) as ledger:
        names = AskedNames.of(ledger)
        id_ = match("MAKER", maker, names.makers)
        assert id_ is not None
        today, settings = today_of(ledger)
        by = day(answer_by, "--by", settings.dates) if answer_by else today + timedelta(days=settings.answer_days)
        if by <= today:
            raise bad("--by", str(by), f"a day after {today}")
        made = letter_to(ledger, of_ledger(ledger, comparison), id_, names.called[id_], by)
    if page is None:
        tell(letter_text(made.view), nl=False)
    else:
        place.write(page, letter_html(made.view, made.copies), force=force)
        say(f"The letter to {made.view.maker}: {page}")
    if made.kept:
        tell(f"Not in it: {made.kept} kept private.", err=True)
    tell(f"! {CAUTION}", err=True)
