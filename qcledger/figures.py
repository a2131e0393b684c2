"""Numbers, money and days as people write them, on a page, after a command or in a spreadsheet, and written back.

Each is read here alone, so that what one place takes no other refuses. A reader raises BadInput with the place it was
given, so that a form can say it beside the field; one that begins with ``as_`` returns None for what it cannot read.
"""

import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, tzinfo
from decimal import Decimal
from typing import Final, TypeVar

from qcledger.clock import instant
from qcledger.errors import BadInput, bad
from qcledger.text import one_line
from qcledger.vocab import CURRENCY_DIGITS, EARLIEST, Censored

T = TypeVar("T")

THOUSANDS: Final = 3
"""So many digits behind a mark may be thousands."""
MARKS: Final = (".", ",")
"""What may stand before decimals."""

_NUMBER: Final = re.compile(r"[-+]?\d{1,9}(?:(?P<mark>[.,])\d{1,15})?", re.ASCII)
_BEYOND: Final[Mapping[str, Censored]] = {">": Censored.ABOVE, "<": Censored.BELOW}
_SIGNS: Final[Mapping[str, str]] = {"€": "EUR", "£": "GBP"}
"""Signs of one currency only; $ and others stand for several."""

_BETWEEN: Final = "[-./ ] ?"
_YEAR, _MONTH, _DAY = r"(?P<y>\d{4})", r"(?P<m>\d\d?)", r"(?P<d>\d\d?)"
_ORDERS: Final[Mapping[str, tuple[re.Pattern[str], str]]] = {
    "iso": (re.compile(_BETWEEN.join((_YEAR, _MONTH, _DAY)), re.ASCII), "2026-03-09"),
    "day first": (re.compile(_BETWEEN.join((_DAY, _MONTH, _YEAR)), re.ASCII), "9.3.2026"),
    "dotted": (re.compile(r"\. ?".join((_DAY, _MONTH, _YEAR)), re.ASCII), "9.3.2026"),
    "month first": (re.compile(_BETWEEN.join((_MONTH, _DAY, _YEAR)), re.ASCII), "3/9/2026"),
}
"""The orders of a day in figures by their names in the settings: a pattern, and how one is shown.

Points between day, month and year mean that order wherever the settings say no other one.
"""


# Numbers


def as_whole(text: str) -> int | None:
    """Return the whole number from 0 up that a text is, or None."""
    text = text.strip()
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 9 else None


def as_numbered(text: str, among: Sequence[T]) -> T | None:
    """Return the one that a text picks by its number in a list, from 1, or None."""
    number = as_whole(text)
    return among[number - 1] if number is not None and 1 <= number <= len(among) else None


def as_number(text: str, mark: str | None = None) -> Decimal | None:
    """Return the number that a text is, or None.

    Parameters
    ----------
    text
        At most nine digits, and at most fifteen decimals; it may begin with a sign. Nothing stands between thousands.
    mark
        What stands before the decimals: one of `MARKS`, or None where either may.
    """
    text = text.strip()
    found = _NUMBER.fullmatch(text)
    if found is None or (mark is not None and found["mark"] not in (None, mark)):
        return None
    return Decimal(text.replace(",", "."))


def number(text: str, where: str, mark: str = ".", example: str = "8", *, hint: str = "") -> Decimal:
    """Return the number that `as_number` reads; `hint` says where the mark was set."""
    found = as_number(text, mark)
    if found is None:
        allowed = f"a number such as {example.replace('.', mark)}, with '{mark}' before decimals"
        raise bad(where, text.strip(), f"{allowed} ({hint})" if hint else allowed)
    return found


def amount(text: str, where: str, mark: str = ".", *, hint: str = "") -> Decimal:
    """Return a number above 0, as volumes and weights are."""
    return above_nothing(number(text, where, mark, "7.5", hint=hint), where, text)


def above_nothing(found: Decimal, where: str, text: str) -> Decimal:
    """Return the number that a text says; raises BadInput unless it is above 0."""
    if found <= 0:
        raise bad(where, text, "more than 0")
    return found


def limited(text: str, where: str, least: float, most: float) -> float | None:
    """Return a number within limits, with either mark before its decimals; None for an empty text."""
    if not text.strip():
        return None
    found = as_number(text)
    if found is None or not least <= found <= most:
        raise bad(where, text, f"a number from {least:g} to {most:g}, or nothing")
    return float(found)


def as_reading(text: str, mark: str | None = None) -> tuple[float, Censored] | None:
    """Return the reading that a text is, from 0 up, or None: ``23``, ``3.5``, and ``>60`` for above 60."""
    text = text.strip()
    censored = _BEYOND.get(text[:1], Censored.EXACT)
    digits = text if censored is Censored.EXACT else text[1:].strip()
    found = as_number(digits, mark) if digits[:1].isdigit() else None
    return None if found is None else (float(found), censored)


