"""Merging: no row that belongs to a daybook is made by two.

A row's first entry says whose it is. Where a daybook that comes in made a first entry under an id under which another
tester's daybook here made one, or one tester's two daybooks made it differently, they are two things: the merge is
refused, whichever of the two ledgers takes in the other. An entry without anything it replaces is a first one unless
its own ledger had an earlier one of the same row: before version 3 an amendment named nothing.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields

from sqlalchemy import Connection, select

from qcledger.errors import Problem, Several
from qcledger.ledger.called import Get
from qcledger.ledger.plainly import PlainRows, plainly, row_plainly, value_plainly
from qcledger.ledger.readmodels import about, batches, decoded, row_of, testers, written_of
from qcledger.ledger.standing import RowStanding as Stands
from qcledger.ledger.standing import Testers, owner
from qcledger.ledger.tables import ENTRY
from qcledger.records import SHARED, TABLES, Daybook, Entry, Lot, Paint, Range, Record, RunRow, Session, Trial

Row = tuple[str, str]
SHOWN = 5
"""Rows made by two daybooks that are named; where whole sheets met there are thousands."""


def refuse_second_firsts(
    connection: Connection, new: Sequence[Entry], books: Mapping[str, Sequence[Entry]], rows: PlainRows
) -> None:
    """Refuse new entries that make a row which another daybook here has made otherwise.

    Parameters
    ----------
    connection
        The transaction; nothing of `new` is written yet.
    new
        The entries that are not here yet.
    books
        Everything that comes in, by daybook.
    rows
        Gives what the rows are called.

    Raises
    ------
    BadInput
        With a problem for each such row: what it is, whose both are, and both values.
    """
    found = sorted(_second_firsts(connection, new, books, rows), key=lambda one: one[0])
    problems = [problem for _, problem in found]
    if len(problems) > SHOWN:
        more = Problem(f"{len(problems) - SHOWN} more rows", "made by two daybooks", "one daybook's under one id")
        problems = [*problems[:SHOWN], more]
    if problems:
        raise Several(problems)


def _second_firsts(
    connection: Connection, new: Sequence[Entry], books: Mapping[str, Sequence[Entry]], rows: PlainRows
) -> Iterator[tuple[bool, Problem]]:
    """Yield each such row, and before it whether both daybooks say the same: those who differ are named first."""
    earliest = _earliest(books)
    firsts = [entry for entry in new if not entry.replaces and earliest[entry.kind, entry.subject] is entry]
    owned = [entry for entry in firsts if TABLES.get(entry.kind) not in SHARED]
    known = _here(connection, owned)
    whose = _all_testers(connection, books) if known else Testers({})
    for entry in (one for one in owned if (one.kind, one.subject) in known):
        here = [one for one in about(connection, entry.kind, entry.subject) if one.daybook != entry.daybook]
        first = next((one for one in here if not one.replaces), None)
        if first is None or first.body is None or entry.body is None:
            continue
        mine, theirs = decoded(first), decoded(written_of(entry))
        if mine != theirs or not whose.same(first.daybook, entry.daybook):
            yield mine == theirs, two(mine, whose.name(first.daybook), theirs, whose.name(entry.daybook), rows.get)


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
    """Return of each row, among the entries that come in, the first that replaces nothing."""
    found: dict[Row, Entry] = {}
    for entry in sorted((one for book in books.values() for one in book if not one.replaces), key=_order):
        found.setdefault((entry.kind, entry.subject), entry)
    return found


def _order(entry: Entry) -> tuple[object, ...]:
    return entry.at, entry.daybook, entry.seq


def _all_testers(connection: Connection, books: Mapping[str, Sequence[Entry]]) -> Testers:
    """Return the testers here and those that come in."""
    coming = (decoded(written_of(book[0])) for book in books.values() if book[0].body is not None)
    found = {book.id: book for book in coming if isinstance(book, Daybook)}
    return Testers({**found, **testers(connection).books})


def two(mine: Record, my_name: str, theirs: Record, their_name: str, get: Get) -> Problem:
    """Return in words that two daybooks made one row, by the first field in which they differ, and whose each is.

    Of a place of a sheet that is still blind the specimens are not told: its code stands there too.
    """
    differ = [one.name for one in fields(mine) if getattr(mine, one.name) != getattr(theirs, one.name)]  # type: ignore[arg-type]
    if differ:
        name = differ[0].replace("_", " ")
        if differ[0] in _SPECIMENS and any(_is_hidden(one, get) for one in (mine, theirs)):
            found = f"one {name} of {my_name}, and another of {their_name}"
        else:
            values = [value_plainly(type(mine), differ[0], getattr(one, differ[0]), get) for one in (mine, theirs)]
            found = f"{name} '{values[0]}' of {my_name}, and '{values[1]}' of {their_name}"
    else:
        found = f"the same of {my_name}, and of {their_name}"
    allowed = "one daybook's under one id; nothing was merged"
    return Problem(plainly(mine, get), f"made by two daybooks: {found}", allowed)


_SPECIMENS = ("specimen", "mixed_with")


def _is_hidden(row: Record, get: Get) -> bool:
    """Say whether a row tells what stands at a place of a session that is still blind, or one that is not known."""
    id_ = getattr(row, "session", None) if isinstance(row, RunRow | Trial) else None
    session = get(Session.TABLE, id_) if id_ is not None else None
    return id_ is not None and (not isinstance(session, Session) or session.is_blind)


def owners(connection: Connection, entries: Sequence[Entry]) -> dict[Row, str]:
    """Return the daybook that each row here, of those that entries speak of, belongs to before they are written."""
    owned = [entry for entry in entries if TABLES.get(entry.kind) not in SHARED]
    return {row: owner(about(connection, *row)) for row in _here(connection, owned)}


def refuse_other_owners(connection: Connection, before: Mapping[Row, str], rows: PlainRows) -> None:
    """Refuse entries, written by now, that would make a row here another tester's: one dated before its first, say.

    Raises
    ------
    BadInput
        With a problem for each such row: whose it is, and whose it would be.
    """
    whose, problems = testers(connection), []
    for (kind, subject), held in before.items():
        now = owner(about(connection, kind, subject))
        if not whose.same(held, now):
            found = f"an entry by which it is one of {whose.name(now)}"
            name = row_plainly(kind, subject, rows.get)
            problems.append(Problem(name, found, f"entries that leave it with {whose.name(held)}"))
    if problems:
        raise Several(problems)


HOMES: Mapping[type[Record], tuple[str, ...]] = {Paint: ("maker",), Range: ("maker",), Lot: ("paint", "format")}
"""The fields of shared things by which evidence hangs together."""


def homes(connection: Connection, entries: Sequence[Entry]) -> dict[Row, Stands]:
    """Return how the shared rows here stand, of those that entries speak of, which hang on another row."""
    kinds, whose = {kind.TABLE for kind in HOMES}, testers(connection)
    known = _here(connection, [entry for entry in entries if entry.kind in kinds])
    rows = {row: row_of(connection, *row, whose) for row in known}
    return {key: row for key, row in rows.items() if row is not None}


def refuse_other_homes(connection: Connection, before: Mapping[Row, Stands], rows: PlainRows) -> None:
    """Refuse entries, written by now, by which another tester hangs a shared thing on another one: a paint, say.

    Raises
    ------
    BadInput
        With a problem for each such row and field.
    """
    whose, problems = testers(connection), []
    for (kind, subject), stood in before.items():
        row = row_of(connection, kind, subject, whose)
        if row is None or whose.same(stood.daybook, row.daybook):
            continue
        for field in HOMES[type(stood.record)]:
            now, then = getattr(row.record, field), getattr(stood.record, field)
            if now != then:
                words = [value_plainly(type(row.record), field, value, rows.get) for value in (now, then)]
                found, allowed = (
                    f"'{word}' of {whose.name(book)}"
                    for word, book in zip(words, (row.daybook, stood.daybook), strict=True)
                )
                problems.append(Problem(f"{plainly(stood.record, rows.get)}, {field}", found, allowed))
    if problems:
        raise Several(problems)
