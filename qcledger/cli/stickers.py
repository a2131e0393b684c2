"""``qcledger stickers``: stickers of specimens to print, each with a code that a phone or scanner types back."""

from pathlib import Path

import click

from qcledger.cli.options import PathInUtf8, ledger_option, open_ledger

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
    from qcledger import stickers as written
    from qcledger.cli.sheet import write_page
    from qcledger.errors import bad
    from qcledger.records import Specimen
    from qcledger.report.sheet_print import Paper
    from qcledger.report.sticker_print import sticker_sheets

    if named is not None and coming is not None:
        raise bad("stickers", "STICKERS and --next", "one of them")
    with open_ledger(where) as ledger:
        known = sorted(one.sticker for one in ledger.rows(Specimen))
        letters = ledger.daybook.letters
    if coming is not None:
        last = written.highest(known, letters)
        wanted = [written.sticker(letters, last + turn) for turn in range(1, coming + 1)]
    elif named is not None:
        wanted = [one for text in written.named_in(named, "STICKERS", MOST) for one in _known(text, known, letters)]
    else:
        wanted = known
    if not wanted:
        raise bad("stickers", "no specimen", "specimens in the ledger, or --next COUNT")
    write_page(page, sticker_sheets(wanted, Paper(paper)))


def _known(text: str, known: list[str], letters: str) -> list[str]:
    from qcledger import stickers as written
    from qcledger.errors import bad

    found = written.meant(text, known, letters)
    if len(found) != 1:
        example = f", such as {known[0]}" if known else ""
        raise bad("STICKERS", text, f"one of {', '.join(found)}" if found else f"stickers in this ledger{example}")
    return found
