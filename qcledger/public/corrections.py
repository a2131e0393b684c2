"""What the newest edition changed of the one before, told to the maker concerned and, in short, to readers."""

import textwrap
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from qcledger.errors import bad
from qcledger.findings.words import day
from qcledger.public import editions
from qcledger.records import Publication, Statement
from qcledger.text import harmless, one_line

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

WIDTH: Final = 76
"""Columns of the texts."""
_FOR_READERS: Final = (editions.OTHERWISE, editions.GONE, editions.WITHDRAWN, editions.UNPRINTED, editions.RULE)
"""How what is told to readers begins: what is new stands on the page."""


@dataclass(frozen=True, slots=True)
class ToldChange:
    """One change as an edition recorded it.

    `about` is what it is about, `how` what became of it, `before` and `now` the sentences, empty where there is none,
    `reason` what was printed of it, `maker` the id of whom it is about.
    """

    about: str
    how: str
    before: str
    now: str
    reason: str
    maker: str | None


@dataclass(frozen=True, slots=True)
class ToldEdition:
    """An edition and what it changed."""

    number: int
    title: str
    on: date
    address: str
    changes: tuple[ToldChange, ...]


def newest_changes(ledger: "Ledger") -> ToldEdition:
    """Return the newest edition with what it changed; raises BadInput while there are fewer than two."""
    every = sorted(ledger.rows(Publication), key=lambda one: one.number)
    if len(every) < 2:
        raise bad(
            "corrections", f"{len(every)} edition{'s' * (len(every) != 1)}", "two: the second tells what changed"
        )
    last = every[-1]
    rows = ledger.rows(Statement, publication=last.id)
    return ToldEdition(last.number, last.title, last.on, last.address or "", tuple(_told(rows)))


def _told(rows: Iterable[Statement]) -> Iterator[ToldChange]:
    """Yield each change with what is said now: those of one maker stand in the order of what is said of it."""
    said: dict[tuple[str | None, str | None], list[str]] = defaultdict(list)
    changed: dict[tuple[str | None, str | None], list[Statement]] = defaultdict(list)
    for one in rows:
        if one.standing == editions.SETTLED and one.change:
            said[one.maker, one.change].append(one.sentence)
        elif one.standing == editions.CHANGE:
            changed[one.maker, one.change].append(one)
    for key, some in changed.items():
        now = said[key] if len(said[key]) == len(some) else [""] * len(some)
        for one, sentence in zip(some, now, strict=True):
            yield ToldChange(one.finding, one.change or "", one.sentence, sentence, one.reason, one.maker)


def readers_text(edition: ToldEdition) -> str:
    """Return a short text for readers: what no longer stands, was wrong, or is said or judged otherwise."""
    found = [one for one in edition.changes if one.how.startswith(_FOR_READERS)]
    where = f" It is at {edition.address}." if edition.address else ""
    lead = f"Edition {edition.number} of {edition.title} is of {day(edition.on)}.{where}"
    if not found:
        return _text([lead, "Nothing that an edition before said has changed."])
    return _text([lead, "This has changed:", *(_line(one) for one in found)])


def maker_text(edition: ToldEdition, maker: str, members: Collection[str], by: str) -> str:
    """Return the letter that tells a maker what changed of what is said of it.

    Parameters
    ----------
    edition
        The edition.
    maker
        What the maker is called now.
    members
        The ids of its rows.
    by
        Who writes.
    """
    mine = [one for one in edition.changes if one.maker in members]
    if not mine:
        raise bad("MAKER", maker, f"a maker of whom edition {edition.number} says something otherwise")
    where = f", at {edition.address}" if edition.address else ""
    lead = f"Edition {edition.number} of {edition.title}{where}, changes what is said of you:"
    ask = 'Is it right now? What you mark "For print" is printed uncut in the next edition, up to 150 words.'
    return _text([f"To {maker}, {day(edition.on)}", lead, *(_line(one) for one in mine), ask, by])


def _line(one: ToldChange) -> str:
    before = f'Before: "{one.before}"' if one.before else ""
    now = f'Now: "{one.now}"' if one.now else ""
    return " ".join(part for part in (f"- {one.about}: {one.how}.", before, now, one.reason) if part)


def _text(paragraphs: Iterable[str]) -> str:
    return "\n\n".join(_wrapped(paragraphs)) + "\n"


def _wrapped(paragraphs: Iterable[str]) -> Iterator[str]:
    for one in paragraphs:
        indent = "  " if one.startswith("- ") else ""
        yield textwrap.fill(
            harmless(one_line(one)), WIDTH, subsequent_indent=indent, break_on_hyphens=False, break_long_words=False
        )
