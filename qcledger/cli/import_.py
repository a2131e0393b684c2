"""``qcledger import``: rows of files as new entries of one's own daybook."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from qcledger.cli.options import PathInUtf8, ledger_option, open_ledger
from qcledger.cli.piped import is_piped, plain_file
from qcledger.cli.progress import shown
from qcledger.cli.said import say, tell
from qcledger.errors import BadInput, bad
from qcledger.settings import load_settings
from qcledger.text import one_line, shorten
from qcledger.thing import worded

if TYPE_CHECKING:
    from qcledger.exchange import ImportPlan
    from qcledger.exchange.account import RowTold
    from qcledger.ledger import Ledger

SAMPLE = 200
"""Characters of a sample row that are printed."""
LONGEST_NAME = 200
"""Most characters of what a sheet is called."""


@click.command("import")
@click.argument("source", type=PathInUtf8(takes_stdin=True))
@ledger_option
@click.option("--map", "map_file", type=PathInUtf8(), help="What the columns of a spreadsheet hold.")
@click.option(
    "--called", metavar="NAME", help="What the sheet is called. Default: as in the map, or its file's name."
)
@click.option("--guess", is_flag=True, help="Print a map for a spreadsheet, to be checked and saved.")
@click.option("--dry-run", is_flag=True, help="Say what would be added; change nothing.")
@click.option("--rows", is_flag=True, help="With --dry-run: say what becomes of each row and cell.")
def import_(
    source: Path,
    where: str | None,
    map_file: Path | None,
    called: str | None,
    *,
    guess: bool,
    dry_run: bool,
    rows: bool,
) -> None:
    """Bring in rows from files as new entries of your daybook.

    SOURCE is a folder of tables such as `qcledger export` writes, or a spreadsheet (.csv, .tsv, .xlsx, .ods, .xls) in
    columns of your own, read through a map; `-` reads one from another program, and then --called names it. Without
    a map one is guessed and printed; --guess with --map goes on from the layout in that map. Every row is checked
    first; a bad one is named with its line, and nothing is stored. Rows that are here already are passed over;
    another sheet that numbers its rows alike gets another name with --called.
    """
    name = _name(called)
    if source.is_dir() and (map_file or guess):
        raise bad(str(source), "a folder", "a spreadsheet with --map or --guess, or a folder without them")
    if rows and not (dry_run and map_file):
        raise bad("--rows", "no --dry-run of a spreadsheet", "--map MAP --dry-run --rows")
    with plain_file(source) as place:
        if guess or not (map_file or source.is_dir()):
            _print_guess(place, map_file)
            return
        told: list[RowTold] | None = [] if rows else None
        _bring_in(place, where, map_file, name, dry_run=dry_run, told=told)


def _bring_in(
    source: Path,
    where: str | None,
    map_file: Path | None,
    name: str | None,
    *,
    dry_run: bool,
    told: "list[RowTold] | None",
) -> None:
    from qcledger.exchange import try_out

    with open_ledger(where) as ledger:
        try:
            plan = _plan(ledger, source, map_file, name, told)
        except BadInput:
            _print_rows(told or ())
            raise
        sample = _sample(ledger, plan) if dry_run else []
        if dry_run:
            try_out(ledger, plan)
    if not dry_run and plan.records:
        with open_ledger(where, write=True) as ledger:
            _carry_out(ledger, plan)
    _print_rows(told or ())
    _print_plan(plan, sample, dry_run=dry_run)


def _print_rows(told: "Sequence[RowTold]") -> None:
    from qcledger.exchange.account import told_lines

    for line in told_lines(told):
        say(line)


def _print_guess(source: Path, map_file: Path | None) -> None:
    from qcledger.exchange import propose
    from qcledger.exchange.layout import PLAIN
    from qcledger.exchange.startmap import layout_in

    start = layout_in(map_file) if map_file else PLAIN
    again = "- --called NAME" if is_piped(source) else one_line(source.name)
    tell(propose(source, load_settings(), start), nl=False)
    tell(f"# Save this, check it, then: qcledger import {again} --map FILE --dry-run")


def _name(called: str | None) -> str | None:
    """Return what the sheet is called on one line, or None; refuses a name that is none."""
    name = None if called is None else one_line(called)
    if name is not None and not 0 < len(name) <= LONGEST_NAME:
        raise bad("--called", called, f"a name of 1 to {LONGEST_NAME} characters")
    return name


def _plan(
    ledger: "Ledger", source: Path, map_file: Path | None, called: str | None, told: "list[RowTold] | None"
) -> "ImportPlan":
    from qcledger.bench.advice import AdvisedRows
    from qcledger.exchange import load_map, plan_folder, plan_mapped

    if map_file is None:
        return plan_folder(ledger, source, called=called, progress=shown)
    settings, column_map = load_settings(), load_map(map_file)
    if is_piped(source) and not (called or column_map.called):
        raise bad("-", "rows without the name of a sheet", "--called NAME, or called: NAME in the map")
    beside = map_file.parent
    return plan_mapped(
        ledger,
        source,
        column_map,
        settings=settings,
        beside=beside,
        called=called,
        progress=shown,
        told=told,
        advised=AdvisedRows(ledger),
    )


def _carry_out(ledger: "Ledger", plan: "ImportPlan") -> None:
    from qcledger.exchange import carry_out

    carry_out(ledger, plan, progress=shown)


def _sample(ledger: "Ledger", plan: "ImportPlan") -> list[str]:
    from qcledger.exchange.sample import samples

    return [shorten(line, SAMPLE) for line in samples(ledger, plan, load_settings())]


def _print_plan(plan: "ImportPlan", sample: Sequence[str], *, dry_run: bool) -> None:
    for guess in plan.guesses:
        say(f"Taken for granted: {guess}")
    for table, count in plan.counts().items():
        tell(f"{worded(table):<14}{count:>8} new")
    for line in sample:
        say(line)
    rows = "1 new row" if plan.new_rows == 1 else f"{plan.new_rows} new rows"
    tell(f"{rows}, {plan.rows_here} already here" + ("; dry run, nothing changed" * dry_run))
