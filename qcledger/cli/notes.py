"""``qcledger notes``: readers' notes from a CSV file, all of them or none; never counted."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from qcledger.cli.options import PathInUtf8, ledger_option, open_ledger

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.records import ReaderNote


@click.command()
@click.argument("file", metavar="FILE.csv", type=PathInUtf8())
@ledger_option
@click.option("--although", is_flag=True, help="Keep them although something looks like an address or a number.")
@click.option("--dry-run", is_flag=True, help="Check the file; keep nothing.")
def notes(file: Path, where: str | None, although: bool, dry_run: bool) -> None:
    """Bring in readers' notes from a CSV file; never counted.

    Its header names columns: maker and fault, and maybe paint, format, lot, seller, told_on and note. It is kept
    whole or not at all, and a note that is kept already is not kept twice. No names or addresses of readers.
    """
    from qcledger.cli.said import say, tell

    with open_ledger(where, write=not dry_run) as ledger:
        found = _read(ledger, file, although=although)
        fresh = _fresh(ledger, found)
        told = (
            f"{len(fresh)} readers' notes, {len(found) - len(fresh)} kept already; shown beside findings, not counted"
        )
        if dry_run:
            ledger.check(fresh)
            tell(f"dry run, nothing changed: {told}")
            return
        ledger.append(fresh)
        say(told)


def _read(ledger: "Ledger", file: Path, *, although: bool) -> "list[ReaderNote]":
    """Return the notes of a file; raises BadInput with every line that cannot be read, or seems to name a reader."""
    from qcledger.bench.public import notes as form
    from qcledger.cli.public import today_of
    from qcledger.errors import BadInput, Problem, at, bad
    from qcledger.exchange.csvfile import named_rows, read_lines

    today, settings = today_of(ledger)
    found: list[ReaderNote] = []
    problems: list[Problem] = []
    for number, cells in named_rows(read_lines(file), file.name, form.FIELDS):
        typed = {name: cells.get(name, "") for name in form.FIELDS}
        line = at(file.name, number)
        if (warned := form.warned(typed)) and not although:
            problems.append(Problem(line, warned, f"{form.NO_NAMES}; --although keeps it as it is"))
            continue
        try:
            found.append(form.read_note(ledger, typed, today, settings, new_id=ledger.new_id))
        except BadInput as refused:
            problems += (replace(one, where=f"{line}, {one.where}") for one in refused.problems)
    if problems:
        raise BadInput(problems)
    if not found:
        raise bad(file.name, "no notes", "a line for each note below its header")
    return found


def _fresh(ledger: "Ledger", found: "list[ReaderNote]") -> "list[ReaderNote]":
    """Return the notes that are not kept already, each once."""
    from qcledger.records import ReaderNote

    known = {replace(one, id="-") for one in ledger.rows(ReaderNote)}
    fresh: dict[ReaderNote, ReaderNote] = {}
    for one in found:
        if (bare := replace(one, id="-")) not in known:
            fresh.setdefault(bare, one)
    return list(fresh.values())
