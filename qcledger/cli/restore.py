"""``qcledger restore``: a ledger again from its backup."""

from pathlib import Path

import click

from qcledger.cli.options import PathInUtf8, ledger_option, room_for
from qcledger.cli.said import tell
from qcledger.errors import bad
from qcledger.settings import default_ledger


@click.command()
@click.argument("folder", type=PathInUtf8(), required=False)
@ledger_option
@click.option("--finish", is_flag=True, help="Do again a restore to this place that was cut short.")
@click.option("--clean", is_flag=True, help="Take away what a restore that was cut short left; restore nothing.")
def restore(folder: Path | None, where: str | None, finish: bool, clean: bool) -> None:
    """Make a ledger again from a backup.

    Nothing may stand where it goes. What is written from then on begins a new daybook, so that the restored ledger
    and any other copy can still be merged.
    """
    place = where or default_ledger()
    if clean and (folder or finish):
        raise bad("--clean", "a folder or --finish beside it", "--clean alone, or with --ledger")
    if clean:
        _clean(place)
        return
    if folder is None:
        raise bad("FOLDER", "", "the folder of a backup")
    from qcledger.ledger import restore as make_again

    with room_for(place):
        restored = make_again(folder, place, finish=finish)  # a URL without its password
    tell(f"Restored: {restored}")


def _clean(place: str | Path) -> None:
    from qcledger.ledger import clean as take_away

    done = take_away(place)
    tell("What a restore had left was taken away." if done else "No restore to this place was cut short.")
