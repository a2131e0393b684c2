"""What people write over columns and in them, in several languages: read from a file that anybody may extend."""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

FILE: Final = Path(__file__).parent / "columnwords.yaml"
_NOT_LETTERS: Final = re.compile(r"[^a-z0-9½+★/-]+")


@dataclass(frozen=True, slots=True)
class ColumnWords:
    """The words of the file; all are kept in the form that `plain` gives them.

    Parameters
    ----------
    fields
        Words over a column by the field it probably holds.
    criteria
        Words over a column by the key of the criterion it is probably of.
    formats, sources
        Words in a column, and what they mean here.
    scales
        Lists of words, the best or least first.
    answers
        Words that say yes, no, or nothing.
    months
        Names of months by number.
    totals, opinions, faults, better, redone, untested
        Words that begin rows that are no pieces; that stand over opinions; that name faults found; that say over a
        column that its high end is the best; that take an earlier line back; that say a row was not looked at.
    """

    fields: Mapping[str, frozenset[str]]
    criteria: Mapping[str, frozenset[str]]
    formats: Mapping[str, str]
    sources: Mapping[str, str]
    scales: Sequence[tuple[str, ...]]
    answers: Mapping[str, frozenset[str]]
    months: Mapping[str, int]
    totals: frozenset[str]
    opinions: frozenset[str]
    faults: Mapping[str, str]
    better: frozenset[str]
    redone: frozenset[str]
    untested: frozenset[str]

    def month(self, word: str) -> int | None:
        """Return the month that a word names, in full or by its first three letters or more, or None."""
        text = plain(word)
        if text in self.months:
            return self.months[text]
        begun = {number for name, number in self.months.items() if len(text) >= 3 and name.startswith(text)}
        return begun.pop() if len(begun) == 1 else None


def plain(text: str) -> str:
    """Return a text in small letters without accents and points, as words are compared here."""
    bare = "".join(one for one in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(one))
    return _NOT_LETTERS.sub(" ", bare.replace("\u2044", "/").replace("1 2", "1/2")).strip()


@cache
def column_words() -> ColumnWords:
    """Return the words of the file that comes with the program."""
    import yaml

    found = yaml.safe_load(FILE.read_text(encoding="utf-8"))
    return ColumnWords(
        fields=_lists(found["fields"]),
        criteria=_lists(found["criteria"]),
        formats=_meanings(found["formats"]),
        sources=_meanings(found["sources"]),
        scales=[tuple(map(str, one)) for one in found["scales"]],
        answers=_lists(found["answers"]),
        months={plain(name): number for number, names in found["months"].items() for name in names},
        totals=_list(found["totals"]),
        opinions=_list(found["opinions"]),
        faults=_meanings(found["faults"]),
        better=_list(found["better"]),
        redone=_list(found["redone"]),
        untested=_list(found["untested"]),
    )


def _list(words: Sequence[Any]) -> frozenset[str]:
    return frozenset(plain(str(word)) for word in words)


def _lists(found: Mapping[str, Sequence[Any]]) -> dict[str, frozenset[str]]:
    return {key: _list(words) for key, words in found.items()}


def _meanings(found: Mapping[str, Sequence[Any]]) -> dict[str, str]:
    return {plain(str(word)): key for key, words in found.items() for word in words}
