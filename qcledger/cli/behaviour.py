"""``qcledger behaviour``: paints beside other makers' paints of the same pigments; for the tester alone."""

from typing import TYPE_CHECKING

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.cli.progress import shown
from qcledger.cli.said import tell

if TYPE_CHECKING:
    from qcledger.report.behaviour import BehaviourOfPaints


@click.command()
@ledger_option
@click.option("--maker", metavar="NAME", help="Everything of this maker in full.")
@click.option("--full", is_flag=True, help="Everything in full, not only what behaves unlike its peers.")
@click.option(
    "--nearest", is_flag=True, help="Say which other pigments on file are nearest; a hint, mind its caution."
)
@click.option("--as", "face", type=click.Choice(["text", "csv", "json"]), default="text", help="How to print.")
def behaviour(where: str | None, maker: str | None, full: bool, nearest: bool, face: str) -> None:
    """Say what behaves unlike its peers of other makers; for you alone.

    Grades of traits, as granulation or staining, are held against those of four or more other makers that declare
    the same Colour Index names, and against other pigments on file. A reason to look further, which says nothing of
    what is in it. It stands in no public page, and in no letter.
    """
    from qcledger.report.behaviour import of_ledger

    with open_ledger(where) as ledger:
        told = of_ledger(ledger, shown)
        if maker is not None:
            from qcledger.cli.findings import AskedNames, match

            told = told.only(maker=match("--maker", maker, AskedNames.of(ledger).makers))
    tell(_face(told, face, full=full or maker is not None, nearest=nearest), nl=False, data=face != "text")


def _face(told: "BehaviourOfPaints", face: str, *, full: bool, nearest: bool) -> str:
    from qcledger.report import behaviour as faces

    if face == "csv":
        return faces.behaviour_csv(told, nearest=nearest)
    if face == "json":
        return faces.behaviour_json(told, nearest=nearest)
    return faces.behaviour_text(told, full=full, nearest=nearest)
