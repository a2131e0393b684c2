"""``qcledger price``: what was paid, side by side where it can be compared, as text, CSV or JSON."""

from typing import TYPE_CHECKING

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.cli.said import tell

if TYPE_CHECKING:
    from qcledger.report.prices import Prices

_BY = ("maker", "paint", "pigment", "seller", "country", "pack", "month", "piece")


@click.command()
@ledger_option
@click.option("--by", type=click.Choice(_BY), default="maker", help="What stands side by side. Default: makers.")
@click.option("--maker", metavar="NAME", help="Only this maker.")
@click.option("--format", "format_", metavar="FORMAT", help="Only this format.")
@click.option("--pigment", metavar="NAME", help="Only paints that declare this Colour Index name, as in PG18.")
@click.option("--in", "into", metavar="CODE", help="Convert into this currency, by the rates of the ledger alone.")
@click.option("--trend", is_flag=True, help="How prices went over purchases instead.")
@click.option("--as", "face", type=click.Choice(["text", "csv", "json"]), default="text", help="How to print.")
def price(
    where: str | None, by: str, maker: str | None, format_: str | None, pigment: str | None, into: str | None,
    trend: bool, face: str,
) -> None:  # fmt: skip
    """Compare what was paid, only like with like.

    Prices stand beside each other within one format, size, currency and tax, names A to Z; sets by themselves.
    Discounts are taken off, shipping stands apart, gifts are left out, and what is missing stays missing.
    """
    from qcledger import figures
    from qcledger.cli.findings import AskedNames, match
    from qcledger.report.prices import prices_of
    from qcledger.rubric.colour_index import compared_as
    from qcledger.settings import load_settings

    code = figures.currency(into, "--in") if into is not None else None
    with open_ledger(where) as ledger:
        names = AskedNames.of(ledger)
        maker_id, only = match("--maker", maker, names.makers), match("--format", format_, names.formats)
        found = prices_of(ledger, code)
        mark = load_settings().decimal_mark
    known = {one: one for each in found.pieces for one in each.piece.pigments}
    (asked,) = compared_as([pigment]) if pigment is not None else (None,)
    name = match("--pigment", asked, known)
    found = found.only(
        lambda one: (
            maker_id in (None, one.maker) and only in (None, one.format) and (name is None or name in one.pigments)
        )
    )
    tell(_face(found, by, face, mark, trend=trend), nl=False, data=face != "text")


def _face(found: "Prices", by: str, face: str, mark: str, *, trend: bool) -> str:
    from qcledger.report import prices, prices_text

    if face == "json":
        return prices.prices_json(found, by)
    if face == "csv":
        return prices.trends_csv(found) if trend else prices.prices_csv(found, by)
    lines = prices_text.trends_lines(found, mark) if trend else prices_text.prices_lines(found, by, mark)
    return "\n".join(lines) + "\n"
