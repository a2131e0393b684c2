"""``qcledger redact``: take a name, a note or a photo out of what you wrote."""

from typing import TYPE_CHECKING

import click

from qcledger.cli.options import agreed, ledger_option, open_ledger
from qcledger.cli.said import say, tell
from qcledger.errors import bad

if TYPE_CHECKING:
    from qcledger.bench.takingout import TakingOut
    from qcledger.ledger import Ledger
    from qcledger.screens.windows import Window


@click.command()
@ledger_option
@click.option("--text", metavar="TEXT", help="Every entry of yours that holds this text, as a name.")
@click.option("--sticker", metavar="STICKER", help="The notes of a specimen and its parcel.")
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

    What you typed in the pages and did not save goes too. What will go and what will stay is shown first. Rows stand
    on without it, numbers and hashes stay, and `verify` is content. It cannot be undone.
    """
    if sum(one is not None for one in (text, sticker, photo)) != 1 or (criterion and not sticker):
        raise bad("redact", "", "one of --text, --sticker (with --criterion, if you like) and --photo")
    from qcledger.bench.takingout import ONLY_IN_WHAT_STAYS, take_out
    from qcledger.door import identity_of
    from qcledger.screens.windows import Window
    from qcledger.settings import data_folder

    window = Window(data_folder() / "windows")
    try:
        with open_ledger(where) as ledger:
            window.claim(identity_of(ledger))
            wanted = _wanted(ledger, window, text, sticker, criterion, photo)
        found = window.holding(wanted.texts(), wanted.rows)
        for line in (*(one.words for one in found), *wanted.lines()):
            say(line)
        if not wanted.has_entries and all(one.stays for one in found):
            raise bad(*ONLY_IN_WHAT_STAYS)
        if not agreed("Take it out for good?", yes=yes):
            return
        if wanted.has_entries:
            with open_ledger(where, write=True) as ledger:
                take_out(ledger, _wanted(ledger, window, text, sticker, criterion, photo), reason)
        went, stays = window.throw_away(wanted.texts(), wanted.rows)
    finally:
        window.close()
    for one in stays:
        say(one.words)
    if wanted.has_entries:
        tell("Taken out; the reason is kept.")
    elif went:
        still = bool(wanted.staying or stays)
        tell("Thrown away, but it stands still in what stays." if still else "Thrown away; no entry held it.")
    else:
        raise bad(*ONLY_IN_WHAT_STAYS)


def _wanted(
    ledger: "Ledger",
    window: "Window",
    text: str | None,
    sticker: str | None,
    criterion: str | None,
    photo: str | None,
) -> "TakingOut":
    from qcledger.bench import takingout

    if text is not None:
        return takingout.of_text(ledger, text, elsewhere=bool(window.holding([text])))
    if photo is not None:
        return takingout.of_photo(ledger, photo)
    found = sticker or ""
    return takingout.of_result(ledger, found, criterion) if criterion else takingout.of_piece(ledger, found)
