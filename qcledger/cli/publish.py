"""``qcledger publish``: an edition of the public page, recorded with what it said."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from qcledger.cli.options import PathInUtf8, agreed, ledger_option, open_ledger
from qcledger.cli.said import say, tell

if TYPE_CHECKING:
    from datetime import date

    from qcledger.errors import Problem
    from qcledger.ledger import Ledger
    from qcledger.public.editions import SaidNow
    from qcledger.public.gather import Gathered
    from qcledger.public.view import PublicChange


@click.command()
@click.argument("page", metavar="FILE", type=PathInUtf8())
@ledger_option
@click.option("--comparison", metavar="TITLE", help="Of this comparison; without it, of everything tested so far.")
@click.option("--address", metavar="TEXT", help="Where the newest edition is found; printed.")
@click.option("--disclosed", metavar="TEXT", help="Who paid, gifts and ties, or that there are none; printed.")
@click.option("--rule-changed", metavar="TEXT", help="What changed in how things are judged; printed.")
@click.option("--all-the-same", "reason", metavar="REASON", help="Publish although something is missing; printed.")
@click.option("--yes", is_flag=True, help="Do not ask before it is recorded.")
def publish(
    page: Path,
    where: str | None,
    comparison: str | None,
    address: str | None,
    disclosed: str | None,
    rule_changed: str | None,
    reason: str | None,
    yes: bool,
) -> None:
    """Write an edition of the public page to FILE, and record what it says.

    First it is checked what is missing: makers that were not asked or have time to answer, sessions in question, what
    may concern health, what is to be disclosed, and the address. With anything missing nothing is published, unless
    you give a reason that the page prints.

    Editions are numbered. What changed since the one before is dated on the page. Nothing is sent anywhere: you put
    the file, and the folder of photos beside it, where your readers find it.
    """
    from qcledger.bench.public.asking import CAUTION
    from qcledger.cli.scorecard import worked_out
    from qcledger.errors import BadInput, bad
    from qcledger.public import editions, place
    from qcledger.public.from_findings import health_waiting
    from qcledger.public.gather import gather, rules_of
    from qcledger.public.view import Edition
    from qcledger.text import clean

    place.refuse_taken(page, force=False)
    texts = {name: clean(text or "") for name, text in (("address", address), ("disclosed", disclosed))}
    why = clean(reason or "")
    if reason is not None and not why:
        raise bad("--all-the-same", reason, "a reason, which is printed")
    with open_ledger(where, write=True) as ledger:
        found, one = worked_out(ledger, comparison)
        last, today = editions.newest(ledger), ledger.day()
        number = last.number + 1 if last else 1
        edition = Edition(number, today, ledger.daybook.letters, texts["address"])
        made = gather(ledger, found, edition, one)
        rules = rules_of(ledger)
        now = editions.said_now(found, rules)
        view = replace(
            made.view,
            money=replace(made.view.money, disclosed=texts["disclosed"]),
            changes=(*made.view.changes, *_rule(rule_changed, today)),
        )
        gaps = editions.missing(view, health_waiting(found, rules), today)
        if gaps and not why:
            raise BadInput(gaps)
        view = replace(view, edition=replace(edition, reasons=(why,) if gaps else ()))
        _say(gaps, number, len(now))
        tell(f"! {CAUTION}", err=True)
        if not agreed(f"Record edition {number}?", yes=yes):
            return
        _keep(ledger, page, replace(made, view=view), now)
        say(f"Edition {number} is recorded: {page}")


def _keep(ledger: "Ledger", page: Path, made: "Gathered", now: "list[SaidNow]") -> None:
    """Write the page and its photos and record what it says: both, or neither."""
    import hashlib

    from qcledger.public import editions, faces, place
    from qcledger.text import harmless

    photos = place.larger(made.files)
    text = faces.scorecard_html(made.view, made.copies, place.folder_of(page) if photos else "")
    sha256 = hashlib.sha256(harmless(text).encode()).hexdigest()
    rows = editions.rows_of(made.view, now, made.view.changes, sha256, ledger.new_id)
    ledger.check(rows)
    place.write(page, text, photos)
    try:
        ledger.append(rows)
    except BaseException:
        place.take_back(page)
        raise


def _rule(text: str | None, today: "date") -> "tuple[PublicChange, ...]":
    from qcledger.public.view import PublicChange
    from qcledger.text import one_line

    return (PublicChange("How things are judged", f"rule changed: {one_line(text)}", today),) if text else ()


def _say(gaps: "list[Problem]", number: int, statements: int) -> None:
    for one in gaps:
        say(f"Missing all the same: {one}")
    say(f"Edition {number} says {statements} settled things.")
