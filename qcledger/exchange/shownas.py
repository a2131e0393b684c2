"""Numbers of spreadsheet programs as cells show them: no binary noise, leading zeros, the sign of money."""

import re
from decimal import Decimal
from typing import Final

from qcledger.exchange.grid import Priced

_WHOLE_UP_TO: Final = 10**15
_DIGITS: Final = 15
"""Digits that a spreadsheet program keeps of a number; what stands behind them is noise of its formulas."""
_PADDED: Final = re.compile(r"0+")
_SIGNS: Final = {"€": "EUR", "£": "GBP"}
_SIGN: Final = re.compile(r'\[\$([^\]-]+)|"([^"]+)"|([€£])')


def number_shown(value: float, shown: str) -> Decimal | str:
    """Return a number in a format: money where that shows its sign, text where it shows leading zeros.

    Parameters
    ----------
    value
        What is stored.
    shown
        The format, as spreadsheet programs write it: ``0.00``, ``000``, ``"£"0.00``.
    """
    if float(value).is_integer() and _PADDED.fullmatch(shown) and (isinstance(value, int) or len(shown) > 1):
        return str(int(value)).zfill(len(shown))
    return _with_sign(_plain(value), shown)


def _plain(value: float) -> Decimal:
    """Return a number without the decimals that only its binary form or a formula has: 3.0 is 3."""
    number = Decimal(repr(value) if isinstance(value, int) else f"{value:.{_DIGITS}g}")
    whole = abs(number) < _WHOLE_UP_TO and number == number.to_integral_value()
    return number.quantize(Decimal(1)) if whole else number


def _with_sign(number: Decimal, shown: str) -> Decimal:
    """Return a number as money where its format shows a sign that only one kind of money has."""
    found = _SIGN.search(shown)
    code = _SIGNS.get(next(filter(None, found.groups())).strip()) if found else None
    if code is None:
        return number
    money = Priced(number)
    money.currency = code
    return money
