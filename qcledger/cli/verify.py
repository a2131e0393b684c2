"""``qcledger verify``: whether everything is as it was written."""

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.cli.said import say_closing, say_doubts, tell
from qcledger.errors import BadInput


@click.command()
@ledger_option
def verify(where: str | None) -> None:
    """Check every hash, every row and every photo of the ledger.

    Prints the closing hash of each daybook. What is not as it was written is named, and the exit code is 1.
    """
    with open_ledger(where) as ledger:
        problems = ledger.verify()
        for daybook, (number, closing) in sorted(ledger.closing_hashes().items()):
            say_closing(daybook, number, closing)
        doubts = [] if problems else ledger.doubts()
    if problems:
        raise NotAsWritten(problems)
    tell("Every entry, row and photo is as it was written.")
    say_doubts(doubts)


class NotAsWritten(BadInput):
    """The ledger was read, and something in it is not as it was written."""

    exit_code = 1
