"""Prices as text of 80 columns: tables of what may be compared, and how prices went over purchases."""

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from typing import Final

from qcledger.figures import money_text
from qcledger.findings.exchanged import Conversion, half_up
from qcledger.findings.price_groups import Comparable, PriceSummary, PriceTable, PriceTrend, tables, trends
from qcledger.findings.prices import PricedPiece, Sold
from qcledger.findings.words import how_many, listed, plural
from qcledger.report.layout import columns, paragraph, width_of
from qcledger.report.prices import Prices
from qcledger.rubric.ladder import WIDTH
from qcledger.thing import worded

NOTE: Final = (
    "Compared is only what is alike in format, nominal ml, currency, tax, and single or set; names go A to Z. Ml are "
    "no measure over formats: some are sold wet, some dry. What it is made of differs in price, too."
)
_HEAD: Final = ("", "priced", "lowest", "highest", "middle", "for a ml")
_WIDTHS: Final = (-10, -9, -9, -9, -15)
_NAME: Final = 24
"""Most columns of a name."""
_ROOM: Final = ((68, 5), (44, 3), (0, 2))
"""From how many columns on how many of the figures behind a name are shown."""


def prices_lines(prices: Prices, by: str, mark: str = ".", width: int = WIDTH) -> list[str]:
    """Return prices side by side as lines of at most `width` columns; `mark` stands before decimals."""
    if not prices.pieces:
        return ["Nothing was bought that this asks for."]
    lines = [*paragraph(in_short(prices), width=width), ""]
    for table in tables(prices.pieces, by):
        lines += [*table_lines(table, mark, width), ""]
    return [*lines, *(line for told in (*about(prices, mark), NOTE) for line in paragraph(told, width=width))]


def in_short(prices: Prices) -> str:
    """Return how much was bought."""
    parcels = {one.piece.parcel for one in prices.pieces}
    bought = f"{len(prices.pieces)} {plural(len(prices.pieces), 'specimen')} in {how_many(len(parcels), 'parcel')}"
    return f"{bought}, gifts left out; prices as paid, discounts taken off, shipping apart."


def table_lines(table: PriceTable, mark: str, width: int) -> list[str]:
    """Return one table: what it compares, a line a group, and all of it."""
    shown = next(_WIDTHS[:many] for least, many in _ROOM if width >= least)
    room = min(max(width - 2 - sum(1 - one for one in shown), 8), _NAME)
    lines = _row(_HEAD, room, shown, width)
    for name, found in table.groups:
        lines += _row(_cells(name, found, table.of.currency, mark), room, shown, width)
    code = table.of.currency
    weighed = (
        f"{name}: {_ends(found.per_dry_g, code, mark)} for a g of dry {worded('paint')}, {found.weighed} weighed"
        for name, found in table.groups
        if found.per_dry_g
    )
    below = [line for told in (*weighed, _whole_words(table, mark)) for line in paragraph(told, "  ", width=width)]
    return [*paragraph(comparable_words(table.of, mark), width=width), *lines, *below]


def _row(cells: Sequence[str], room: int, shown: Sequence[int], width: int) -> list[str]:
    """Return a line of a table; a name that has no room in its column has a line of its own above."""
    name, *numbers = cells
    above = paragraph(name, "  ", "    ", width) if width_of(name) > room else []
    return [*above, *columns([("" if above else name, *numbers[: len(shown)])], (room, *shown))]


def _whole_words(table: PriceTable, mark: str) -> str:
    """Return the cheapest and the dearest of a table."""
    found, code = table.whole, table.of.currency
    known = f"{found.priced} of {found.specimens} with a price"
    if found.low is None or found.high is None:
        return known
    span = f"cheapest {money_text(found.low, code, mark)}, dearest {money_text(found.high, code, mark)}"
    times = found.dearest_over_cheapest
    over = f"; dearest over cheapest {float(times):.2f}".replace(".", mark) if times is not None else ""
    return f"{known}: {span}{over}"


def comparable_words(of: Comparable, mark: str) -> str:
    """Return what a table compares in words: ``half pan, 2 ml, EUR, with tax``."""
    size = "no ml said" if of.nominal_ml is None else f"{of.nominal_ml:f} ml".replace(".", mark)
    sold = [str(of.sold)] if of.sold is Sold.IN_SET else []
    return ", ".join([of.format, size, *sold, of.currency, str(of.tax)])


def _cells(name: str, found: PriceSummary, code: str, mark: str) -> tuple[str, ...]:
    money = [money_text(one, code, mark) if one is not None else "-" for one in (found.low, found.high, found.middle)]
    ml = _ends(found.per_ml, code, mark) if found.per_ml else "-"
    return (name, f"{found.priced} of {found.specimens}", *money, ml)


def _ends(ends: tuple[Fraction, Fraction], code: str, mark: str) -> str:
    low, high = (money_text(half_up(one), code, mark) for one in ends)
    return low if low == high else f"{low} to {high}"


def about(prices: Prices, mark: str) -> Iterator[str]:
    """Yield what is said below prices: shipping, what has none, and the rates they were converted by."""
    paid = [
        f"{money_text(coins, code, mark)} {code} for {how_many(parcels, 'parcel')}"
        + (f" ({unsaid} not said)" if unsaid else "")
        for code, (coins, parcels, unsaid) in prices.shipping.items()
    ]
    yield f"Shipping, in no price above: {listed(paid)}."
    for why, count in prices.missing.items():
        yield f"Without a price that can be compared: {count} {plural(count, 'specimen')}, {why}."
    if any(one.sold is Sold.IN_SET for one in prices.pieces):
        yield "A set's price is shared among its pieces by nominal ml: a share is no price that was asked."
    for rate in prices.rates:
        yield _rate_words(rate, prices.pieces, mark)


def _rate_words(used: Conversion, pieces: Iterable[PricedPiece], mark: str) -> str:
    rate = used.rate
    assert rate is not None
    days = [abs((rate.on - one.piece.bought_on).days) for one in pieces if one.rate and one.rate.rate == rate]
    figure = f"{rate.rate:f}".replace(".", mark)
    return (
        f"Converted by 1 {rate.base} = {figure} {rate.quote} of {rate.on} ({rate.source}): {len(days)} "
        f"{plural(len(days), 'specimen')}, bought {_span(days)} from that day."
    )


def _span(days: Sequence[int]) -> str:
    low, high = min(days), max(days)
    return f"{low} {plural(low, 'day')}" if low == high else f"{low} to {high} days"


def trends_lines(prices: Prices, mark: str = ".", width: int = WIDTH) -> list[str]:
    """Return how prices went over purchases as lines of at most `width` columns."""
    found = trends(prices.pieces)
    if not found:
        return [
            worded("No paint was bought of one seller on two days in one format and size, with a price each time.")
        ]
    lines: list[str] = []
    for of in dict.fromkeys(one.of for one in found):
        lines += [comparable_words(of, mark)]
        lines += [line for one in found if one.of == of for line in _trend_lines(one, mark, width)]
        lines.append("")
    return [*lines, *(line for told in about(prices, mark) for line in paragraph(told, width=width))]


def _trend_lines(one: PriceTrend, mark: str, width: int) -> list[str]:
    went = ", ".join(f"{day} {money_text(minor, one.of.currency, mark)}" for day, minor in one.days)
    change = f" ({float(one.change) * 100:+.1f} %)".replace(".", mark) if one.change else ""
    return paragraph(f"{one.maker} {one.paint} at {one.seller}: {went}{change}", "  ", "    ", width)
