"""``qcledger label``: put right what a label declares, for the pieces in hand or for a new print."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.cli.said import say, tried
from qcledger.errors import BadInput, bad
from qcledger.settings import load_settings

if TYPE_CHECKING:
    from qcledger.bench.correcting import Corrected
    from qcledger.ledger import Ledger
    from qcledger.records import LabelVersion

OPTIONS: Final[Mapping[str, str]] = {
    "index_names": "--pigments",
    "constitution_numbers": "--numbers",
    "chemical_names": "--chemistry",
    "cas_numbers": "--cas",
    "source": "--read-on",
}
"""Options that are not called as the field that they fill in."""


@click.command()
@click.argument("what")
@ledger_option
@click.option("--pigments", "index_names", metavar="NAMES", help="As printed, parted by commas: PG18, PW6.")
@click.option("--numbers", "constitution_numbers", metavar="NUMBERS", help="Constitution numbers: 77289, 77891.")
@click.option("--chemistry", "chemical_names", metavar="NAMES", help="As printed, parted by commas.")
@click.option("--cas", "cas_numbers", metavar="NUMBERS", help="As printed, parted by commas.")
@click.option("--claims", metavar="TEXT", help="As printed, parted by commas: single pigment, lightfast I.")
@click.option("--warnings", metavar="TEXT", help="Hazard words and pictograms, as printed.")
@click.option("--printed", metavar="TEXT", help="Whatever else is on it.")
@click.option("--facts", metavar="TEXT", help="What a rubric asks for, by semicolons: KEY: as printed.")
@click.option("--read-on", "source", metavar="TEXT", help="Where it was read: the piece, its wrapper, a chart.")
@click.option("--format", "format_", metavar="FORMAT", help="The format it was printed on; empty: any.")
@click.option("--reason", default="", metavar="TEXT", help="Why; kept in the entries.")
@click.option(
    "--only", multiple=True, metavar="STICKER", help="Only this specimen, of those that carry it; repeat it."
)
@click.option("--since", metavar="DAY", help="A new print, on what came from this day on.")
@click.option("--undo", is_flag=True, help="Take back what put this label right last.")
@click.option("--dry-run", is_flag=True, help="Say what would change; change nothing.")
def label(
    what: str, where: str | None, reason: str, only: tuple[str, ...], since: str | None, undo: bool, dry_run: bool,
    **given: str | None,
) -> None:  # fmt: skip
    """Put right what a label says.

    WHAT is the sticker of a specimen that carries it, or a product with its maker before it, whose latest label is
    meant. Without --only or --since it is a correction for every specimen that carries this label. An empty text
    takes away what stands.
    """
    from qcledger.bench import correcting

    values = {name.rstrip("_"): text for name, text in given.items() if text is not None}
    if only and since:
        raise bad("label", "--only and --since", "one of the two, or neither")
    if undo and (values or only or since):
        raise bad("label", "--undo and another option", "--undo alone, or with --dry-run")
    if not (undo or values):
        raise bad("label", "nothing to put right", "--pigments or another option that says what is on it; --undo")
    with open_ledger(where, write=not dry_run) as ledger:
        found = _label_of(ledger, what)
        wanted = correcting.last(ledger, found) if undo else _weighed(ledger, found, values, only, since)
        lines = _told(ledger, wanted.turned if undo else wanted)
        if not dry_run:
            _write(ledger, wanted, reason, undo=undo)
        elif not undo:
            ledger.check(wanted.records)
    for line in lines[:-1]:
        say(line)
    say(lines[-1] + (f"; {tried('undo' if undo else reason, 'changed')}" if dry_run else ""))


def _label_of(ledger: "Ledger", what: str) -> "LabelVersion":
    """Return the label that a sticker or a paint with its maker means."""
    from qcledger.bench import correcting, naming
    from qcledger.bench.unpacking import find_sticker
    from qcledger.ledger.identity import who_is_who
    from qcledger.records import Paint

    try:
        specimen = find_sticker(ledger, what)
    except BadInput as no_sticker:
        try:
            paint = naming.find(who_is_who(ledger), Paint.TABLE, what, "WHAT").id
        except BadInput as no_paint:
            raise bad("WHAT", what, f"the sticker of a specimen, or {no_paint.problems[0].allowed}") from no_sticker
        return correcting.label_of_paint(ledger, paint)
    return correcting.label_of(ledger, specimen)


def _weighed(
    ledger: "Ledger", found: "LabelVersion", values: Mapping[str, str], only: Iterable[str], since: str | None
) -> "Corrected":
    from qcledger import figures
    from qcledger.bench import correcting
    from qcledger.bench.unpacking import find_sticker
    from qcledger.ledger import new_id
    from qcledger.ledger.words import formats

    with ledger.reading() as connection:
        known = formats(connection)
    try:
        said = correcting.read(found, values, known)
    except BadInput as refused:
        problems = (replace(one, where=OPTIONS.get(one.where, f"--{one.where}")) for one in refused.problems)
        raise BadInput(problems) from refused
    chosen = [find_sticker(ledger, one) for one in only] or None
    day = figures.day(since, "--since", load_settings().dates) if since else None
    return correcting.weigh(ledger, found, said, new_id, only=chosen, since=day)


def _told(ledger: "Ledger", wanted: "Corrected") -> list[str]:
    """Return then and now, the peers of the pieces' findings, and the pieces."""
    from qcledger.report.relabelled import peers_words

    return [*wanted.changes, *peers_words(ledger, wanted), wanted.words]


def _write(ledger: "Ledger", wanted: "Corrected", reason: str, *, undo: bool) -> None:
    from qcledger.bench import correcting

    if not undo:
        correcting.keep(ledger, wanted, reason)
    elif not correcting.take_back(ledger, wanted):
        raise bad("--undo", "a label that was changed since", "one that stands as it was put right")
