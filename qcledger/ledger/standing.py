"""Which of the entries about one row stands: one rule for what belongs to a daybook, one for what all share.

An *owned* row belongs to the tester whose daybook wrote its first entry. Each later entry names the hash of the entry
it replaces; what that tester's daybooks replaced by one another is an amendment, and the entry that none of them
replaces stands. Two that replace one entry are a dispute: the later stands until a tester settles it. What another
tester's daybook says of the row is a proposal, and changes nothing until its owner takes it over.

A *shared* row (`records.SHARED`) unites what each tester said of it last: the first tester's words, filled where they
say nothing by the next one's, and lists joined. Other differences stand side by side and are told by `sides`.

Entries written before version 3 name nothing; among one tester's, each replaces those before it that name nothing
either. One that says what the first said is that first once more, as where a folder was brought in again.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime
from itertools import groupby
from typing import Any

from qcledger.records import SHARED, TABLES, Comparison, Daybook, Record

Decode = Callable[["WrittenEntry"], Record]


@dataclass(frozen=True, slots=True)
class WrittenEntry:
    """One entry about a row, without its chain; `body` is None once it was redacted."""

    daybook: str
    seq: int
    kind: str
    subject: str
    at: datetime
    hash: str
    replaces: tuple[str, ...]
    body: str | None


def whose(book: Daybook) -> str:
    """Return a tester's letters and name in the form in which those of one tester are equal."""
    return f"{book.letters.casefold()}\n{book.tester.casefold()}"  # neither holds a line feed


@dataclass(frozen=True, slots=True)
class Testers:
    """Which daybooks are one tester's: those with the same letters and name, whatever their case."""

    books: Mapping[str, Daybook]

    @classmethod
    def of(cls, daybooks: Iterable[Daybook]) -> "Testers":
        """Return the testers of all daybooks of a ledger."""
        return cls({book.id: book for book in daybooks})

    def of_daybook(self, daybook: str) -> str:
        """Return who writes a daybook, in the form of `whose`; an unknown one is a tester of its own."""
        book = self.books.get(daybook)
        return whose(book) if book else daybook

    def name(self, daybook: str) -> str:
        """Return a tester's letters and name, for messages."""
        book = self.books.get(daybook)
        return book.signed if book else f"daybook {daybook}"

    def same(self, one: str, other: str) -> bool:
        """Say whether two daybooks are one tester's."""
        return one == other or self.of_daybook(one) == self.of_daybook(other)


@dataclass(frozen=True, slots=True)
class RowStanding:
    """How a row stands.

    Parameters
    ----------
    record
        What stands.
    daybook
        The daybook the row belongs to; of a shared row the first that spoke of it.
    entry
        The entry that stands; of a shared row the first tester's.
    rivals
        Of an owned row the entries that replace the same one and say something else: a dispute.
    proposals
        Of an owned row what other testers' daybooks say, and its owner has neither taken nor replaced.
    """

    record: Record
    daybook: str
    entry: WrittenEntry
    rivals: tuple[WrittenEntry, ...] = ()
    proposals: tuple[WrittenEntry, ...] = ()


def stands(entries: Sequence[WrittenEntry], testers: Testers, decode: Decode) -> RowStanding | None:
    """Return how a row stands by all entries about it, in the order of (time, daybook, number).

    None where no entry that could stand has its body.
    """
    if TABLES[entries[0].kind] in SHARED:
        return _united(entries, testers, decode)
    return _owned(entries, testers, decode)


def owner(entries: Sequence[WrittenEntry]) -> str:
    """Return the daybook an owned row belongs to: that of the first entry about it which replaces nothing."""
    return next((entry.daybook for entry in entries if not entry.replaces), entries[0].daybook)


def _owned(entries: Sequence[WrittenEntry], testers: Testers, decode: Decode) -> RowStanding | None:
    daybook = owner(entries)
    own = [entry for entry in entries if testers.same(entry.daybook, daybook)]
    gone = _replaced(own, entries)
    heads = _without_repeats(
        [entry for entry in own if entry.body is not None and entry.hash not in gone], own, decode
    )
    if not heads:
        return None
    last = heads[-1]
    record = decode(last)
    return RowStanding(
        record,
        daybook,
        last,
        tuple(entry for entry in heads[:-1] if decode(entry) != record),
        tuple(_open_proposals(entries, own, gone, record, decode)),
    )


def _without_repeats(heads: list[WrittenEntry], own: Sequence[WrittenEntry], decode: Decode) -> list[WrittenEntry]:
    """Leave out, beside others, what only says once more what the row's first entry said."""
    bare = [entry for entry in own if not entry.replaces and entry.body is not None]
    if len(heads) < 2 or not bare:
        return heads
    first = decode(bare[0])
    return [entry for entry in heads if entry.replaces or decode(entry) != first] or heads


