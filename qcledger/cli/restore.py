"""``qcledger restore``: a ledger again from its backup."""

from pathlib import Path

import click

from qcledger.cli.options import PathInUtf8, ledger_option
from qcledger.cli.said import tell
from qcledger.settings import default_ledger


@click.command()
@click.argument("folder", type=PathInUtf8())
@ledger_option
def restore(folder: Path, where: str | None) -> None:
    """Make a ledger again from a backup.

    Nothing may stand where it goes. What is written from then on begins a new daybook, so that the restored ledger
    and any other copy can still be merged.
    """
    from qcledger.ledger import restore as make_again

    place = where or default_ledger()
    if isinstance(place, Path):
        place.parent.mkdir(parents=True, exist_ok=True)
    make_again(folder, place)
    tell(f"Restored: {place}")
