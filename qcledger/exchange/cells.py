"""Values in the cells of somebody else's spreadsheet: numbers, days, prices and words as people write them."""

import re
from collections.abc import Mapping
from decimal import Decimal

from qcledger import figures
from qcledger.errors import bad
from qcledger.exchange.grid import Cell, Priced
from qcledger.vocab import Censored

EITHER = "either"
"""Where a point or a comma stands before decimals; what may be thousands is then refused."""
_SET_BY = "decimal_mark of map or settings"
_DECIMALS = re.compile(r"[<>]?\s*[^\d\s.,+-]{0,3}\s*[-+]?\d{1,9}([.,])(?:\d{1,2}|\d{4,9})\s*[^\d\s.,+-]{0,3}")
"""A number or price with decimals; three digits behind a mark may as well be thousands, and say nothing."""

_WRITTEN: Mapping[str, str] = {
    "fr": "CHF", "sfr": "CHF", "us$": "USD", "c$": "CAD", "ca$": "CAD", "can$": "CAD", "a$": "AUD", "au$": "AUD",
    "nz$": "NZD", "euro": "EUR",
}  # fmt: skip
"""Signs that people write for one currency (common practice, no source)."""
_PENCE = ("p", "d")
DOLLARS = frozenset({"USD", "CAD", "AUD", "NZD", "SGD", "HKD", "TWD", "MXN"})
"""What a bare $ may stand for."""
_LENGTH = re.compile(r"(?P<amount>\d+(?:[.,]\d+)?)\s*(?:ml|cc|cm3)\b\.?", re.IGNORECASE)
_BARE = re.compile(r"(?<![\d/])(?P<amount>\d+(?:[.,]\d+)?)(?![\d/])")
_ABOUT = re.compile(r"^(?:c|ca|circa|approx|about)\.?\s+", re.IGNORECASE)
_PRICE = re.compile(r"(?P<before>[^\d\s.,+-]{0,3})\s*(?P<amount>[-+]?[\d.,' ]*\d)\s*(?P<after>[^\d\s.,+-]{0,3})")


def mark_in(cell: Cell) -> str | None:
    """Return the mark before the decimals that a cell plainly shows, or None."""
    found = _DECIMALS.fullmatch(cell) if isinstance(cell, str) else None
    return found[1] if found else None


def number_in(cell: Cell, mark: str, where: str) -> Decimal:
    """Return the number in a cell; texts must have `mark` before their decimals and nothing between thousands."""
    if isinstance(cell, Decimal):
        return cell
    text = str(cell)
    if mark != EITHER:
        return figures.number(text, where, mark, "12.5", hint=_SET_BY)
    found = figures.as_number(text)
    if found is None or re.search(r"[.,]\d{3}$", text.strip()):
        raise bad(where, text, "a number such as 12.5 or 12,5; three digits behind a mark may be thousands")
    return found


def amount_in(cell: Cell, mark: str, where: str) -> Decimal:
    """Return a number above 0."""
    return figures.above_nothing(number_in(cell, mark, where), where, str(cell))


def volume_in(cell: Cell, mark: str, where: str) -> Decimal:
    """Return millilitres: a number above 0, with or without ``ml`` behind it."""
    found = _LENGTH.fullmatch(str(cell).strip()) if isinstance(cell, str) else None
    return _volume(found["amount"]) if found else amount_in(cell, mark, where)


def format_and_volume(text: str) -> tuple[str, Decimal | None]:
    """Return the words of a text such as ``tube 14`` or ``7.5ml tube``, and the millilitres in it."""
    bare = _ABOUT.sub("", text.strip())
    found = _LENGTH.search(bare) or _BARE.search(bare)
    if found is None:
        return bare, None
    words = f"{bare[: found.start()]} {bare[found.end() :]}"
    return " ".join(words.replace(",", " ").split()).rstrip(". "), _volume(found["amount"])


def _volume(text: str) -> Decimal:
    return Decimal(text.replace(",", "."))


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
    if isinstance(cell, Priced):
        return figures.coins(cell, where, str(cell), cell.currency, mark), cell.currency
    shown = str(cell)
    if isinstance(cell, str):
        cell, known = _plainly(cell)
        if known:
            value = number_in(cell, EITHER if known != fallback else mark, where)
            return figures.coins(value, where, shown, known, "."), known
        if shown.strip()[-1:] in _PENCE and shown.strip()[:-1].isdigit() and fallback in (None, "GBP"):
            return int(shown.strip()[:-1]), "GBP"
    found = _PRICE.fullmatch(str(cell)) if isinstance(cell, str) else None
    if isinstance(cell, str) and (not found or (found["before"] and found["after"])):
        raise bad(where, cell, f"a price such as 9{mark}80 or EUR 9{mark}80")
    sign = (found["before"] or found["after"]) if found else ""
    if sign == "$" and fallback not in DOLLARS:
        raise bad(where, shown, "dollars of one country: its currency in the map, such as USD or {SHOP: USD}")
    code = fallback if sign in ("", "$") else figures.currency(sign, where)
    if code is None:
        raise bad(where, str(cell), "a price with its currency, or a currency in the map")
    value = number_in(found["amount"] if found else cell, mark, where)
    return figures.coins(value, where, str(cell), code, mark), code


def _plainly(cell: str) -> tuple[str, str | None]:
    """Return a price without a sign that is written for one currency, and that currency; ``5.-`` is 5."""
    text = re.sub(r"[.,]\s?[-\u2013\u2014]+$", "", cell.strip())
    found = re.fullmatch(r"(?P<sign>[^\W\d]{2,4}\$?|[^\W\d]\$)\.?\s*(?P<rest>[\d.,]+)", text)
    code = _WRITTEN.get(found["sign"].casefold()) if found else None
    return (found["rest"], code) if found and code else (text, None)


def reading_in(cell: Cell, mark: str, where: str) -> tuple[float, Censored]:
    """Return a measured value; ``> 60`` and ``< 1`` are values known only to lie beyond a limit."""
    if isinstance(cell, Decimal):
        return float(cell), Censored.EXACT
    return figures.reading(str(cell), where, None if mark == EITHER else mark, hint=_SET_BY)
