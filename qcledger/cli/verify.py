"""``qcledger verify``: whether everything is as it was written."""

import re
from pathlib import Path

import click

from qcledger.cli.options import PathInUtf8, ledger_option, open_ledger
from qcledger.cli.said import say_closing, say_doubts, tell
from qcledger.errors import BadInput, bad

FORM = "DAYBOOK:NUMBER:HASH"
"""How a published closing hash is given."""
_CLOSING = re.compile(r"(.{1,64}):([1-9][0-9]{0,11}):([0-9a-fA-F]{64})")


@click.command()
@ledger_option
@click.option(
    "--closing",
    "published",
    metavar=FORM,
    multiple=True,
    help="A closing hash that was published: it must still be in the daybook. May be given more than once.",
)
@click.option(
    "--against",
    "edition",
    metavar="FILE",
    type=PathInUtf8(),
    help="An edition, as its page or its JSON: what it says otherwise than was recorded is named.",
)
def verify(where: str | None, published: tuple[str, ...], edition: Path | None) -> None:
    """Check every hash, every row and every photo of the ledger.

    Prints whose each daybook is, and its closing hash. What is not as it was written is named, and the exit code
    is 1. With --closing, so is a daybook that no longer tells what it told when its closing hash was published.
    With --against, so is each sentence of an edition that was recorded otherwise, and the closing hashes it printed;
    where its page is kept on this machine, also the first text in which FILE differs from that.
    """
    from qcledger.public.against import differences, read_edition
    from qcledger.public.keeping import spoiled

    against = dict(map(_published, published))
    if len(against) < len(published):
        raise bad("--closing", "a daybook twice", "each daybook once")
    read = read_edition(edition) if edition is not None else None
    with open_ledger(where) as ledger:
        problems = ledger.verify({**(read.closing if read else {}), **against})
        problems += [*spoiled(ledger), *(differences(ledger, read) if read else ())]
        say_closing(ledger, ledger.closing_hashes())
        doubts = [] if problems else ledger.doubts()
    if problems:
        raise NotAsWritten(problems)
    tell("Every entry, row and photo is as it was written.")
    for daybook, (number, _) in against.items():
        tell(f"Entry {number} of daybook {daybook} is as published.")
    if read is not None:
        tell(f"{read.name} says what edition {read.number} was recorded to say, word for word.")
    say_doubts(doubts)


def _published(told: str) -> tuple[str, tuple[int, str]]:
    """Return a daybook, and the number and hash of its last entry when they were published."""
    parts = _CLOSING.fullmatch(told.strip())
    if parts is not None:
        return parts[1], (int(parts[2]), parts[3].lower())
    raise bad("--closing", told, f"{FORM}, as export and verify print them, the hash with all its 64 digits")


class NotAsWritten(BadInput):
    """The ledger was read, and something in it is not as it was written."""

    exit_code = 1
