"""``qcledger rename``: what something is called now."""

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.cli.said import say
from qcledger.errors import bad
from qcledger.thing import worded


@click.command()
@click.argument("kind")
@click.argument("one")
@click.argument("name", required=False)
@ledger_option
@click.option("--undo", is_flag=True, help="Take back your own last new name.")
@click.option("--reason", default="", metavar="TEXT", help="Why; kept with the new name.")
def rename(kind: str, one: str, name: str | None, where: str | None, undo: bool, reason: str) -> None:
    """Say what a maker, range, product or seller is called now.

    KIND is maker, range, product or seller; ONE is called NAME from then on, wherever it is shown, with everything
    that hangs on it. Each older name still finds it. A product or range is named with its maker before it.
    """
    from qcledger.bench import naming
    from qcledger.cli.same_as import check_kind, take_back
    from qcledger.ledger import new_id
    from qcledger.ledger.identity import who_is_who

    if (name is None) != undo:
        raise bad("NAME", name or "", "what it is called now, or --undo without a name")
    with open_ledger(where, write=True) as ledger:
        known = who_is_who(ledger)
        found = naming.find(known, check_kind(kind), one, "ONE")
        decides = naming.Naming(ledger, ledger.day(), new_id)
        if name is None:
            take_back(decides, decides.own(naming.renamings(ledger, found.one))[0], reason)
            return
        touched = naming.weigh(ledger, [found.one]).words
        kept = decides.rename(found.one, name, reason)
        named = f"{worded(found.one.table)} {naming.title(known, found.one)}"
        say(f"{named} is called {kept.name} now. This touches {touched}.")
