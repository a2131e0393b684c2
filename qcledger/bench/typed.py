"""What is typed into a form, read field by field: days, money, amounts, words of a closed list.

Each function raises BadInput with the field's name as the place, so that a form can say it beside the field.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Final, TypeVar

from qcledger.errors import BadInput, bad
from qcledger.text import one_line
from qcledger.vocab import CURRENCY_DIGITS, EARLIEST, Censored

T = TypeVar("T")
D = TypeVar("D")
Word = TypeVar("Word", bound=str)

_ORDERS: Final[Mapping[str, tuple[re.Pattern[str], str]]] = {
    "iso": (re.compile(r"(?P<y>\d{4})-(?P<m>\d{1,2})-(?P<d>\d{1,2})", re.ASCII), "2026-03-09"),
    "day first": (re.compile(r"(?P<d>\d{1,2})[./](?P<m>\d{1,2})[./](?P<y>\d{4})", re.ASCII), "9.3.2026"),
    "month first": (re.compile(r"(?P<m>\d{1,2})/(?P<d>\d{1,2})/(?P<y>\d{4})", re.ASCII), "3/9/2026"),
}
_NUMBER: Final = re.compile(r"\d{1,9}(?:[.,]\d{1,6})?", re.ASCII)

_READING: Final = re.compile(r"\s*(?P<sign>[<>]?)\s*(?P<value>\d{1,9}(?:[.,]\d{1,6})?)\s*", re.ASCII)
_SIGNS: Final = {"": Censored.EXACT, ">": Censored.ABOVE, "<": Censored.BELOW}


def day(text: str, where: str, order: str = "iso") -> date:
    """Return a date written as 2026-03-09, or in the tester's own order.

    Raises
    ------
    BadInput
        When it is neither, no day of the calendar, or before anything here can have happened.
    """
    for name in ("iso", order):
        found = _ORDERS[name][0].fullmatch(text.strip())
        if found is not None:
            try:
                read = date(int(found["y"]), int(found["m"]), int(found["d"]))
            except ValueError:
                break
            if read < EARLIEST:
                raise bad(where, text, f"a day from {EARLIEST} on")
            return read
    examples = dict.fromkeys((_ORDERS["iso"][1], _ORDERS[order][1]))
    raise bad(where, text, f"a day such as {' or '.join(examples)}")


def past_day(text: str, where: str, today: date, order: str = "iso") -> date:
    """Return a day that has come; raises BadInput when it has not, or is none."""
    found = day(text, where, order)
    if found > today:
        raise bad(where, text, f"today, {today}, or a day before")
    return found


def number(text: str, where: str, mark: str = ".", example: str = "8") -> Decimal:
    """Return a positive number with the tester's decimal mark; anything else is refused, as are thousands marks."""
    text = text.strip()
    other = "," if mark == "." else "."
    if _NUMBER.fullmatch(text) is None or other in text:
        raise bad(where, text, f"a number such as {example.replace('.', mark)}, with '{mark}' before decimals")
    try:
        return Decimal(text.replace(mark, "."))
    except InvalidOperation as error:
        raise bad(where, text, f"a number such as {example}") from error


def amount(text: str, where: str, mark: str = ".") -> Decimal:
    """Return a number above zero, as volumes and weights are."""
    found = number(text, where, mark, "7.5")
    if not found:
        raise bad(where, text, "more than 0")
    return found


def currency(text: str, where: str) -> str:
    """Return the code of a currency, in capitals."""
    code = text.strip().upper()
    if code not in CURRENCY_DIGITS:
        raise bad(where, text, "a code such as EUR, GBP, USD")
    return code


def money(text: str, where: str, code: str, mark: str = ".") -> int:
    """Return an amount of money in the currency's smallest coin.

    Parameters
    ----------
    text
        Such as ``12.40``, with the tester's decimal mark and no mark between thousands.
    where
        The field.
    code
        The currency (ISO 4217), which says how many decimals there may be.
    mark
        The decimal mark.
    """
    digits = CURRENCY_DIGITS[code]
    example = "12.40" if digits else "1240"
    found = number(text, where, mark, example)
    smallest = found.scaleb(digits)
    if smallest != int(smallest):
        raise bad(where, text, f"at most {digits} decimals for {code}, such as {example.replace('.', mark)}")
    return int(smallest)


def money_text(minor: int, code: str, mark: str = ".") -> str:
    """Return an amount as `money` reads it: ``12.40``."""
    digits = CURRENCY_DIGITS.get(code, 2)
    return f"{Decimal(minor).scaleb(-digits):.{digits}f}".replace(".", mark)


def word(text: str, where: str, words: Iterable[Word]) -> Word:
    """Return the word of a list that a text begins, letter case aside; the whole word beats a beginning."""
    words, wanted = tuple(words), one_line(text).casefold()
    found = [one for one in words if one.casefold() == wanted] or [
        one for one in words if wanted and one.casefold().startswith(wanted)
    ]
    if len(found) != 1:
        raise bad(where, text, ", ".join(found or words))
    return found[0]


def reading(text: str, where: str) -> tuple[float, Censored]:
    """Return the reading a text says: ``23``, ``3.5`` or ``3,5``, and ``>60`` for above 60."""
    found = _READING.fullmatch(text)
    if found is None:
        raise bad(where, text, "a number such as 23 or 3.5, or >60")
    return float(found["value"].replace(",", ".")), _SIGNS[found["sign"]]


def parts(text: str) -> tuple[str, ...]:
    """Return the parts of a list, parted by commas or semicolons."""
    return tuple(part for part in (one_line(part) for part in re.split(r"[,;]", text)) if part)


def names(text: str, where: str) -> tuple[str, ...]:
    """Return the parts of a list, each of which must be a name of one line."""
    return tuple(name(part, where) for part in parts(text))


def name(text: str, where: str) -> str:
    """Return a name of one line that is not empty."""
    found = one_line(text)
    if not 1 <= len(found) <= 200:
        raise bad(where, found, "1 to 200 characters")
    return found


class Reader:
    """Reads a whole form and keeps every problem, so that each can stand beside its field.

    Parameters
    ----------
    values
        What was typed, by field, in the order of the form.
    """

    def __init__(self, values: Mapping[str, str]) -> None:
        self._values = values
        self._refused: list[BadInput] = []

    def text(self, field: str) -> str:
        """Return what was typed into a field."""
        return self._values.get(field, "")

    def read(self, field: str, read: Callable[[str, str], T], *, default: D) -> T | D:
        """Return what `read` makes of a field's text and name; `default` when it is empty or refused."""
        if not self.text(field).strip():
            return default
        return self.must(field, read, default=default)

    def must(self, field: str, read: Callable[[str, str], T], *, default: D) -> T | D:
        """Return what `read` makes of a field that may not be empty; `default` when it is refused."""
        try:
            return read(self.text(field), field)
        except BadInput as refused:
            self._refused.append(refused)
            return default

    def done(self) -> None:
        """Raise what was refused, with a problem for each field, in the order of the form."""
        if self._refused:
            found = [problem for refused in self._refused for problem in refused.problems]
            places = {field: place for place, field in enumerate(self._values)}
            raise BadInput(sorted(found, key=lambda problem: places.get(problem.where, len(places))))
