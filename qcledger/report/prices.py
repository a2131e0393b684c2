"""Prices of a ledger: read, worked out, and told as CSV and JSON under the same names."""

import json
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Final

from qcledger.findings.exchanged import Conversion, conversions
from qcledger.findings.price_groups import PIECE, PriceTable, tables, trends
from qcledger.findings.prices import GRAM, NoPrice, PricedPiece, priced
from qcledger.records import ExchangeRate, PaidPiece, RubricText
from qcledger.report.price_rows import group_row, piece_row, rate_rows, table_row, trend_row
from qcledger.report.to_csv import table_csv
from qcledger.text import harmless_in
from qcledger.vocab import Censored

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

FORM: Final = 1
"""Raised when a name of the JSON changes or goes; new names may come without it."""


@dataclass(frozen=True, slots=True)
class Prices:
    """What was paid in a ledger.

    Parameters
    ----------
    pieces
        Every piece that is told, by sticker.
    into
        The currency prices were converted into; None where each stays in its own.
    """

    pieces: tuple[PricedPiece, ...]
    into: str | None = None

    def only(self, wanted: Callable[[PaidPiece], bool]) -> "Prices":
        """Return what concerns some of the pieces; sets and discounts stay shared as they were."""
        return replace(self, pieces=tuple(one for one in self.pieces if wanted(one.piece)))

    @property
    def missing(self) -> Mapping[NoPrice, int]:
        """How many pieces have no price, and why."""
        counted = Counter(one.why_not for one in self.pieces if one.why_not is not None)
        return {why: counted[why] for why in NoPrice if counted[why]}

    @property
    def shipping(self) -> Mapping[str, tuple[int, int, int]]:
        """What was paid for shipping, by currency: coins, parcels, and how many of them do not say."""
        parcels = {one.piece.parcel: one.piece for one in self.pieces}.values()
        by_currency: dict[str, list[int | None]] = defaultdict(list)
        for one in parcels:
            by_currency[one.currency].append(one.shipping_minor)
        return {
            code: (sum(one or 0 for one in by_currency[code]), len(by_currency[code]), by_currency[code].count(None))
            for code in sorted(by_currency)
        }

    @property
    def rates(self) -> list[Conversion]:
        """The exchange rates that were used, by their days."""
        used = {one.rate.rate.id: one.rate for one in self.pieces if one.rate and one.rate.rate}
        return sorted(used.values(), key=lambda one: (one.rate.on, one.rate.id) if one.rate else ())


def prices_of(ledger: "Ledger", into: str | None = None) -> Prices:
    """Return what was paid in an open ledger, in each piece's own currency or converted into one (ISO 4217)."""
    pieces, rates = paid_in(ledger, dry_weights(ledger))
    how = None if into is None else conversions(pieces, rates, into)
    return Prices(tuple(priced(pieces, how)), into)


def paid_in(
    ledger: "Ledger", dry_g: Mapping[str, Decimal] | None = None
) -> tuple[list[PaidPiece], list[ExchangeRate]]:
    """Return every piece that was bought with what its parcel says of money, by sticker, and the exchange rates.

    Whoever tells a price reads it here; `dry_g` is that of `ledger.paid.paid_pieces`.
    """
    from qcledger.ledger.paid import exchange_rates, paid_pieces

    with ledger.reading() as connection:
        return paid_pieces(connection, dry_g), exchange_rates(connection)


def dry_weights(ledger: "Ledger") -> dict[str, Decimal]:
    """Return how many grams of dry paint were weighed in specimens, by their ids: the last exact reading of each.

    It is told by a criterion of any rubric whose reading is in `GRAM`.
    """
    kept = [ledger.rubric(row.id) for row in ledger.rows(RubricText)]
    weighs = {
        (one.hash, key)
        for one in kept
        for key, criterion in one.criteria.items()
        if criterion.reading and criterion.reading.unit == GRAM
    }
    found = {}
    for key in sorted({key for _, key in weighs}):
        rows = (row for row in ledger.tested_rows(criterion=key) if (row.rubric, row.criterion) in weighs)
        for row in sorted(rows, key=lambda one: (one.at, one.observation)):
            counts = not (row.void or row.not_testable or row.mixed or row.doubt)
            if counts and row.reading and row.censored is Censored.EXACT:
                found[row.specimen] = Decimal(str(row.reading))
    return found


def prices_csv(prices: Prices, by: str) -> str:
    """Return a line a group, or a line a piece, as CSV; money in coins, see the guide for the columns."""
    if by == PIECE:
        return table_csv(map(piece_row, prices.pieces))
    return table_csv(
        {**table_row(table), **group_row(name, found)}
        for table in tables(prices.pieces, by)
        for name, found in table.groups
    )


def trends_csv(prices: Prices) -> str:
    """Return a line a paint, seller and day as CSV."""
    return table_csv(row for one in trends(prices.pieces) for row in trend_row(one))


def prices_json(prices: Prices, by: str) -> str:
    """Return pieces, tables, trends, shipping and rates as JSON, indented, ended by a line feed."""
    told = {
        "form": FORM,
        "in": prices.into,
        "by": by,
        "pieces": [dict(piece_row(one)) for one in prices.pieces],
        "tables": [_table_json(one) for one in tables(prices.pieces, by)],
        "trends": [dict(row) for one in trends(prices.pieces) for row in trend_row(one)],
        "shipping": [
            {"currency": code, "minor": coins, "parcels": parcels, "parcels_not_said": unsaid}
            for code, (coins, parcels, unsaid) in prices.shipping.items()
        ],
        "rates": [dict(row) for row in rate_rows(prices.rates)],
        "without_price": {str(why): count for why, count in prices.missing.items()},
    }
    return json.dumps(harmless_in(told), ensure_ascii=False, indent=2, default=str) + "\n"


def _table_json(table: PriceTable) -> dict[str, object]:
    return {**table_row(table), "groups": [dict(group_row(name, found)) for name, found in table.groups]}