def reading(text: str, where: str, mark: str | None = None, *, hint: str = "") -> tuple[float, Censored]:
    """Return the reading that `as_reading` reads; `hint` says where the mark was set."""
    found = as_reading(text, mark)
    if found is None:
        allowed = f"a number such as 23 or 3{mark or '.'}5, or >60"
        raise bad(where, text, f"{allowed} ({hint})" if hint else allowed)
    return found


# Money


def currency(text: str, where: str) -> str:
    """Return the code of a currency, in capitals, from the code or from a sign that no other currency has."""
    text = text.strip()
    code = _SIGNS.get(text, text.upper())
    if code not in CURRENCY_DIGITS:
        raise bad(where, text, "one of " + ", ".join(CURRENCY_DIGITS))
    return code


def money(text: str, where: str, code: str, mark: str = ".", *, hint: str = "") -> int:
    """Return an amount of money in the currency's smallest coin.

    Parameters
    ----------
    text
        Such as ``12.40``, with `mark` before its decimals and nothing between thousands. The other mark is taken
        too where it cannot stand between thousands, as in ``12,40``.
    where
        The field.
    code
        The currency (ISO 4217), which says how many decimals there may be.
    mark
        The decimal mark.
    hint
        Where the mark was set.
    """
    found = as_number(text)
    plain = found is not None and _decimals(text) != THOUSANDS  # 3,50 is no thousand, whatever the mark
    read = found if plain and found is not None else number(text, where, mark, _example(code), hint=hint)
    return coins(read, where, text, code, mark)


def _decimals(text: str) -> int:
    """Return how many digits stand behind the mark of a number."""
    digits = text.strip().replace(",", ".").rpartition(".")
    return len(digits[2]) if digits[1] else 0


def coins(found: Decimal, where: str, text: str, code: str, mark: str = ".") -> int:
    """Return what a text says in its currency's smallest coin; raises BadInput for part of one, and below 0."""
    digits = CURRENCY_DIGITS[code]
    smallest = found.scaleb(digits)
    if found < 0 or smallest != smallest.to_integral_value():
        allowed = f"0 or more with at most {digits} decimals in {code}, such as {_example(code)}"
        raise bad(where, text, allowed.replace(".", mark))
    return int(smallest)


def _example(code: str) -> str:
    return "12.40" if CURRENCY_DIGITS[code] else "1240"


def money_text(minor: int, code: str, mark: str = ".") -> str:
    """Return an amount as `money` reads it: ``12.40``."""
    digits = CURRENCY_DIGITS.get(code, 2)
    return f"{Decimal(minor).scaleb(-digits):.{digits}f}".replace(".", mark)


# Days


def day(text: str, where: str, order: str = "iso", *, points: bool = True) -> date:
    """Return a date written as 2026-03-09, or in an order of the settings, with -, ., / or a blank between figures.

    With points, 9.3.2026, day and month stand first, unless the settings put the month first; where `points` is
    false, only in the order that is said.

    Raises
    ------
    BadInput
        When it is neither, no day of the calendar, or before anything here can have happened.
    """
    for name in dict.fromkeys(("iso", order, *(["dotted"] if points else []))):
        found = _ORDERS[name][0].fullmatch(text.strip())
        if found is not None:
            try:
                read = date(int(found["y"]), int(found["m"]), int(found["d"]))
            except ValueError:
                break
            return possible(read, where, text)
    raise bad(where, text, f"a day such as {_days(order)}")


def possible(read: date, where: str, text: str = "") -> date:
    """Return a day on which something here can have happened; raises BadInput for an earlier one."""
    if read < EARLIEST:
        raise bad(where, text or str(read), f"a day from {EARLIEST} on")
    return read


def _days(order: str) -> str:
    return " or ".join(dict.fromkeys((_ORDERS["iso"][1], _ORDERS[order][1])))


def past_day(text: str, where: str, today: date, order: str = "iso") -> date:
    """Return a day that has come; raises BadInput when it has not, or is none."""
    found = day(text, where, order)
    if found > today:
        raise bad(where, text, f"today, {today}, or a day before")
    return found


def moment(text: str, where: str, zone: tzinfo | None, order: str = "iso") -> datetime:
    """Return the instant, in UTC, of a day and hour as a clock shows it in a zone, such as ``2026-03-09 09:00``."""
    told = one_line(text)
    split = max(told.rfind(" "), told.rfind("T")) if ":" in told else len(told)
    try:
        hour = time.fromisoformat(told[split + 1 :] or "00:00")
        return instant(datetime.combine(day(told[:split], where, order), hour), zone)
    except (BadInput, ValueError):
        raise bad(where, text, "a day and hour such as 2026-03-09 09:00, or nothing for now") from None
