"""A published edition, read back from its file and held against what the ledger recorded of it."""

import hashlib
import json
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from html.parser import HTMLParser
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from qcledger.errors import Problem, bad
from qcledger.files import read_plain
from qcledger.public import keeping
from qcledger.public.editions import SETTLED
from qcledger.records import Publication, Statement
from qcledger.text import harmless, one_line

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

SAID_CLASS: Final = "said"
"""The class of the element of a page that holds the sentence of a statement."""
_CLOSING: Final = re.compile(r"(.{1,64}), ([1-9][0-9]{0,11}) entries, ([0-9a-f]{64})")
_MOST_TOLD: Final = 60
"""Characters of a text that a difference tells."""
_ENDED: Final = "nothing more"
_NO_EDITION: Final = "a page or JSON of an edition that this program wrote"


@dataclass(frozen=True, slots=True)
class ReadEdition:
    """What a file says of itself.

    Parameters
    ----------
    name
        The file's name.
    number
        Of the edition, 1 or more.
    sentences
        Of its statements, in order.
    closing
        Number and hash of the last entry of each daybook it rests on.
    sha256
        Of a page's bytes; empty for JSON, whose bytes are not recorded.
    texts
        Each text of a page, in order; none of JSON.
    """

    name: str
    number: int
    sentences: tuple[str, ...]
    closing: Mapping[str, tuple[int, str]]
    sha256: str = ""
    texts: tuple[str, ...] = ()


def read_edition(path: Path) -> ReadEdition:
    """Return what a page or a JSON file says; raises BadInput for any other file, and for a draft."""
    content = read_plain(path, _NO_EDITION, most=keeping.MOST_BYTES)
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        raise bad(path.name, "no UTF-8", _NO_EDITION) from error
    found = _of_json(path.name, text) if text.lstrip().startswith("{") else _of_page(path.name, text, content)
    if not found.number:
        raise bad(path.name, "a draft, which is not recorded", "an edition")
    return found


def _of_json(name: str, text: str) -> ReadEdition:
    try:
        whole: Any = json.loads(text)
        sentences = tuple(str(one["sentence"]) for one in whole["statements"])
        closing = {str(book): (int(number), str(last)) for book, number, last in whole["closing"]}
        return ReadEdition(name, int(whole["edition"]["number"]), sentences, closing)
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise bad(name, "other data", _NO_EDITION) from error


def _of_page(name: str, text: str, content: bytes) -> ReadEdition:
    page = _Page()
    page.feed(text)
    page.close()
    if page.edition is None:
        raise bad(name, "another page", _NO_EDITION)
    told = (_CLOSING.fullmatch(one_line(one)) for one in page.codes)
    closing = {one[1]: (int(one[2]), one[3]) for one in told if one}
    sentences = tuple(one_line(one) for one in page.sentences)
    return ReadEdition(name, page.edition, sentences, closing, hashlib.sha256(content).hexdigest(), tuple(page.texts))


class _Page(HTMLParser):
    """The edition's number, its sentences and its closing hashes, taken out of a page."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.edition: int | None = None
        self.sentences: list[str] = []
        self.codes: list[str] = []
        self.texts: list[str] = []
        self._into: list[str] | None = None
        self._until = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Begin to collect a sentence or a hash, or note the edition."""
        known = dict(attrs)
        if tag == "body" and (known.get("data-edition") or "").isdigit():
            self.edition = int((known["data-edition"] or "0")[:6])
        if self._into is None and (tag == "code" or (tag == "div" and known.get("class") == SAID_CLASS)):
            self._into, self._until = (self.codes if tag == "code" else self.sentences), tag
            self._into.append("")

    def handle_endtag(self, tag: str) -> None:
        """End what is collected."""
        if self._into is not None and tag == self._until:
            self._into = None

    def handle_data(self, data: str) -> None:
        """Collect text."""
        if text := one_line(data):
            self.texts.append(text)
        if self._into is not None:
            self._into[-1] += data


def differences(ledger: "Ledger", edition: ReadEdition) -> list[Problem]:
    """Return what an edition's file says otherwise than the ledger recorded; nothing where it is as recorded."""
    kept = next((one for one in ledger.rows(Publication) if one.number == edition.number), None)
    if kept is None:
        return [Problem(edition.name, f"edition {edition.number}", "an edition that this ledger recorded")]
    return list(_differing(ledger, kept, edition))


def _differing(ledger: "Ledger", kept: Publication, edition: ReadEdition) -> Iterator[Problem]:
    where = f"{edition.name}, edition {edition.number}"
    rows = (one for one in ledger.rows(Statement, publication=kept.id) if one.standing == SETTLED)
    recorded = Counter(_plain(one.sentence) for one in rows)
    told = Counter(_plain(one) for one in edition.sentences)
    for sentence in told - recorded:
        yield Problem(where, f"says '{sentence}'", "what was recorded")
    for sentence in recorded - told:
        yield Problem(where, "does not say what was recorded", f"'{sentence}'")
    closing = {book: (int(number), last) for book, number, last in map(_closing_of, kept.closing)}
    if dict(edition.closing) != closing:
        yield Problem(where, "other closing hashes", "those that were recorded")
    if edition.sha256 and kept.sha256 and edition.sha256 != kept.sha256:
        yield Problem(where, f"SHA-256 {edition.sha256}", f"{kept.sha256}, as recorded")
        yield from _beside_kept(where, edition, keeping.kept_page(ledger, kept))


def _beside_kept(where: str, edition: ReadEdition, content: bytes | None) -> Iterator[Problem]:
    """Yield the first text in which a page differs from the one that is kept, or that none does."""
    if content is None:
        return
    kept = _of_page(edition.name, content.decode("utf-8"), content).texts
    pairs = zip_longest(edition.texts, kept, fillvalue=_ENDED)
    told, published = next(((one, other) for one, other in pairs if one != other), ("", ""))
    if told or published:
        yield Problem(where, f"first of all says '{_begin(told)}'", f"'{_begin(published)}', as published")
    else:
        yield Problem(where, "other pictures or another layout, every text alike", "the page that was published")


def _begin(text: str) -> str:
    return text if len(text) <= _MOST_TOLD else f"{text[:_MOST_TOLD]} ..."


def _closing_of(text: str) -> tuple[str, str, str]:
    book, number, last = text.rsplit(" ", 2)
    return book, number, last


def _plain(sentence: str) -> str:
    return one_line(harmless(sentence))
