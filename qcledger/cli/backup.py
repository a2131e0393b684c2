"""``qcledger backup``: a copy that was verified before it is called one."""

from pathlib import Path

import click

from qcledger.cli.options import PathInUtf8, ledger_option, open_ledger
from qcledger.cli.said import tell


@click.command()
@click.argument("folder", type=PathInUtf8())
@ledger_option
def backup(folder: Path, where: str | None) -> None:
    """Copy the ledger and its photos into a folder; verify the copy.

    Copying the file by hand while somebody writes gives a broken copy; this does not.
    """
    with open_ledger(where) as ledger:
        copied = ledger.backup(folder.absolute())
    tell(f"Backup made and verified: {copied}")
