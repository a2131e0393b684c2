"""``qcledger keep-private``: a finding that is not to be published, and why."""

import click

from qcledger.cli.options import ledger_option, open_ledger


@click.command("keep-private")
@click.argument("maker", required=False)
@click.argument("criterion", required=False)
@click.argument("format_", metavar="[FORMAT]", required=False)
@ledger_option
@click.option("--reason", metavar="TEXT", help="Why; for you only.")
@click.option("--undo", is_flag=True, help="It is no longer kept private.")
def keep_private(
    maker: str | None, criterion: str | None, format_: str | None, where: str | None, reason: str | None, undo: bool
) -> None:
    """Keep a finding private, with a reason.

    The finding is that about a MAKER on a CRITERION in a FORMAT. It is on no public page then; `findings` shows it
    with its reason to you. Another decision, --undo, takes it back. Without arguments, what was decided is listed.
    """
    from qcledger.bench.public.deciding import privacy
    from qcledger.cli.public import key_named, list_said, today_of
    from qcledger.cli.said import say
    from qcledger.errors import bad
    from qcledger.records import Decision
    from qcledger.vocab import DecisionKind

    if maker is None:
        with open_ledger(where) as ledger:
            list_said(ledger, [Decision.TABLE], [DecisionKind.HOLD_BACK, DecisionKind.PUBLISH])
        return
    if criterion is None or format_ is None:
        raise bad("keep-private", maker, "a maker, a criterion and a format")
    with open_ledger(where, write=True) as ledger:
        key, title = key_named(ledger, maker, criterion, format_)
        on, _ = today_of(ledger)
        row = privacy(ledger, key, reason or "", undo=undo, on=on, new_id=ledger.new_id)
        ledger.append([row])
        say(f"{title}: {'no longer ' * undo}kept private")
