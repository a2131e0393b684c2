"""``qcledger shopping``: what to buy next, so that open questions are settled for the money."""

import click

from qcledger.cli.options import ledger_option, open_ledger
from qcledger.cli.said import say, tell


@click.command()
@ledger_option
@click.option("--budget", "sum_", metavar="SUM", help="What may be spent, as in '60 EUR'; without it, only the list.")
@click.option("--comparison", metavar="TITLE", help="Only questions of this comparison.")
@click.option("--as", "face", type=click.Choice(["text", "csv", "json"]), default="text", help="How to print.")
@click.option(
    "--tell",
    "rates",
    nargs=2,
    type=click.FloatRange(0, 100, min_open=True, max_open=True),
    metavar="RATE USUAL",
    help="Say how many lots tell a rate of faults from the usual one, in per cent, as in 50 8; and nothing else.",
)
def shopping(
    where: str | None, sum_: str | None, comparison: str | None, face: str, rates: tuple[float, float] | None
) -> None:
    """Say what to look at and what to buy next.

    For each open finding: what to buy, at the last price on file, how likely that settles it, and the plan that is
    worth most within a budget. What lacks a price or cannot be foreseen is listed apart.
    """
    if rates is not None:
        say(_told_apart(*rates))
        return
    from qcledger.bench.advice import remember
    from qcledger.cli.findings import of_ledger
    from qcledger.report import shopping as planner
    from qcledger.report.shopping_text import shopping_text, shown_errands
    from qcledger.settings import load_settings

    mark = load_settings().decimal_mark
    with open_ledger(where) as ledger:
        sum_asked = planner.budget(sum_, mark) if sum_ else planner.Budget(0, planner.usual_currency(ledger))
        found = planner.shopping_plan(ledger, of_ledger(ledger, comparison).findings, sum_asked)
        paints = planner.paint_names(ledger)
        remember(ledger, shown_errands(found) if face == "text" else (*found.taken, *found.others))
    tables = {"csv": planner.shopping_csv, "json": planner.shopping_json}
    told = tables[face](found, sum_asked.currency, paints) if face in tables else None
    tell(told or shopping_text(found, sum_asked.currency, paints, mark), nl=False, data=face != "text")


def _told_apart(rate: float, usual: float) -> str:
    from qcledger.errors import bad
    from qcledger.stats.detection import lots_beyond

    if rate <= usual:
        raise bad("--tell", f"{rate:g} {usual:g}", "the higher rate first, as in 50 8")
    lots, faulty = lots_beyond(rate / 100, usual / 100)
    return (
        f"{lots} lots, one specimen of each, tell {rate:g} % from a known {usual:g} % in 9 of 10 cases: {faulty} or "
        "more faulty come by chance in at most 1 of 20. Several specimens of one lot say less than as many lots."
    )
