"""``qcledger merge``: other testers' daybooks, as they were written."""

from pathlib import Path

import click

from qcledger.cli.options import PathInUtf8, ledger_option, open_ledger
from qcledger.cli.progress import shown
from qcledger.cli.said import say_doubts, tell


@click.command()
@click.argument("folder", type=PathInUtf8())
@ledger_option
def merge(folder: Path, where: str | None) -> None:
    """Take in other testers' daybooks, unchanged.

    FOLDER is an exchange folder that `qcledger export` wrote. What is here already is passed over; a daybook that
    tells another story than the one here is refused, and so is a folder with a file that was changed.
    """
    from qcledger.exchange import merge_folder

    with open_ledger(where, write=True) as ledger:
        new = merge_folder(ledger, folder, progress=shown)
        doubts = ledger.doubts() if new else []
    tell(f"{new} new entries" if new else "0 new entries; this ledger has what the folder holds")
    say_doubts(doubts)
