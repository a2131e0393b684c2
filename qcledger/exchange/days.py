"""Days as people write them in lists: to the day, the month or the year, in figures, words or serial numbers."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Final

from qcledger import figures
from qcledger.errors import BadInput, bad
from qcledger.exchange.columnwords import column_words, plain
from qcledger.exchange.grid import Cell
from qcledger.text import one_line

ORDERS: Final[Mapping[str, str]] = {
    "year month day": "iso",
    "day month year": "day first",
    "month day year": "month first",
}
"""What a map calls the orders of a day in figures, and what the settings call them."""

_FIRST_SERIAL: Final = date(1899, 12, 30)
"""Day 0 of spreadsheet programs' serial days (ISO/IEC 29500-1, 18.17.4.1, the 1900 base with its leap-year error)."""
_SERIAL: Final = re.compile(r"[2-7]\d{4}")
_SHORT: Final = re.compile(r"(\d{1,2})([./ -])(\d{1,2})\2(\d{2})", re.ASCII)
_NO_YEAR: Final = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2?", re.ASCII)
_YEAR: Final = re.compile(r"(?:19|20)\d\d", re.ASCII)
_WORDED: Final = re.compile(r"(?:(?P<day>\d{1,2})(?:\.|st|nd|rd|th|er)?\s+|(?P<part>[^\W\d]+)\s+)?"
                            r"(?P<month>[^\W\d]+)\.?(?:\s+'?(?P<year>\d{4}|\d{2}))?")  # fmt: skip
_WEEKDAYS: Final = (
    ("monday", "montag", "lundi", "lunes", "lunedi", "maandag"),
    ("tuesday", "dienstag", "mardi", "martes", "martedi", "dinsdag"),
    ("wednesday", "mittwoch", "mercredi", "miercoles", "mercoledi", "woensdag"),
    ("thursday", "donnerstag", "jeudi", "jueves", "giovedi", "donderdag"),
    ("friday", "freitag", "vendredi", "viernes", "venerdi", "vrijdag"),
    ("saturday", "samstag", "samedi", "sabado", "sabato", "zaterdag"),
    ("sunday", "sonntag", "dimanche", "domingo", "domenica", "zondag"),
)
"""Days of the week from Monday on, without accents."""
_NAMED: Final = re.compile(r"(?P<name>[^\W\d]{2,})\.?,?\s+(?P<rest>(?!\d{4}$|\d{1,2}$|\d{1,2},? \d{4}$)\d.*)")
_BARE: Final = re.compile(r"(?:(?P<name>[^\W\d]{2,})\.?,?\s+)?(?P<day>\d{1,2})(?:\.|st|nd|rd|th)?")
_CENTURY: Final = 2000
_LAST_OF_CENTURY: Final = 79
"""Two-digit years up to it are of this century, later ones of the last."""


@dataclass(frozen=True, slots=True)
class ToldDay:
    """A day, and what had to be assumed to have one: nothing where it is written out."""

    day: date
    assumed: str = ""
    is_rough: bool = False
    """Whether only the month or the year is known; the day is then their first."""


def day_told_by(cell: Cell, order: str, where: str, year: int | None = None) -> ToldDay:
    """Return the day in a cell.

    Parameters
    ----------
    cell
        A day, a serial number, or a text such as 9.3.2026, 9/3/26, ``Mar 2026``, ``2026``, ``9 March`` or 9.3.; a
        day of the week may stand before it.
    order
        A key of `ORDERS`, for figures.
    where
        File and line, for messages.
    year
        The year of days that are written without one; such days are refused if None.

    Raises
    ------
    BadInput
        When it is none of these, no day of the calendar, or another day of the week than stands before it.
    """
    if isinstance(cell, date):
        return ToldDay(figures.possible(cell, where))
    text = one_line(str(cell))
    named = _NAMED.fullmatch(text)
    if named and (which := _weekdays(named["name"])):
        told = _without_name(named["rest"], order, where, year)
        if told.day.weekday() not in which:
            raise bad(where, text, f"a day and its name: {told.day} is a {_WEEKDAYS[told.day.weekday()][0].title()}")
        return told
    return _without_name(text, order, where, year)


