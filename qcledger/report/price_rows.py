"""Prices as named values, the same for CSV and JSON; their names stay.

Money is in coins, the smallest of the currency (ISO 4217): ``minor_digits`` of them stand behind the decimal mark.
What is for one unit is rounded to the coin, half a coin up; what it was worked out from stands beside it.
"""

from collections.abc import Iterable, Iterator
from fractions import Fraction

from qcledger.findings.exchanged import Conversion, half_up
from qcledger.findings.price_groups import Comparable, PriceSummary, PriceTable, PriceTrend
from qcledger.findings.prices import PricedPiece
from qcledger.report.rows import Row
from qcledger.vocab import CURRENCY_DIGITS


def piece_row(one: PricedPiece) -> Row:
    """Return one piece: what it is, how it was bought, and each step from the receipt to the price compared."""
    piece, used = one.piece, one.rate.rate if one.rate else None
    return {
        "specimen": piece.specimen,
        "sticker": piece.sticker,
        "maker": piece.maker_name,
        "paint": piece.paint_name,
        "pigments": " ".join(piece.pigments) or None,
        "format": str(piece.format),
        "nominal_ml": _number(piece.nominal_ml),
        "dry_g": _number(piece.dry_g),
        "sold": str(one.sold),
        "pack": piece.pack,
        "seller": piece.seller,
        "country": piece.country,
        "bought_on": piece.bought_on,
        "parcel": piece.parcel,
        "paid_currency": piece.currency,
        "listed_minor": one.listed_minor,
        "discount_minor": one.discount_minor,
        "paid_minor": one.paid_minor,
        "with_tax_minor": one.with_tax_minor,
        "without_tax_minor": one.without_tax_minor,
        "tax_pct": piece.tax_pct,
        "tax": str(one.tax),
        "currency": one.currency,
        "minor_digits": CURRENCY_DIGITS.get(one.currency, 2),
        "price_minor": one.minor,
        "per_ml_minor": _coins(one.per_ml),
        "per_dry_g_minor": _coins(one.per_dry_g),
        "rate": f"1 {used.base} = {used.rate:f} {used.quote}" if used else None,
        "rate_on": used.on if used else None,
        "rate_source": used.source if used else None,
        "why_no_price": one.why_not and str(one.why_not),
    }


def comparable_row(of: Comparable) -> Row:
    """Return what prices have in common that may be compared."""
    return {
        "format": of.format,
        "nominal_ml": _number(of.nominal_ml),
        "sold": str(of.sold),
        "currency": of.currency,
        "minor_digits": CURRENCY_DIGITS.get(of.currency, 2),
        "tax": str(of.tax),
    }


def table_row(table: PriceTable) -> Row:
    """Return what a table compares, and its cheapest and dearest."""
    whole = table.whole
    times = whole.dearest_over_cheapest
    return {
        **comparable_row(table.of),
        "cheapest_minor": whole.low,
        "dearest_minor": whole.high,
        "dearest_over_cheapest": None if times is None else round(float(times), 4),
    }


def group_row(name: str, found: PriceSummary) -> Row:
    """Return one group within a table."""
    ml, dry = found.per_ml or (None, None), found.per_dry_g or (None, None)
    return {
        "name": name,
        "specimens": found.specimens,
        "priced": found.priced,
        "low_minor": found.low,
        "middle_minor": found.middle,
        "high_minor": found.high,
        "low_per_ml_minor": _coins(ml[0]),
        "high_per_ml_minor": _coins(ml[1]),
        "weighed": found.weighed,
        "low_per_dry_g_minor": _coins(dry[0]),
        "high_per_dry_g_minor": _coins(dry[1]),
    }


def trend_row(one: PriceTrend) -> Iterator[Row]:
    """Yield a row for each day on which a paint was bought of one seller."""
    first = one.days[0][1]
    for day, minor in one.days:
        yield {
            "maker": one.maker,
            "paint": one.paint,
            "format": one.of.format,
            "nominal_ml": _number(one.of.nominal_ml),
            "seller": one.seller,
            "currency": one.of.currency,
            "minor_digits": CURRENCY_DIGITS.get(one.of.currency, 2),
            "tax": str(one.of.tax),
            "bought_on": day,
            "price_minor": minor,
            "change_since_first": round((minor - first) / first, 4) if first else None,
        }


def rate_rows(used: Iterable[Conversion]) -> Iterator[Row]:
    """Yield the exchange rates that were used, as they were kept."""
    for one in used:
        if one.rate is not None:
            yield {
                "on": one.rate.on,
                "base": one.rate.base,
                "quote": one.rate.quote,
                "rate": f"{one.rate.rate:f}",
                "source": one.rate.source,
            }


def _coins(exact: Fraction | None) -> int | None:
    return None if exact is None else half_up(exact)


def _number(amount: object) -> float | None:
    return None if amount is None else float(str(amount))
