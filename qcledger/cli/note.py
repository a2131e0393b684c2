"""``qcledger note``: what a reader says of a paint; never counted."""

import click

from qcledger.cli.options import ledger_option, open_ledger


@click.command()
@click.argument("maker", required=False)
@click.argument("fault", required=False)
@ledger_option
@click.option("--product", "--paint", "paint", metavar="NAME", help="What it is called, if that is known.")
@click.option("--format", "format_", metavar="FORMAT", help="What it came in.")
@click.option("--lot", metavar="CODE", help="The lot, if it was told.")
@click.option("--seller", metavar="NAME", help="The shop, never the reader.")
@click.option("--told", "told_on", metavar="DAY", help="The day it was told, as in 2026-06-08. Default: today.")
@click.option("--text", "note", metavar="TEXT", help="What was seen; no names or addresses.")
@click.option("--although", is_flag=True, help="Keep it although something looks like an address or a number.")
@click.option("--amend", "id_", metavar="ID", help="Amend this note, with a --reason.")
@click.option("--undo", metavar="ID", help="Take back this one, as the list has it, with a --reason.")
@click.option("--reason", metavar="TEXT", help="Why it is amended or taken back.")
def note(
    maker: str | None,
    fault: str | None,
    where: str | None,
    format_: str | None,
    although: bool,
    id_: str | None,
    undo: str | None,
    reason: str | None,
    **values: str | None,
) -> None:
    """Write down what a reader says of a product; never counted.

    MAKER is whose it is, FAULT a criterion, or words.

    It is shown beside findings as self-selected and never counted; a specimen may be bought because of it. No names
    or addresses of readers. Without MAKER, the notes are listed.
    """
    from qcledger.bench.public import notes
    from qcledger.bench.public.deciding import read_reason
    from qcledger.bench.public.versions import changes
    from qcledger.bench.public.withdrawing import withdrawn
    from qcledger.cli.public import given, list_said, today_of
    from qcledger.cli.public import undo as take_back
    from qcledger.cli.said import say
    from qcledger.errors import bad
    from qcledger.records import ReaderNote

    if undo is not None:
        take_back(where, ReaderNote.TABLE, undo, reason)
        return
    if maker is None:
        with open_ledger(where) as ledger:
            list_said(ledger, [ReaderNote.TABLE])
        return
    with open_ledger(where, write=True) as ledger:
        today, settings = today_of(ledger)
        before = ledger.get(ReaderNote, id_) if id_ else None
        if id_ and (before is None or id_ in withdrawn(ledger, ReaderNote)):
            raise bad("--amend", id_, "the id of a note that stands, as qcledger note lists them")
        typed = given(maker=maker, fault=fault, format=format_, **values)
        if (warned := notes.warned(typed)) and not although:
            raise bad("note", warned, f"{notes.NO_NAMES}; --although keeps it as it is")
        row = notes.read_note(ledger, typed, today, settings, new_id=ledger.new_id, before=before)
        changes(before, row)
        ledger.append([row], reason=read_reason(reason or "") if before else "")
        say(f"reader's note kept: {row.fault}; shown beside findings, never counted")
