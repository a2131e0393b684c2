"""``qcledger price``: what was paid, side by side where it can be compared, as text, CSV or JSON."""

from typing import TYPE_CHECKING

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.cli.said import tell

if TYPE_CHECKING:
    from qcledger.findings import Findings
    from qcledger.ledger import Ledger
    from qcledger.report.prices import Prices

_BY = ("maker", "paint", "pigment", "seller", "country", "pack", "month", "piece")


@click.command()
@ledger_option
@click.option("--by", type=click.Choice(_BY), default="maker", help="What stands side by side. Default: makers.")
@click.option("--maker", metavar="NAME", help="Only this maker.")
@click.option("--format", "format_", metavar="FORMAT", help="Only this format.")
@click.option("--pigment", metavar="NAME", help="Only what declares this Colour Index name, as in PG18.")
@click.option("--in", "into", metavar="CODE", help="Convert into this currency, by the rates of the ledger alone.")
@click.option("--trend", is_flag=True, help="How prices went over purchases instead.")
@click.option("--found", metavar="KEY", help="Draw prices beside what was found on this criterion; for you only.")
@click.option("--as", "face", type=click.Choice(["text", "csv", "json"]), default="text", help="How to print.")
def price(
    where: str | None, by: str, maker: str | None, format_: str | None, pigment: str | None, into: str | None,
    trend: bool, found: str | None, face: str,
) -> None:  # fmt: skip
    """Compare what was paid, only like with like.

    Prices stand beside each other within one format, size, currency and tax, names A to Z; sets by themselves.
    Discounts are taken off, shipping stands apart, gifts are left out, and what is missing stays missing.
    """
    from qcledger import figures
    from qcledger.cli.findings import AskedNames, match
    from qcledger.errors import bad
    from qcledger.report.prices import prices_of
    from qcledger.rubric.colour_index import compared_as
    from qcledger.settings import load_settings

    if trend and found is not None:
        raise bad("options", "--found with --trend", "one of the two")
    code = figures.currency(into, "--in") if into is not None else None
    with open_ledger(where) as ledger:
        names = AskedNames.of(ledger)
        maker_id, only = match("--maker", maker, names.makers), match("--format", format_, names.formats)
        key = match("--found", found, names.criteria)
        prices = prices_of(ledger, code)
        looked = _findings(ledger, key) if key is not None else None
    known = {one: one for each in prices.pieces for one in each.piece.pigments}
    (asked,) = compared_as([pigment]) if pigment is not None else (None,)
    name = match("--pigment", asked, known)
    prices = prices.only(
        lambda one: (
            maker_id in (None, one.maker) and only in (None, one.format) and (name is None or name in one.pigments)
        )
    )
    mark = load_settings().decimal_mark
    told = _face(prices, by, face, mark, trend=trend) if looked is None else _drawn(prices, looked, name, face, mark)
    tell(told, nl=False, data=face != "text")


def _findings(ledger: "Ledger", key: str) -> "Findings":
    """Return what was found on a criterion, counted alone: no pooled model is asked for counts and their limits."""
    from qcledger.cli.findings import of_ledger
    from qcledger.errors import bad

    told = of_ledger(ledger, wanted=()).only(criterion=key)
    if not told.findings:
        raise bad("--found", key, "a fault that was looked for; traits are no faults")
    return told


def _drawn(prices: "Prices", looked: "Findings", pigment: str | None, face: str, mark: str) -> str:
    import json

    from qcledger.findings.price_beside import beside
    from qcledger.report import price_plot
    from qcledger.report.to_csv import table_csv
    from qcledger.text import harmless_in

    criterion, found = looked.findings[0].criterion, beside(prices.pieces, looked.findings, pigment)
    if face == "text":
        return "\n".join(price_plot.plot_lines(found, criterion.title, mark)) + "\n"
    rows = [dict(row) for row in price_plot.plot_rows(found, criterion.key)]
    told = {"form": 1, "criterion": criterion.key, "points": rows}
    return table_csv(rows) if face == "csv" else json.dumps(harmless_in(told), ensure_ascii=False, indent=2) + "\n"


def _face(told: "Prices", by: str, face: str, mark: str, *, trend: bool) -> str:
    from qcledger.report import prices, prices_text

    if face == "json":
        return prices.prices_json(told, by)
    if face == "csv":
        return prices.trends_csv(told) if trend else prices.prices_csv(told, by)
    lines = prices_text.trends_lines(told, mark) if trend else prices_text.prices_lines(told, by, mark)
    return "\n".join(lines) + "\n"
