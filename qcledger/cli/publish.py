"""``qcledger publish``: an edition of the public page, recorded with what it said."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from qcledger.cli.options import PathInUtf8, agreed, ledger_option, open_ledger
from qcledger.cli.said import say, tell

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.public.publishing import BesideEdition, PlannedEdition


@click.command()
@click.argument("page", metavar="FILE", type=PathInUtf8())
@ledger_option
@click.option("--comparison", metavar="TITLE", help="Of this comparison; without it, of everything tested so far.")
@click.option("--address", metavar="TEXT", help="Where the newest edition is found; printed.")
@click.option("--disclosed", metavar="TEXT", help="Who paid, gifts and ties, or that there are none; printed.")
@click.option("--limits", metavar="TEXT", help="What was not tested and cannot be said; printed.")
@click.option("--rule-changed", "rule", metavar="TEXT", help="What changed in how things are judged; printed.")
@click.option("--captions-read", is_flag=True, help="You have read the captions that go out as typed.")
@click.option("--all-the-same", "reason", metavar="REASON", help="Publish although something is missing; printed.")
@click.option("--yes", is_flag=True, help="Do not ask before it is recorded.")
def publish(
    page: Path,
    where: str | None,
    comparison: str | None,
    captions_read: bool,
    reason: str | None,
    yes: bool,
    **typed: str | None,
) -> None:
    """Write an edition of the public page to FILE, and record what it says.

    First it is checked what is missing: makers that were not asked or have time to answer, sessions in question, what
    may concern health, captions to read, what is to be disclosed, what was not tested, and the address. With anything
    missing nothing is published, unless you give a reason: the page prints it, and what was missing.

    Editions are numbered. What changed since the one before is dated on the page. Nothing is sent anywhere: you put
    the file, and the folder of photos beside it, where your readers find it.
    """
    from qcledger.public import place
    from qcledger.public.publishing import BesideEdition

    place.refuse_taken(page, force=False)
    printed = BesideEdition.read(reason=reason, captions_read=captions_read, **typed)
    with open_ledger(where, write=True) as ledger:
        _publish(ledger, page, comparison, printed, yes=yes)


def _publish(ledger: "Ledger", page: Path, comparison: str | None, printed: "BesideEdition", *, yes: bool) -> None:
    """Check, ask, write and record an edition."""
    from qcledger.bench.public.asking import CAUTION
    from qcledger.cli.progress import shown
    from qcledger.cli.scorecard import worked_out
    from qcledger.errors import BadInput
    from qcledger.public import publishing

    found, one = worked_out(ledger, comparison)
    planned = publishing.plan(ledger, found, one, printed, each=shown)
    _say_captions(planned)
    if planned.gaps and not printed.reason:
        raise BadInput([gap.problem for gap in planned.gaps])
    for gap in planned.gaps:
        say(f"Missing all the same: {gap.problem}")
    say(f"Edition {planned.number} says {len(planned.now)} settled things.")
    tell(f"! {CAUTION}", err=True)
    if agreed(f"Record edition {planned.number}?", yes=yes):
        publishing.record(ledger, publishing.written(page, planned, shown))
        say(f"Edition {planned.number} is recorded: {page}")


def _say_captions(planned: "PlannedEdition") -> None:
    """Print the captions that go out, while they are to be read."""
    from qcledger.public.missing import GapKind, captions

    if any(gap.kind is GapKind.CAPTIONS for gap in planned.gaps):
        say("These captions go out as they were typed; --captions-read says that you have read them:")
        for one in captions(planned.made.view):
            say(f"  {one}")
