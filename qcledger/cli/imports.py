"""``qcledger imports``: what was brought in, and taking one import back as a whole."""

import click

from qcledger.cli.options import agreed, ledger_option, open_ledger
from qcledger.cli.progress import shown
from qcledger.cli.said import say, tell
from qcledger.errors import bad


@click.command()
@click.argument("which", required=False)
@ledger_option
@click.option("--take-back", is_flag=True, help="Take back all that WHICH brought in, as one act.")
@click.option("--undo", is_flag=True, help="Put back what was taken back of WHICH, as one act.")
@click.option("--reason", default="", metavar="TEXT", help="Why; kept in the entries.")
@click.option("--yes", is_flag=True, help="Do it; without this you are asked, or only shown what would go.")
def imports(which: str | None, where: str | None, take_back: bool, undo: bool, reason: str, yes: bool) -> None:
    """List what you brought in, or take one import back.

    WHICH is the name of a sheet or folder, or its number in the list. Nothing is deleted: results are taken back by
    amendments, pieces do not count and are not offered; the corrected sheet can be brought in again.
    """
    from qcledger.bench import imported

    if (take_back or undo) != (which is not None) or (take_back and undo):
        raise bad("imports", which or "", "WHICH with --take-back or --undo, or neither")
    if which is None:
        _list(where)
        return
    if undo:
        with open_ledger(where, write=True) as ledger:
            one = imported.find(ledger, which)
            back = imported.weigh_back(ledger, one)
            count = imported.put_back(ledger, back, reason, progress=shown)
        say(f"{one.row.name} counts again; results that stand again: {count}.")
        for line in back.left():
            say(line)
        return
    _take_back(which, where, reason, yes=yes)


def _list(where: str | None) -> None:
    from qcledger.bench import imported

    with open_ledger(where) as ledger:
        found, twice = imported.listed(ledger), imported.came_twice(ledger)
    numbers = {one.row.id: number for number, one in enumerate(found, 1)}
    for one in found:
        say(f"{numbers[one.row.id]:>3}  {one.words}")
    if not found:
        tell("Nothing was brought in yet.")
    for some in twice:
        say(f"Mind: {imported.twice_in_words(some, numbers)}")


def _take_back(which: str, where: str | None, reason: str, *, yes: bool) -> None:
    from qcledger.bench import imported
    from qcledger.report.without import cells

    with open_ledger(where) as ledger:
        going = imported.weigh(ledger, imported.find(ledger, which))
        counts = cells(ledger, going)
    say(going.one.words)
    for line in (*going.lines(), *(f"counts: {one.line()}" for one in counts)):
        say(line)
    if not agreed("Take it back?", yes=yes):
        return
    with open_ledger(where, write=True) as ledger:
        going = imported.weigh(ledger, imported.find(ledger, going.one.row.id))
        imported.take_back(ledger, going, reason, progress=shown)
    say(f"Taken back. qcledger imports '{going.one.row.name}' --undo puts it back.")
