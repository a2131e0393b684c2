"""Numbers, dates and lists as words, and the words that no sentence may use."""

import re
from collections.abc import Sequence
from datetime import date

from qcledger.thing import worded

BANNED = (
    "all", "always", "cheap", "cheat", "criminal", "defect", "defective", "defects", "every", "fake", "fraud",
    "fraudulent", "guilty", "illegal", "knowingly", "liar", "lie", "never", "proof", "prove", "proven", "proves",
    "scam", "shoddy",
)  # fmt: skip
"""Words that say more than specimens can, allege a motive, or have a meaning in law."""

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
_WORD = re.compile(r"\b\w+\b")


def banned_in(text: str) -> tuple[str, ...]:
    """Return the banned words in `text`, in order."""
    return tuple(word for word in _WORD.findall(text.lower()) if word in BANNED)


def number(count: int) -> str:
    """Return a small number as a word, a larger one in figures."""
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def how_many(count: int, thing: str) -> str:
    """Return a number and what is counted: ``three lots``."""
    return f"{number(count)} {plural(count, thing)}"


def plural(count: int, thing: str) -> str:
    """Return `thing` in the number that `count` asks for."""
    return worded(thing if count == 1 else f"{thing}s")


def out_of(some: int, total: int) -> str:
    """Return a count of a count: ``3 of 9``, ``none of 6``."""
    return f"{some or 'none'} of {total}"


def listed(names: Sequence[str], last: str = "and") -> str:
    """Return names in a row: ``a, b and c``."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {last} {names[-1]}" if names else ""


def day(when: date) -> str:
    """Return a day as ``4 March 2026``."""
    return f"{when.day} {_MONTHS[when.month - 1]} {when.year}"


def between(first: date, last: date) -> str:
    """Return one day or a span: ``from 4 March to 12 May 2026``."""
    if first == last:
        return f"on {day(first)}"
    begin = day(first) if first.year != last.year else f"{first.day} {_MONTHS[first.month - 1]}"
    return f"from {begin} to {day(last)}"


def lower_first(text: str) -> str:
    """Return `text` with a small first letter, unless it begins with an abbreviation."""
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]
