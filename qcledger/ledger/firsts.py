"""Merging: no row that belongs to a daybook is made by two.

A row's first entry says whose it is. Where a daybook that comes in made a first entry under an id under which another
daybook here made one, and they say different things, they are two things: the merge is refused, whichever of the two
ledgers takes in the other. An entry without anything it replaces is a first one unless its own ledger had an earlier
one of the same row: before version 3 an amendment named nothing.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields

from sqlalchemy import Connection, select

from qcledger.errors import BadInput, Problem
from qcledger.ledger.codec import CALLED
from qcledger.ledger.readmodels import about, batches, decoded, testers
from qcledger.ledger.standing import Testers, Written
from qcledger.ledger.tables import ENTRY
from qcledger.records import SHARED, TABLES, Daybook, Entry, Record
from qcledger.text import one_line, shorten

Row = tuple[str, str]


def refuse_second_firsts(connection: Connection, new: Sequence[Entry], books: Mapping[str, Sequence[Entry]]) -> None:
    """Refuse new entries that make a row which another daybook here has made otherwise.

    Parameters
    ----------
    connection
        The transaction; nothing of `new` is written yet.
    new
        The entries that are not here yet.
    books
        Everything that comes in, by daybook.

    Raises
    ------
    BadInput
        With a problem for each such row: what it is, whose both are, and both values.
    """
    problems = list(_second_firsts(connection, new, books))
    if problems:
        raise BadInput(problems)


def _second_firsts(
    connection: Connection, new: Sequence[Entry], books: Mapping[str, Sequence[Entry]]
) -> Iterator[Problem]:
    earliest = _earliest(books)
    firsts = [entry for entry in new if not entry.replaces and earliest[entry.kind, entry.subject] is entry]
    owned = [entry for entry in firsts if TABLES.get(entry.kind) not in SHARED]
    known = _here(connection, owned)
    whose: Testers | None = None
    for entry in (one for one in owned if (one.kind, one.subject) in known):
        here = [one for one in about(connection, entry.kind, entry.subject) if one.daybook != entry.daybook]
        first = next((one for one in here if not one.replaces), None)
        if first is None or first.body is None or entry.body is None:
            continue
        mine, theirs = decoded(first), decoded(_written(entry))
        if mine != theirs:
            whose = whose or _all_testers(connection, books)
            yield _two(mine, whose.name(first.daybook), theirs, whose.name(entry.daybook))


def _here(connection: Connection, entries: Sequence[Entry]) -> set[Row]:
    """Return the rows of these entries that are here already; a merge brings many, and hardly one of them is."""
    by_kind: dict[str, set[str]] = defaultdict(set)
    for entry in entries:
        by_kind[entry.kind].add(entry.subject)
    found: set[Row] = set()
    for kind, subjects in by_kind.items():
        for batch in batches(sorted(subjects)):
            wanted = select(ENTRY.c.subject).where(ENTRY.c.kind == kind, ENTRY.c.subject.in_(batch)).distinct()
            found |= {(kind, subject) for subject in connection.execute(wanted).scalars()}
    return found


def _earliest(books: Mapping[str, Sequence[Entry]]) -> dict[Row, Entry]:
    """Return the first entry about each row among those that come in."""
    found: dict[Row, Entry] = {}
    for entry in sorted((one for book in books.values() for one in book), key=_order):
        found.setdefault((entry.kind, entry.subject), entry)
    return found


def _order(entry: Entry) -> tuple[object, ...]:
    return entry.at, entry.daybook, entry.seq


def _written(entry: Entry) -> Written:
    return Written(*(getattr(entry, field.name) for field in fields(Written)))


def _all_testers(connection: Connection, books: Mapping[str, Sequence[Entry]]) -> Testers:
    """Return the testers here and those that come in."""
    coming = (decoded(_written(book[0])) for book in books.values() if book[0].body is not None)
    found = {book.id: book for book in coming if isinstance(book, Daybook)}
    return Testers({**found, **testers(connection).books})


def _two(mine: Record, my_name: str, theirs: Record, their_name: str) -> Problem:
    """Return in words that two daybooks made one row, by the first field in which they differ."""
    called = getattr(mine, CALLED.get(type(mine), "id"))
    field = next(one.name for one in fields(mine) if getattr(mine, one.name) != getattr(theirs, one.name))  # type: ignore[arg-type]
    values = [shorten(one_line(str(getattr(one, field))), 40) for one in (mine, theirs)]
    found = f"{field} '{values[0]}' of {my_name}, and '{values[1]}' of {their_name}"
    return Problem(
        f"{mine.TABLE} {shorten(one_line(str(called)), 40)}",
        f"made by two daybooks: {found}",
        "one daybook's under one id; nothing was merged",
    )
