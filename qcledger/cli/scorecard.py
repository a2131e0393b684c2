"""``qcledger scorecard``: a draft of the public page, which is never recorded."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from qcledger.cli.options import PathInUtf8, ledger_option, open_ledger
from qcledger.cli.progress import shown
from qcledger.cli.said import say, tell, wrapped

if TYPE_CHECKING:
    from qcledger.findings import Findings
    from qcledger.ledger import Ledger
    from qcledger.public.gather import Gathered
    from qcledger.public.view import Edition
    from qcledger.records import Comparison

DRAFT = Path("scorecard-draft.html")
"""Where a draft goes when nothing else is said."""


@click.command()
@ledger_option
@click.option("--comparison", metavar="TITLE", help="Of this comparison; without it, of everything tested so far.")
@click.option(
    "--as", "face", type=click.Choice(["html", "md", "csv", "json"]), default="html", help="As a page, or as data."
)
@click.option("--to", "place", metavar="FILE", type=PathInUtf8(), help=f"Where it goes. Default of a page: {DRAFT}.")
@click.option("--force", is_flag=True, help="Replace a file that stands there.")
@click.option("--shots", is_flag=True, help="List which photos to show or take of which stickers; write no page.")
def scorecard(
    where: str | None, comparison: str | None, face: str, place: Path | None, force: bool, shots: bool
) -> None:
    """Write a draft of the public page.

    The draft says what could be printed now: what is settled, where nothing was found, and how much is open. What is
    still to be confirmed reads as open. It is marked DRAFT, and nothing is recorded.

    The page is one file that opens without a network; larger photos lie in a folder beside it. Markdown, CSV and JSON
    go to stdout, or to --to.
    """
    from qcledger.bench.public.asking import CAUTION
    from qcledger.public.place import refuse_taken
    from qcledger.public.view import Edition

    if shots:
        _list_shots(where, comparison)
        return
    page = place or (DRAFT if face == "html" else None)
    if page is not None:
        refuse_taken(page, force=force, alone=face != "html")
    with open_ledger(where) as ledger:
        made = gathered(ledger, comparison, Edition(0, ledger.day(), ledger.daybook.letters))
        write(made, face, page, force=force)
    if page is not None:
        say(f"A draft, not recorded: {page}")
    tell(f"! {CAUTION}", err=True)


def _list_shots(where: str | None, comparison: str | None) -> None:
    """Print which specimens to show of each statement, and which photos are missing."""
    from qcledger.public.gather import gather, rules_of
    from qcledger.public.shots import lines_of, shot_list
    from qcledger.public.view import Edition

    with open_ledger(where) as ledger:
        found, one = worked_out(ledger, comparison)
        made = gather(ledger, found, Edition(0, ledger.day(), ledger.daybook.letters), one, each=shown)
        shots = shot_list(ledger, found, rules_of(ledger), made.view)
    for line in lines_of(shots):
        tell(wrapped(line))
    missing = sum(each.missing for each in shots)
    tell(f"{missing} to take. For you alone: it names stickers." if shots else "Nothing is settled yet.")


def gathered(ledger: "Ledger", comparison: str | None, edition: "Edition") -> "Gathered":
    """Return what may be said in public as a ledger stands; raises BadInput as `worked_out` does."""
    from qcledger.public.gather import gather

    found, one = worked_out(ledger, comparison)
    return gather(ledger, found, edition, one, each=shown)


def worked_out(ledger: "Ledger", comparison: str | None) -> "tuple[Findings, Comparison | None]":
    """Return the findings that a page is about, worked out, and the comparison where it is about one.

    Raises
    ------
    BadInput
        When there is no such comparison, or nothing was tested yet.
    """
    from qcledger.cli.findings import match, of_ledger
    from qcledger.errors import bad
    from qcledger.records import Comparison

    rows = {row.title: row for row in ledger.rows(Comparison)}
    one = match("--comparison", comparison, rows)
    found = of_ledger(ledger, one.id if one else None)
    if not any(each.counts.tested for each in found.findings):
        raise bad("scorecard", "nothing tested", "a ledger in which something was judged on closed sheets")
    return found, next(iter(rows.values())) if one is None and len(rows) == 1 else one


def write(made: "Gathered", face: str, page: Path | None, *, force: bool) -> None:
    """Write a face of the view to a file, or print it where there is none."""
    from qcledger.public import faces, place

    if page is None:
        tell(faces.FACES[face](made.view), nl=False, data=True)
        return
    if face != "html":
        place.write(page, faces.FACES[face](made.view), force=force)
        return
    photos = place.larger(made.files, shown)
    folder = place.folder_of(page) if photos else ""
    place.write(page, faces.scorecard_html(made.view, made.copies, folder), photos, force=force)
