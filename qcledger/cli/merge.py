"""``qcledger merge``: other testers' daybooks, as they were written."""

from collections.abc import Collection
from pathlib import Path
from typing import TYPE_CHECKING

import click

from qcledger.cli.options import PathInUtf8, ledger_option, open_ledger
from qcledger.cli.progress import shown
from qcledger.cli.said import say, say_doubts, tell

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


@click.command()
@click.argument("folder", type=PathInUtf8())
@ledger_option
def merge(folder: Path, where: str | None) -> None:
    """Take in other testers' daybooks, unchanged.

    FOLDER is an exchange folder that `qcledger export` wrote. What is here already is passed over; a daybook that
    tells another story than the one here is refused, and so is a folder with a file that was changed.
    """
    from qcledger.bench import imported, naming
    from qcledger.exchange import merge_folder
    from qcledger.ledger.nearby import questions

    with open_ledger(where, write=True) as ledger:
        before = set(ledger.closing_hashes())
        new = merge_folder(ledger, folder, progress=shown)
        doubts = ledger.doubts() if new else []
        books = _new_books(ledger, before)
        asked = [naming.question(near) for near in questions(ledger)] if new else []
        twice = imported.came_twice(ledger) if new else []
        numbers = imported.numbers(ledger) if twice else {}
    tell(f"{new} new entries" if new else "0 new entries; this ledger has what the folder holds")
    for line in (*books, *asked):
        say(line)
    say_doubts((*doubts, *(imported.twice_in_words(some, numbers) for some in twice)))


def _new_books(ledger: "Ledger", before: Collection[str]) -> list[str]:
    """Return a line for each daybook that came in, and says whose it is by letters and name alone."""
    from qcledger.ledger.standing import whose
    from qcledger.records import Daybook

    own = ledger.daybook
    found = ledger.by_id(Daybook, set(ledger.closing_hashes()) - {*before, own.id})
    return [
        f"New here: daybook {one.id} of {one.signed}"
        + ("; it bears your letters and name, and counts as yours" if whose(one) == whose(own) else "")
        for one in sorted(found.values(), key=lambda one: one.id)
    ]
