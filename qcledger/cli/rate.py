"""``qcledger rate``: exchange rates with their day and source."""

import click

from qcledger.cli.options import ledger_option, open_ledger


@click.command()
@click.argument("base", required=False)
@click.argument("quote", required=False)
@click.argument("rate", required=False)
@ledger_option
@click.option("--source", metavar="NAME", help="Who says so.")
@click.option("--on", metavar="DAY", help="The day it held, as in 2026-06-01. Default: today.")
@click.option("--amend", "id_", metavar="ID", help="Amend this rate, with a --reason.")
@click.option("--undo", metavar="ID", help="Take back this one, as the list has it, with a --reason.")
@click.option("--reason", metavar="TEXT", help="Why it is amended or taken back.")
def rate(
    base: str | None, quote: str | None, rate: str | None, where: str | None, id_: str | None, undo: str | None,
    reason: str | None, **values: str | None,
) -> None:  # fmt: skip
    """Keep an exchange rate with its day and source.

    One BASE bought RATE of QUOTE, as in EUR GBP 0.85. Without arguments, the rates are listed.
    """
    from qcledger.bench.public.deciding import read_reason
    from qcledger.bench.public.rates import rate_words, read_rate
    from qcledger.bench.public.versions import changes
    from qcledger.bench.public.withdrawing import withdrawn
    from qcledger.cli.public import given, list_said, today_of
    from qcledger.cli.public import undo as take_back
    from qcledger.cli.said import say
    from qcledger.errors import bad
    from qcledger.records import ExchangeRate

    if undo is not None:
        take_back(where, ExchangeRate.TABLE, undo, reason)
        return
    if base is None:
        with open_ledger(where) as ledger:
            list_said(ledger, [ExchangeRate.TABLE])
        return
    with open_ledger(where, write=True) as ledger:
        today, settings = today_of(ledger)
        before = ledger.get(ExchangeRate, id_) if id_ else None
        if id_ and (before is None or id_ in withdrawn(ledger, ExchangeRate)):
            raise bad("--amend", id_, "the id of a rate that stands, as qcledger rate lists them")
        typed = given(base=base, quote=quote, rate=rate, **values)
        row = read_rate(typed, today, settings, new_id=ledger.new_id, before=before)
        changes(before, row)
        ledger.append([row], reason=read_reason(reason or "") if before else "")
        say(f"{row.on}: {rate_words(row, settings.decimal_mark)}")
