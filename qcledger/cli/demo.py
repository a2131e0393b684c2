"""``qcledger demo``: a private copy of an invented studio's ledger."""

from pathlib import Path
from typing import Final

import click

from qcledger.cli.said import tell
from qcledger.errors import LedgerUnavailable
from qcledger.settings import data_folder, shipped

LEDGER: Final = "ledger.sqlite"
_DRAFT: Final = ".part"
_ABANDONED: Final = 3600
"""Seconds after which a draft that nobody touched is no start's any more."""


@click.command()
@click.option("--fresh", is_flag=True, help="Throw your copy away and begin with a new one.")
@click.pass_context
def demo(ctx: click.Context, fresh: bool) -> None:
    """Look around in a private copy of an invented studio's ledger.

    Makers, paints and people in it are invented. What you change stays in your copy. Where there is no terminal to
    show the pages in, its findings are printed instead.
    """
    from qcledger.screens.start import has_terminal, run_pages

    if has_terminal():
        from qcledger.door import Found

        ctx.exit(run_pages(Found(lambda: demo_copy(fresh=fresh))))
    from qcledger.cli.findings import print_findings

    place = demo_copy(fresh=fresh)
    tell(f"Your copy of the demo: {place}", err=True)
    print_findings(place)


def demo_copy(*, fresh: bool = False) -> Path:
    """Return the ledger of this user's copy of the demo, made when there is none yet.

    Parameters
    ----------
    fresh
        Whether an old copy is thrown away first.

    Raises
    ------
    LedgerUnavailable
        When the copy cannot be written.
    """
    import hashlib  # these two here, because the pages are painted first
    import shutil

    source = shipped("demo_ledger")
    edition = hashlib.sha256((source / "manifest.json").read_bytes()).hexdigest()[:8]
    folder = data_folder() / f"demo-{edition}"
    place = folder / LEDGER
    try:
        if fresh:
            shutil.rmtree(folder, ignore_errors=True)
        if not place.exists():
            _copy(source, folder)
    except OSError as error:
        raise LedgerUnavailable(f"Cannot make your copy of the demo in {folder}: {error.strerror}") from error
    return place


def _copy(source: Path, folder: Path) -> None:
    """Make the copy beside its place and move it there whole, so that a copy cut short is never opened.

    Each start makes one of its own: of two that begin together the later one takes what the other has put there.
    """
    import shutil
    import tempfile

    folder.parent.mkdir(parents=True, exist_ok=True)
    _clear_away(folder)
    draft = Path(tempfile.mkdtemp(prefix=f"{folder.name}.", suffix=_DRAFT, dir=folder.parent))
    try:
        _fill(source, draft)
        try:
            draft.rename(folder)
        except OSError:
            if not (folder / LEDGER).exists():
                raise
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _clear_away(folder: Path) -> None:
    """Throw away the drafts of starts that were cut short; one that may still be written is left alone."""
    import shutil
    import time

    for old in folder.parent.glob(f"{folder.name}.*{_DRAFT}"):
        if time.time() - old.stat().st_mtime > _ABANDONED:
            shutil.rmtree(old, ignore_errors=True)


def _fill(source: Path, draft: Path) -> None:
    from qcledger.clock import machine_zone
    from qcledger.exchange import merge_folder
    from qcledger.ledger import Ledger

    letters, tester = _studio(source)
    with Ledger.create(draft / LEDGER, letters=letters, tester=tester, zone=machine_zone()) as ledger:
        merge_folder(ledger, source)


def _studio(source: Path) -> tuple[str, str]:
    """Return the letters and name of the studio's tester: a visitor works as that one, so that all can be tried."""
    from qcledger.exchange import csvfile, manifest

    closing = manifest.read(source).closing
    longest = max(closing, key=lambda daybook: closing[daybook])
    lines = csvfile.read_lines(source / "daybook.csv")
    rows = dict(row for row in csvfile.named_rows(lines, "daybook.csv", ("id", "letters", "tester")))
    (own,) = (row for row in rows.values() if row["id"] == longest)
    return own["letters"], own["tester"]
