"""How values are shown: texts without any power over the terminal, dates and numbers as the tester set them."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime, tzinfo
from typing import TYPE_CHECKING, Final

from textual.content import Content

from qcledger.clock import day_of, local
from qcledger.settings import Settings
from qcledger.text import clean, harmless, one_line
from qcledger.vocab import Censored

if TYPE_CHECKING:
    from qcledger.bench.result import Result

_DATES: Mapping[str, Callable[[date], str]] = {
    "iso": date.isoformat,
    "day first": lambda day: f"{day.day}.{day.month}.{day.year}",
    "month first": lambda day: f"{day.month}/{day.day}/{day.year}",
}


def shown(text: str, style: str = "") -> Content:
    """Return text of any origin as plain text: no markup, no control characters, lines kept."""
    return Content.styled(clean(text), style) if style else Content(clean(text))


def shown_line(text: str, style: str = "") -> Content:
    """Return text of any origin as plain text on one line."""
    return shown(one_line(text), style)


def shown_lines(lines: Iterable[str]) -> Content:
    """Return lines that are laid out already as plain text: no markup, no control characters, blanks kept."""
    return Content("\n".join(map(harmless, lines)))


def shown_date(day: date, settings: Settings) -> str:
    """Return a date in the order the tester set."""
    return _DATES[settings.dates](day)


def shown_time(at: datetime, zone: tzinfo | None = None) -> str:
    """Return the time of day in a time zone, to the second; in this machine's for None."""
    return f"{local(at, zone):%H:%M:%S}"


def shown_moment(at: datetime, settings: Settings, zone: tzinfo | None = None) -> str:
    """Return date and time to the minute, in a time zone; in this machine's for None."""
    return f"{shown_date(day_of(at, zone), settings)} {local(at, zone):%H:%M}"


def shown_number(value: float, settings: Settings) -> str:
    """Return a number in its shortest exact form, with the tester's decimal mark: ``3``, ``3.5``, ``12,25``."""
    text = repr(float(value)).removesuffix(".0")
    return text.replace(".", settings.decimal_mark)


def shown_undone(title: str, was: "Result", now: "Result", settings: Settings) -> str:
    """Return what was taken back of a criterion: its note, or the result that stood, and what stands again."""
    if was.note != now.note and replace(was, note=now.note) == now:
        return f"note to {title} taken back"
    stands = "the right digit grades it anew" if now.is_open else f"{shown_result(now, settings)} stands again"
    return f"{title} {shown_result(was, settings)} taken back; {stands}"


OPEN: Final = "."
"""Stands for a criterion without a result."""
NOT_TESTED: Final = "-"
"""Stands, where there is room for a character, for what could not be tested or has neither grade nor choice."""


def shown_result(result: "Result", settings: Settings) -> str:
    """Return a result in a few characters: a grade, a choice, a reading, ``n/t``, or `OPEN`."""
    if result.is_open:
        return OPEN
    if result.grade is not None:
        return shown_number(result.grade, settings)
    return result.choice or ("n/t" if result.not_testable else shown_reading(result, settings))


def shown_mark(result: "Result", choices: Iterable[str]) -> str:
    """Return a result in one character: the whole part of a grade, a choice's number, ``-`` not tested, or `OPEN`."""
    if result.is_open:
        return OPEN
    if result.grade is not None:
        return f"{int(result.grade)}"
    words = list(choices)
    return str(words.index(result.choice) + 1) if result.choice in words else NOT_TESTED


def shown_reading(result: "Result", settings: Settings) -> str:
    """Return a reading with its sign when it lies beyond a limit: ``23``, ``> 60``."""
    sign = {Censored.EXACT: "", Censored.ABOVE: "> ", Censored.BELOW: "< "}[result.censored]
    return sign + shown_number(result.reading or 0.0, settings)
