"""Values in the cells of somebody else's spreadsheet: numbers, days, prices and words as people write them."""

import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from qcledger import figures
from qcledger.errors import bad
from qcledger.exchange.spreadsheet import Cell
from qcledger.vocab import Censored

ORDERS: Mapping[str, str] = {"year month day": "iso", "day month year": "day first", "month day year": "month first"}
"""What a map calls the orders of a day in figures, and what the settings call them."""

_SET_BY = "decimal_mark of map or settings"
_DECIMALS = re.compile(r"[<>]?\s*[^\d\s.,+-]{0,3}\s*[-+]?\d{1,9}([.,])(?:\d{1,2}|\d{4,9})\s*[^\d\s.,+-]{0,3}")
"""A number or price with decimals; three digits behind a mark may as well be thousands, and say nothing."""

_PRICE = re.compile(r"(?P<before>[^\d\s.,+-]{0,3})\s*(?P<amount>[-+]?[\d.,' ]*\d)\s*(?P<after>[^\d\s.,+-]{0,3})")


def mark_in(cell: Cell) -> str | None:
    """Return the mark before the decimals that a cell plainly shows, or None."""
    found = _DECIMALS.fullmatch(cell) if isinstance(cell, str) else None
    return found[1] if found else None


def number_in(cell: Cell, mark: str, where: str) -> Decimal:
    """Return the number in a cell; texts must have `mark` before their decimals and nothing between thousands."""
    return cell if isinstance(cell, Decimal) else figures.number(str(cell), where, mark, "12.5", hint=_SET_BY)


def amount_in(cell: Cell, mark: str, where: str) -> Decimal:
    """Return a number above 0."""
    return figures.above_nothing(number_in(cell, mark, where), where, str(cell))


def day_in(cell: Cell, order: str, where: str) -> date:
    """Return the day in a cell, written in `order` (a key of `ORDERS`) or as 2026-03-09."""
    if isinstance(cell, date):
        return figures.possible(cell, where)
    return figures.day(str(cell), where, ORDERS[order], points=False)  # a map says in which order its sheet has them


def price_in(cell: Cell, mark: str, fallback: str | None, where: str) -> tuple[int, str]:
    """Return a price in its currency's smallest coin, and the currency.

    Parameters
    ----------
    cell
        A number, alone or with a code or sign of its currency before or after it.
    mark
        What stands before the decimals.
    fallback
        The currency of a price that names none.
    where
        File and line, for messages.
    """
    found = _PRICE.fullmatch(str(cell)) if isinstance(cell, str) else None
    if isinstance(cell, str) and (not found or (found["before"] and found["after"])):
        raise bad(where, cell, f"a price such as 9{mark}80 or EUR 9{mark}80")
    sign = (found["before"] or found["after"]) if found else ""
    code = fallback if not sign or (sign == "$" and fallback) else figures.currency(sign, where)
    if code is None:
        raise bad(where, str(cell), "a price with its currency, or a currency in the map")
    value = number_in(found["amount"] if found else cell, mark, where)
    return figures.coins(value, where, str(cell), code, mark), code


def reading_in(cell: Cell, mark: str, where: str) -> tuple[float, Censored]:
    """Return a measured value; ``> 60`` and ``< 1`` are values known only to lie beyond a limit."""
    if isinstance(cell, Decimal):
        return float(cell), Censored.EXACT
    return figures.reading(str(cell), where, mark, hint=_SET_BY)
