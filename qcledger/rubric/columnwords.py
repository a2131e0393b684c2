"""What people write over columns and in them, in several languages: read from a file that anybody may extend."""

import re
import unicodedata
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import Final

from qcledger.rubric.build import read_text, source
from qcledger.rubric.form import Key, Reader, among, each, pairs, refuse, take, text
from qcledger.rubric.strict_yaml import Node, Scalar, read
from qcledger.text import one_line
from qcledger.vocab import Source

_NOT_LETTERS: Final = re.compile(r"[^a-z0-9½+★/-]+")


@dataclass(frozen=True, slots=True, eq=False)
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
    totals, opinions, faults, better, redone, untested, counting
        Words that begin rows that are no pieces; that stand over opinions; that name faults found; that say over a
        column that its high end is the best; that take an earlier line back; that say a row was not looked at; that
        stand over counts.
    size_alone
        The format that a size without a word means.
    title, about, hash
        The file's title, what it is for, and the SHA-256 of its text, in hex.
    """

    fields: dict[str, frozenset[str]]
    criteria: dict[str, frozenset[str]]
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
    counting: frozenset[str]
    size_alone: str
    title: str
    about: str
    hash: str

    @property
    def lists(self) -> dict[str, tuple[str, ...]]:
        """Words over a column by the field or criterion they tell, each list in the order of the alphabet."""
        return {key: tuple(sorted(words)) for key, words in (self.fields | self.criteria).items()}

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


def load(path: Path) -> ColumnWords:
    """Return the words in a file, read again when it was changed; errors as in `qcledger.rubric.load`."""
    try:
        stands = path.stat()
    except OSError:
        return parse(read_text(path), one_line(path.name))
    return _of_file(path, stands.st_mtime_ns, stands.st_size)


@lru_cache(maxsize=4)
def _of_file(path: Path, _changed: int, _size: int) -> ColumnWords:
    return parse(read_text(path), one_line(path.name))


def parse(content: str, where: str) -> ColumnWords:
    """Return the words in the text of such a file; errors as in `qcledger.rubric.load`."""
    content = content.replace("\r\n", "\n")
    found = take(read(content, where), where, _FILE)
    for name in ("reference", "source"):
        del found[name]
    months = {name: int(number) for number, names in found.pop("months").items() for name in names}
    found |= {name: _meanings(found[name]) for name in ("formats", "sources", "faults")}
    return ColumnWords(months=months, hash=sha256(content.encode()).hexdigest(), **found)


def _word(node: Node, where: str) -> str:
    found = node.text.strip() if isinstance(node, Scalar) else ""
    if not found or len(found) > 60:
        raise refuse(node, where, "a word or two, at most 60 characters")
    return found


def _words(node: Node, where: str) -> frozenset[str]:
    return frozenset(map(plain, each(_word, most=200)(node, where)))


def _of_keys(allowed: Collection[str] | None = None) -> Reader[dict[str, frozenset[str]]]:
    """Return a reader of lists of words by key, each of which must be there where they are told."""

    def read_lists(node: Node, where: str) -> dict[str, frozenset[str]]:
        if allowed is not None:
            return take(node, where, {key: Key(_words) for key in allowed})
        return {key: _words(item, where) for key, item in pairs(node, where).items.items()}

    return read_lists


def _scales(node: Node, where: str) -> tuple[tuple[str, ...], ...]:
    return each(each(_word, least=2), most=200)(node, where)


def _meanings(found: Mapping[str, frozenset[str]]) -> dict[str, str]:
    return {word: key for key, words in found.items() for word in words}


_FIELDS: Final = (
    "maker", "paint", "number", "pigments", "format", "lot", "sticker", "source", "bought_on", "seller", "currency",
    "price", "nominal_ml", "weight_g", "tested_on", "tester", "note", "test_note",
)  # fmt: skip
_FILE: Final = {
    "reference": Key(among(["columnwords"])),
    "title": Key(text(80)),
    "about": Key(text(2000)),
    "source": Key(source),
    "size_alone": Key(text(40)),
    "fields": Key(_of_keys(_FIELDS)),
    "criteria": Key(_of_keys()),
    "formats": Key(_of_keys()),
    "sources": Key(_of_keys(tuple(Source))),
    "scales": Key(_scales),
    "answers": Key(_of_keys(("yes", "no", "little", "unprinted", "nothing"))),
    "months": Key(_of_keys(tuple(map(str, range(1, 13))))),
    "faults": Key(_of_keys()),
    **{name: Key(_words) for name in ("totals", "opinions", "better", "redone", "untested", "counting")},
}
