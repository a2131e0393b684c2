"""``qcledger label``: put right what a label declares, for the pieces in hand or for a new print."""

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.cli.said import say
from qcledger.errors import bad
from qcledger.settings import load_settings


@click.command()
@click.argument("sticker")
@ledger_option
@click.option("--pigments", required=True, metavar="NAMES", help="As printed, parted by commas: PG18, PW6.")
@click.option("--reason", default="", metavar="TEXT", help="Why; kept in the entries.")
@click.option("--only", multiple=True, metavar="STICKER", help="Only this piece, of those that carry it; repeat it.")
@click.option("--since", metavar="DAY", help="A new print, on what came from this day on.")
@click.option("--dry-run", is_flag=True, help="Say what would change; change nothing.")
def label(
    sticker: str,
    where: str | None,
    pigments: str,
    reason: str,
    only: tuple[str, ...],
    since: str | None,
    dry_run: bool,
) -> None:
    """Put right the pigments on the label that a piece carries.

    Without --only or --since it is a correction for every piece that carries this label.
    """
    from qcledger.bench import correcting, typed
    from qcledger.bench.unpacking import find_sticker
    from qcledger.ledger import new_id

    if only and since:
        raise bad("label", "--only and --since", "one of the two, or neither")
    with open_ledger(where, write=not dry_run) as ledger:
        found = correcting.label_of(ledger, find_sticker(ledger, sticker))
        chosen = [find_sticker(ledger, one) for one in only] or None
        day = typed.day(since, "--since", load_settings().dates) if since else None
        said = {"index_names": tuple(typed.parts(pigments))}
        wanted = correcting.weigh(ledger, found, said, new_id, only=chosen, since=day)
        if not dry_run:
            correcting.keep(ledger, wanted, reason)
    say(wanted.words + ("; dry run, nothing changed" if dry_run else ""))
