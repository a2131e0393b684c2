"""``qcledger picture``: one statement as a picture for a video or a post."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from qcledger.cli.options import PathInUtf8, ledger_option, open_ledger
from qcledger.cli.progress import shown
from qcledger.cli.said import say, tell

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.public.pictured.subjects import Pictured

FOLDER: Final = Path("pictures")
"""Where pictures go when nothing else is said."""
EITHER: Final = "both"


@click.command()
@click.argument("names", metavar="[NAME]...", nargs=-1)
@ledger_option
@click.option("--comparison", metavar="TITLE", help="Of this comparison; without it, of everything tested so far.")
@click.option("--every", is_flag=True, help="Draw everything that may be pictured.")
@click.option("--shape", type=click.Choice(["wide", "square", EITHER]), default=EITHER, help="16 to 9, or square.")
@click.option("--tint", type=click.Choice(["light", "dark", EITHER]), default="light", help="Which background.")
@click.option("--as", "kind", type=click.Choice(["svg", "png", EITHER]), default=EITHER, help="Which kind of file.")
@click.option("--to", "folder", metavar="FOLDER", type=PathInUtf8(), default=FOLDER, help=f"Default: {FOLDER}.")
@click.option("--force", is_flag=True, help="Replace files that stand there.")
def picture(
    names: tuple[str, ...], where: str | None, comparison: str | None, every: bool, folder: Path, **how: str | bool
) -> None:
    """Draw statements as pictures for a video or a post.

    Each is of one thing that is settled, or common, or of which none was found.

    Without NAME it lists what there is, each with its name: an anchor of the page, or the beginning of one that no
    other has. The specimens are drawn in their lots, faulty ones hatched, so that they can be counted. What it leaves
    open and the edition stand within the drawing. What the newest edition does not say is marked DRAFT.

    Beside each picture lies a file of words for those who do not see it.
    """
    with open_ledger(where) as ledger:
        some = _every(ledger, comparison)
    if not names and not every:
        _list(some)
        return
    wanted = some if every else [_named(name, some) for name in names]
    _draw(list(dict.fromkeys(wanted)), folder, how)


def _every(ledger: "Ledger", comparison: str | None) -> "list[Pictured]":
    """Return everything that a picture may be about."""
    from qcledger.cli.scorecard import worked_out
    from qcledger.public.gather import gather, rules_of
    from qcledger.public.pictured.bearing import pictured
    from qcledger.public.view import Edition

    found, one = worked_out(ledger, comparison)
    made = gather(ledger, found, Edition(0, ledger.day(), ledger.daybook.letters), one, each=shown)
    return list(pictured(ledger, found, rules_of(ledger), made.view))


def _list(some: "Sequence[Pictured]") -> None:
    for one in some:
        tell(one.id)
        tell(f"  {one.head}. {one.count}")
    if not some:
        tell("Nothing is settled, and nowhere can it be said that none was found.")


def _named(name: str, some: "Sequence[Pictured]") -> "Pictured":
    """Return what a name means; raises BadInput where it means nothing, or several."""
    from qcledger.errors import bad
    from qcledger.public.anchors import slug

    exact = [one for one in some if one.id == name]
    begun = exact or [one for one in some if one.id.startswith(name) or one.id[2:].startswith(slug(name))]
    if len(begun) == 1:
        return begun[0]
    which = ", ".join(one.id for one in begun[:3]) if begun else "one that qcledger picture lists"
    raise bad("NAME", name, which)


def _draw(some: "Sequence[Pictured]", folder: Path, how: dict[str, str | bool]) -> None:
    """Draw pictures, then write them all."""
    from qcledger.public.pictured.files import KINDS, TINTS, files_of, refuse_taken_files, write_files
    from qcledger.public.pictured.marks import Shape

    shapes = [one for one in Shape if how["shape"] in (one, EITHER)]
    tints = [one for one in TINTS if how["tint"] in (one, EITHER)]
    kinds = [one for one in KINDS if how["kind"] in (one, EITHER)]
    refuse_taken_files(folder, (f"{one.id}.txt" for one in some), force=bool(how["force"]))
    files = [file for one in shown("Pictures", some) for file in files_of(one, shapes, tints, kinds)]
    written = write_files(folder, files, force=bool(how["force"]))
    for path in written:
        tell(str(path))
    for missing in sorted({one.lacking for one in files if one.lacking}):
        say(f"Mind: no font here has {' '.join(missing[:8])}; such a picture was written as SVG alone.")
