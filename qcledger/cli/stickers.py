"""``qcledger stickers``: stickers of specimens to print, each with a code that a phone or scanner types back."""

from pathlib import Path

import click

from qcledger.cli.options import PathInUtf8, ledger_option, open_ledger
from qcledger.cli.said import tell

MOST = 2000
"""Stickers at once."""


@click.command()
@click.argument("page", metavar="FILE", type=PathInUtf8())
@click.argument("named", metavar="[STICKERS]", required=False)
@ledger_option
@click.option("--next", "coming", metavar="COUNT", type=click.IntRange(1, MOST), help="So many new ones ahead.")
@click.option("--paper", type=click.Choice(["A4", "letter"]), default="A4", help="What is printed on.")
def stickers(page: Path, named: str | None, where: str | None, coming: int | None, paper: str) -> None:
    """Write stickers as an HTML file to print and cut up.

    STICKERS are such as "OV 0147, OV 0150-0160"; without them, all that are in use. --next COUNT prints those that
    come next instead, to have a sheet at hand when a parcel is opened. Each has its words and a QR code of them: in
    the pages a scanner types it, and the specimen opens.
    """
    from qcledger.report.printing import print_stickers
    from qcledger.report.sheet_print import Paper

    with open_ledger(where) as ledger:
        said = print_stickers(ledger, page, named=named, coming=coming, paper=Paper(paper))
    tell(said)