def is_month(cell: Cell) -> bool:
    """Say whether a cell holds a month with its year, and no day."""
    found = _WORDED.fullmatch(one_line(str(cell))) if isinstance(cell, str) else None
    return bool(found and found["year"] and not found["day"] and column_words().month(found["month"]))


def of_month(cell: Cell, month: str) -> Cell:
    """Return a day of a month that stands above it, as ``Fri 18``, with that month; any other cell as it is."""
    found = _bare_day(cell)
    return " ".join(filter(None, (found["name"], found["day"], month))) if found else cell


def names_no_month(cell: Cell) -> bool:
    """Say whether a cell holds a day of some month, alone or behind its day of the week."""
    return _bare_day(cell) is not None


def _bare_day(cell: Cell) -> re.Match[str] | None:
    found = None if isinstance(cell, date) else _BARE.fullmatch(one_line(str(cell)))
    return found if found and (not found["name"] or _weekdays(found["name"])) else None


def _weekdays(name: str) -> frozenset[int]:
    """Return which days of the week a name or its beginning may be, 0 for Monday."""
    begun = plain(name)
    return frozenset(n for n, names in enumerate(_WEEKDAYS) if any(one.startswith(begun) for one in names))


def _without_name(text: str, order: str, where: str, year: int | None) -> ToldDay:
    """Return the day in a text before which no day of the week stands."""
    if _SERIAL.fullmatch(text):
        day = _FIRST_SERIAL + timedelta(days=int(Decimal(text)))
        return ToldDay(figures.possible(day, where), "a serial number")
    if _YEAR.fullmatch(text):
        return ToldDay(figures.possible(date(int(text), 1, 1), where), "the year alone", is_rough=True)
    if found := _SHORT.fullmatch(text):
        return ToldDay(_long(text, found, order, where), "of two digits of a year")
    if year is not None and (found := _NO_YEAR.fullmatch(text)):
        first, second = found[1], found[3]
        written = f"{year}-{first}-{second}" if order == "month day year" else f"{year}-{second}-{first}"
        return ToldDay(figures.day(written, where, "iso", points=False), f"of the map's year {year}")
    return _worded(text, year, where) or ToldDay(figures.day(text, where, ORDERS[order], points=False))


def _long(text: str, found: re.Match[str], order: str, where: str) -> date:
    """Return a day whose year has two digits; in figures the year then stands at the end, or first by the order."""
    parts = [found[1], found[3], found[4]]
    place = 0 if order == "year month day" else 2
    short = int(parts[place])
    parts[place] = str(short + (_CENTURY if short <= _LAST_OF_CENTURY else _CENTURY - 100))
    try:
        return figures.day(found[2].join(parts), where, ORDERS[order], points=False)
    except BadInput as error:
        raise BadInput(type(one)(one.where, f"'{text}'", one.allowed) for one in error.problems) from None


def _worded(text: str, year: int | None, where: str) -> ToldDay | None:
    """Return a day that names its month, or None."""
    found = _WORDED.fullmatch(text)
    month = column_words().month(found["month"]) if found else None
    if found is None or month is None:
        return None
    told = int(found["year"]) if found["year"] else year
    if told is None:
        raise bad(where, text, "a day with its year, or `year: 2026` in the map")
    told += _CENTURY if told < 100 else 0
    day = int(found["day"] or 1)
    try:
        exact = date(told, month, day)
    except ValueError:
        raise bad(where, text, "a day of the calendar") from None
    assumed = "the month alone" if not found["day"] else "" if found["year"] else f"of the map's year {year}"
    return ToldDay(figures.possible(exact, where), assumed, is_rough=not found["day"])
