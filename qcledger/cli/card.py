"""``qcledger card``: supporters' cards of painted swatches, planned, printed, and what was found since."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from qcledger.cli.options import PathInUtf8, agreed, ledger_option, open_ledger
from qcledger.cli.progress import shown
from qcledger.cli.said import say, tell

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.records import Card


@click.command()
@click.argument("code", required=False)
@ledger_option
@click.option("--plan", "count", metavar="N", type=int, help="Plan so many cards and record what lies on each.")
@click.option("--places", metavar="N", type=int, default=12, help="With --plan: swatches on a card, 1 to 12.")
@click.option("--specimens", metavar="STICKERS", default="", help="With --plan: as in OV 0147-0152; else all tested.")
@click.option("--dry-run", is_flag=True, help="With --plan: say what would be planned; keep nothing.")
@click.option("--yes", is_flag=True, help="With --plan: do not ask before it is recorded.")
@click.option("--print", "page", metavar="FILE", type=PathInUtf8(), help="Write cards as an HTML file to print.")
@click.option("--paper", type=click.Choice(["A4", "letter"]), default="A4", help="What is printed on.")
@click.option("--force", is_flag=True, help="Replace a file that stands there.")
def card(
    code: str | None, where: str | None, count: int | None, page: Path | None, paper: str, force: bool,
    places: int, specimens: str, dry_run: bool, yes: bool,
) -> None:  # fmt: skip
    """Plan, print or look up supporters' cards of swatches.

    --plan deals what was tested over N cards and records which specimens lie on which. A card has a number and no
    name. Without CODE the cards are listed. With CODE it is said what was found since, as the page says it.

    --print writes the planned cards, that of CODE, or else all of them, four on a sheet, in millimetres.
    """
    from qcledger.public.place import refuse_taken

    if page is not None:
        refuse_taken(page, force=force, alone=True)
    with open_ledger(where, write=count is not None) as ledger:
        some = _planned(ledger, (count, places), specimens, dry_run=dry_run, yes=yes) if count is not None else None
        if count is None:
            some = _asked_for(ledger, code)
            _tell_cards(ledger, some, looked_up=code is not None)
        if page is not None and some:
            _print(ledger, some, page, paper, force=force)


def _asked_for(ledger: "Ledger", code: str | None) -> "list[Card]":
    from qcledger.public.cards import named
    from qcledger.records import Card

    return [named(ledger, code)] if code else sorted(ledger.rows(Card), key=lambda one: one.code)


def _planned(
    ledger: "Ledger", size: tuple[int, int], specimens: str, *, dry_run: bool, yes: bool
) -> "Sequence[Card]":
    """Deal specimens over cards and record them; nothing is recorded in a dry run, or where that is not wanted."""
    from qcledger.cli.scorecard import worked_out
    from qcledger.public import cards
    from qcledger.public.gather import rules_of
    from qcledger.stickers import named_in

    found, _ = worked_out(ledger, None)
    own = ledger.daybook.letters
    stickers = [one if " " in one else f"{own} {one}" for one in named_in(specimens, "--specimens", 500)]
    swatches = cards.swatches_of(found, rules_of(ledger), stickers)
    dealt = cards.dealt(swatches, *size)
    rows = cards.rows_of(dealt, ledger, ledger.day(), ledger.new_id)
    for row, some in zip(rows, dealt, strict=True):
        say(f"{row.code}: {len(some)} swatches, of {len({one.lot for one in some})} lots")
    say(f"{len(swatches)} specimens of {len({one.lot for one in swatches})} lots.")
    ledger.check(rows)
    if dry_run:
        tell("dry run, nothing kept")
        return ()
    if not agreed(f"Record {len(rows)} cards?", yes=yes):
        return ()
    ledger.append(rows)
    return rows


def _tell_cards(ledger: "Ledger", some: "Sequence[Card]", *, looked_up: bool) -> None:
    """List cards or, of one that was looked up, what was found since."""
    if not looked_up:
        for one in some:
            tell(f"{one.code}: {len(one.specimens)} swatches, planned {one.planned_on.isoformat()}")
        if not some:
            tell("No card is planned yet; qcledger card --plan N plans some.")
        return
    from qcledger.cli.scorecard import worked_out
    from qcledger.public.cards import since
    from qcledger.public.gather import gather
    from qcledger.public.view import Edition

    found, comparison = worked_out(ledger, None)
    made = gather(ledger, found, Edition(0, ledger.day(), ledger.daybook.letters), comparison, each=shown)
    for one in some:
        tell(one.code)
        for line in since(one, made.view):
            say(f"- {line}")


def _print(ledger: "Ledger", some: "Sequence[Card]", page: Path, paper: str, *, force: bool) -> None:
    """Write cards as a page to print."""
    from qcledger.cli.scorecard import worked_out
    from qcledger.public import cards, editions, place
    from qcledger.public.gather import rules_of
    from qcledger.public.to_cards import cards_html
    from qcledger.rubric import pigments
    from qcledger.settings import shipped

    found, _ = worked_out(ledger, None)
    swatches = {one.specimen: one for one in cards.swatches_of(found, rules_of(ledger))}
    last = editions.newest(ledger)
    printed = cards.printed(some, swatches, pigments.load(shipped("rubrics") / "pigments.yaml"))
    place.write(page, cards_html(printed, paper, (last.address or "") if last else ""), force=force)
    say(f"{len(some)} cards, to be printed at 100 %: {page}")
