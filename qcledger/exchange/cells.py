"""Values in the cells of somebody else's spreadsheet: numbers, days, prices and words as people write them."""

import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from qcledger.errors import bad
from qcledger.exchange.spreadsheet import Cell
from qcledger.vocab import CURRENCY_DIGITS, Censored

ORDERS: Mapping[str, str] = {
    "year month day": r"(?P<y>\d{4})[-./ ] ?(?P<m>\d\d?)[-./ ] ?(?P<d>\d\d?)",
    "day month year": r"(?P<d>\d\d?)[-./ ] ?(?P<m>\d\d?)[-./ ] ?(?P<y>\d{4})",
    "month day year": r"(?P<m>\d\d?)[-./ ] ?(?P<d>\d\d?)[-./ ] ?(?P<y>\d{4})",
}
"""Ways to write a day in figures, and their patterns."""

MARKS: Mapping[str, str] = {".": r"\.", ",": ","}

_DECIMALS = re.compile(r"[<>]?\s*[^\d\s.,+-]{0,3}\s*[-+]?\d{1,9}([.,])(?:\d{1,2}|\d{4,9})\s*[^\d\s.,+-]{0,3}")
"""A number or price with decimals; three digits behind a mark may as well be thousands, and say nothing."""

_SIGNS: Mapping[str, str] = {"€": "EUR", "£": "GBP"}
"""Signs of one currency only; $ and others stand for several, so the map has to say which."""

_PRICE = re.compile(r"(?P<before>[^\d\s.,+-]{0,3})\s*(?P<amount>[-+]?[\d.,' ]*\d)\s*(?P<after>[^\d\s.,+-]{0,3})")
_BEYOND: Mapping[str, Censored] = {">": Censored.ABOVE, "<": Censored.BELOW, "": Censored.EXACT}


def mark_in(cell: Cell) -> str | None:
    """Return the mark before the decimals that a cell plainly shows, or None."""
    found = _DECIMALS.fullmatch(cell) if isinstance(cell, str) else None
    return found[1] if found else None


def number(cell: Cell, mark: str, where: str) -> Decimal:
    """Return the number in a cell; texts must have `mark` before their decimals and nothing between thousands."""
    if isinstance(cell, Decimal):
        return cell
    text = str(cell)
    if not re.fullmatch(rf"[-+]?\d{{1,15}}({MARKS[mark]}\d{{1,15}})?", text, re.ASCII):
        raise bad(where, text, f"digits, with '{mark}' before the decimals (decimal_mark of map or settings)")
    return Decimal(text.replace(mark, "."))


def amount(cell: Cell, mark: str, where: str) -> Decimal:
    """Return a number above 0."""
    found = number(cell, mark, where)
    if found <= 0:
        raise bad(where, str(cell), "a number above 0")
    return found


def day(cell: Cell, order: str, where: str) -> date:
    """Return the day in a cell, written in `order` (a key of `ORDERS`) or as 2026-03-09."""
    if isinstance(cell, date):
        return cell
    text = str(cell)
    found = re.fullmatch(ORDERS[order], text, re.ASCII) or re.fullmatch(ORDERS["year month day"], text, re.ASCII)
    allowed = f"a day of the calendar as {order} in figures, the year with four"
    if not found:
        raise bad(where, text, allowed)
    try:
        return date(int(found["y"]), int(found["m"]), int(found["d"]))
    except ValueError:
        raise bad(where, text, allowed) from None


def currency(text: str, where: str) -> str:
    """Return the code of a currency given by its code or by a sign that no other currency has."""
    code = _SIGNS.get(text, text.upper())
    if code not in CURRENCY_DIGITS:
        raise bad(where, text, "currencies " + ", ".join(CURRENCY_DIGITS))
    return code


def price(cell: Cell, mark: str, fallback: str | None, where: str) -> tuple[int, str]:
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
    code = fallback if not sign or (sign == "$" and fallback) else currency(sign, where)
    if code is None:
        raise bad(where, str(cell), "a price with its currency, or a currency in the map")
    value = number(found["amount"].strip() if found else cell, mark, where)
    coins = value.scaleb(CURRENCY_DIGITS[code])
    if value < 0 or coins != coins.to_integral_value():
        raise bad(where, str(cell), f"a price of 0 or more with at most {CURRENCY_DIGITS[code]} decimals in {code}")
    return int(coins), code


def reading(cell: Cell, mark: str, where: str) -> tuple[float, Censored]:
    """Return a measured value; ``> 60`` and ``< 1`` are values known only to lie beyond a limit."""
    text = str(cell).strip()
    sign = text[:1] if text[:1] in (">", "<") else ""
    rest: Cell = cell if isinstance(cell, Decimal) else text.removeprefix(sign).strip()
    return float(number(rest, mark, where)), _BEYOND[sign]
