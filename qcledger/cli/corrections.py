"""``qcledger corrections``: what the newest edition changed, for readers or for the maker concerned."""

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.cli.said import tell


@click.command()
@click.argument("maker", required=False)
@ledger_option
def corrections(maker: str | None, where: str | None) -> None:
    """Tell readers, or a MAKER, what the newest edition changed.

    Without MAKER it is a short text for readers: what no longer stands, what was wrong, what is said otherwise, and
    what is judged otherwise. With MAKER it is the letter to that maker about what is said of it. Nothing is sent.
    """
    from qcledger.bench.public.makers import maker_called
    from qcledger.public.corrections import maker_text, newest_changes, readers_text

    with open_ledger(where) as ledger:
        edition = newest_changes(ledger)
        if maker is None:
            tell(readers_text(edition), nl=False)
            return
        known = maker_called(ledger, maker, "MAKER")
        tell(maker_text(edition, known.name, known.members, ledger.daybook.tester), nl=False)
