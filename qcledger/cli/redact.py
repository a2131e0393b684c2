"""``qcledger redact``: take a name, a note or a photo out of what you wrote."""

from typing import TYPE_CHECKING

import click

from qcledger.cli.options import agreed, ledger_option, open_ledger
from qcledger.cli.said import say, tell
from qcledger.errors import bad

if TYPE_CHECKING:
    from qcledger.bench.takingout import TakingOut
    from qcledger.ledger import Ledger


@click.command()
@ledger_option
@click.option("--text", metavar="TEXT", help="Every entry of yours that holds this text, as a name.")
@click.option("--sticker", metavar="STICKER", help="The notes of a piece and its parcel.")
@click.option("--criterion", metavar="KEY", help="With --sticker: the notes of its results on this criterion.")
@click.option("--photo", metavar="SHA256", help="A photo, by the first 8 or more digits of its hash.")
@click.option("--reason", default="", metavar="TEXT", help="Why; kept for good.")
@click.option("--yes", is_flag=True, help="Do it; without this you are asked, or only shown what would go.")
def redact(
    where: str | None,
    text: str | None,
    sticker: str | None,
    criterion: str | None,
    photo: str | None,
    reason: str,
    yes: bool,
) -> None:
    """Take a name, a note or a photo out of your own entries.

    What will go and what will stay is shown first. Rows stand on without it, numbers and hashes stay, and `verify`
    is content. It cannot be undone.
    """
    if sum(one is not None for one in (text, sticker, photo)) != 1 or (criterion and not sticker):
        raise bad("redact", "", "one of --text, --sticker (with --criterion, if you like) and --photo")
    from qcledger.bench.takingout import take_out

    with open_ledger(where) as ledger:
        wanted = _wanted(ledger, text, sticker, criterion, photo)
    for line in wanted.lines():
        say(line)
    if not agreed("Take it out for good?", yes=yes):
        return
    with open_ledger(where, write=True) as ledger:
        take_out(ledger, _wanted(ledger, text, sticker, criterion, photo), reason)
    tell("Taken out; the reason is kept.")


def _wanted(
    ledger: "Ledger", text: str | None, sticker: str | None, criterion: str | None, photo: str | None
) -> "TakingOut":
    from qcledger.bench import takingout

    if text is not None:
        return takingout.of_text(ledger, text)
    if photo is not None:
        return takingout.of_photo(ledger, photo)
    found = sticker or ""
    return takingout.of_result(ledger, found, criterion) if criterion else takingout.of_piece(ledger, found)