def _replaced(own: Sequence[WrittenEntry], entries: Sequence[WrittenEntry]) -> frozenset[str]:
    """Return the hashes of all that an entry of `own` which has its body replaced, also by way of redacted ones."""
    by_hash = {entry.hash: entry for entry in entries}
    before: dict[str, tuple[str, ...]] = {}
    for place, entry in enumerate(own):
        before[entry.hash] = entry.replaces or tuple(older.hash for older in own[:place] if not older.replaces)
    gone: set[str] = set()
    wanted = [older for entry in own if entry.body is not None for older in before[entry.hash]]
    while wanted:
        one = wanted.pop()
        if one not in gone:
            gone.add(one)
            wanted += before.get(one) or (by_hash[one].replaces if one in by_hash else ())
    return frozenset(gone)


def _open_proposals(
    entries: Sequence[WrittenEntry], own: Sequence[WrittenEntry], gone: frozenset[str], record: Record, decode: Decode
) -> Iterable[WrittenEntry]:
    """Yield the last word of each other daybook that its owner has not answered and that says something else.

    Two daybooks that brought in the same row from one source made it both; the second said nothing new by that.
    """
    last = {entry.daybook: entry for entry in entries if entry.body is not None and entry not in own}
    made = {decode(entry) for entry in own if not entry.replaces and entry.body is not None} if last else set()
    for entry in last.values():
        said = decode(entry)
        if entry.hash not in gone and said != record and (entry.replaces or said not in made):
            yield entry


def _united(entries: Sequence[WrittenEntry], testers: Testers, decode: Decode) -> RowStanding | None:
    words = words_by_tester(entries, testers)
    if not words:
        return None
    record = decode(words[0])
    for other in words[1:]:
        record = _filled(record, decode(other))
    return RowStanding(record, words[0].daybook, words[0])


def words_by_tester(entries: Sequence[WrittenEntry], testers: Testers) -> list[WrittenEntry]:
    """Return each tester's last entry about a shared row that has its body, whoever spoke of it first first."""
    ranked = sorted(entries, key=lambda entry: bool(entry.replaces))  # stable: first entries before answers to them
    last: dict[str, WrittenEntry] = {}
    for entry in ranked:
        if entry.body is not None:
            last.setdefault(testers.of_daybook(entry.daybook), entry)
    for entry in entries:
        if entry.body is not None:
            last[testers.of_daybook(entry.daybook)] = entry
    return list(last.values())


DECIDES = frozenset({(Comparison, "reference_paper"), (Comparison, "closed_on")})
"""Fields of a shared row whose being empty says something, so that nobody else fills them."""


def _filled(record: Record, other: Record) -> Record:
    """Return a shared row with lists joined by another's, and filled by it where it says nothing."""
    changed: dict[str, Any] = {}
    for field in fields(record):  # type: ignore[arg-type]
        if (type(record), field.name) in DECIDES:
            continue
        mine, theirs = getattr(record, field.name), getattr(other, field.name)
        if isinstance(mine, tuple):
            changed[field.name] = tuple(dict.fromkeys((*mine, *theirs)))
        elif mine in (None, ""):
            changed[field.name] = theirs
    return replace(record, **changed)  # type: ignore[type-var]


@dataclass(frozen=True, slots=True)
class Side:
    """What one tester says of a field of a shared row, where testers differ."""

    field: str
    daybook: str
    value: Any


def sides(entries: Sequence[WrittenEntry], testers: Testers, decode: Decode) -> list[Side]:
    """Return for each field of a shared row in which testers differ what each says, whose word stands first."""
    if not entries:
        return []
    said = [(word.daybook, decode(word)) for word in words_by_tester(entries, testers)]
    found = []
    for field in fields(TABLES[entries[0].kind]):  # type: ignore[arg-type]
        values = {daybook: getattr(record, field.name) for daybook, record in said}
        spoken = [value for value in values.values() if value not in (None, "") and not isinstance(value, tuple)]
        if len(set(map(str, spoken))) > 1:
            found += [Side(field.name, daybook, value) for daybook, value in values.items()]
    return found


def by_row(entries: Iterable[WrittenEntry]) -> Iterable[list[WrittenEntry]]:
    """Yield the entries of each row of one table, given in the order of (subject, time, daybook, number)."""
    for _, of_row in groupby(entries, key=lambda entry: entry.subject):
        yield list(of_row)
