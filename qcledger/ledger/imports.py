"""Whose rows are whose, and what a tester brought in, over all the daybooks he writes in."""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import cast

from sqlalchemy import Connection, func, or_, select

from qcledger.errors import bad
from qcledger.ledger.codec import with_fields
from qcledger.ledger.decided import decisions
from qcledger.ledger.own import supersedes
from qcledger.ledger.readmodels import (
    IN_ORDER,
    Key,
    about,
    batches,
    decoded,
    entry_from,
    lookup,
    rows_equal,
    testers,
    written_of,
)
from qcledger.ledger.standing import WrittenEntry, whose
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE, WHOSE
from qcledger.ledger.zones import Zones
from qcledger.records import TABLES, Daybook, Decision, Import, Observation, Record, RunRow, Specimen, Trial
from qcledger.vocab import DecisionKind


@dataclass(frozen=True, slots=True)
class CameIn:
    """One import with the entry that made it.

    Parameters
    ----------
    row
        The import.
    at, zone
        When it came in, and the time zone its daybook was in then; None where that has none.
    seq
        The number of its entry in its daybook.
    book
        The daybook it is in.
    """

    row: Import
    at: datetime
    zone: tzinfo | None
    seq: int
    book: Daybook


def came_in(connection: Connection) -> list[CameIn]:
    """Return every import of a ledger, of whichever tester, the first one first."""
    made: dict[str, tuple[datetime, int]] = {}
    entries = select(*ENTRY.c["subject", "daybook", "at", "seq"]).where(ENTRY.c.kind == Import.TABLE)
    books, zones = testers(connection).books, Zones(connection, Import.TABLE)
    table = TABLE[Import.TABLE]
    rows = {row["id"]: row for row in connection.execute(select(table)).mappings()}
    for subject, daybook, at, seq in connection.execute(entries.order_by(*IN_ORDER)):
        if subject in rows and rows[subject][DAYBOOK] == daybook:
            made.setdefault(subject, (at, seq))
    return [
        CameIn(with_fields(Import, row), at, zones.of(row[DAYBOOK], subject), seq, books[row[DAYBOOK]])
        for subject, (at, seq) in made.items()
        for row in (rows[subject],)
    ]


def brought_with(connection: Connection, observations: Collection[str]) -> dict[str, CameIn]:
    """Return the import that observations came with, by their ids; an amendment came with what it amends."""
    came = came_in(connection)
    if not came:
        return {}
    first, found = _firsts(connection, observations), dict[str, CameIn]()
    at_once: dict[tuple[str, datetime], list[CameIn]] = defaultdict(list)
    for one in came:
        at_once[one.book.id, one.at].append(one)
    entries = select(*ENTRY.c["subject", "daybook", "at", "seq"]).where(ENTRY.c.kind == Observation.TABLE)
    made: dict[str, CameIn] = {}
    for batch in batches(sorted(set(first.values()))):
        for subject, daybook, at, seq in connection.execute(entries.where(ENTRY.c.subject.in_(batch))):
            before = [one for one in at_once.get((daybook, at), ()) if one.seq < seq]
            made |= {subject: before[-1]} if before else {}
    found |= {one: made[begins] for one, begins in first.items() if begins in made}
    return found


def _firsts(connection: Connection, observations: Collection[str]) -> dict[str, str]:
    """Return the first of the chain of amendments that each observation ends, by its id."""
    older = dict[str, str | None]()
    wanted = set(observations)
    while wanted:
        rows = lookup(connection, Observation.TABLE, wanted)
        older |= {id_: cast(Observation, rows[id_]).supersedes if id_ in rows else None for id_ in wanted}
        wanted = {one for one in older.values() if one is not None} - older.keys()
    return {one: _end(one, older) for one in observations}


def _end(one: str, links: Mapping[str, str | None]) -> str:
    """Return where a chain ends; in a circle, the last before it closes."""
    seen = {one}
    while (after := links.get(one)) is not None and after not in seen:
        one = after
        seen.add(one)
    return one


def came_twice(connection: Connection) -> list[tuple[CameIn, ...]]:
    """Return the imports of one content that stand in several daybooks, and each brought in its pieces or tests.

    Two people who bring in one sheet get two of each piece, for a piece is each tester's own.
    """
    out = taken_back(connection)
    alike: dict[str, list[CameIn]] = defaultdict(list)
    for one in came_in(connection):
        if one.row.sha256 is not None and one.row.id not in out:
            alike[one.row.sha256].append(one)
    several = (some for some in alike.values() if len({one.book.id for one in some}) > 1)
    return [twice for some in several if (twice := _twice(connection, some))]


def _twice(connection: Connection, alike: Sequence[CameIn]) -> tuple[CameIn, ...]:
    brought = {one.row.id: {entry.kind for entry in brought_in(connection, one.row.id)} for one in alike}
    for kind in (Specimen.TABLE, Trial.TABLE):
        having = tuple(one for one in alike if kind in brought[one.row.id])
        if len({one.book.id for one in having}) > 1:
            return having
    return ()


def used(connection: Connection, specimens: Collection[str]) -> Iterator[tuple[str, Trial | RunRow]]:
    """Yield each specimen of these with a trial of it, alone or in a mix, or a place of a run sheet that it has."""
    trial, place = TABLE[Trial.TABLE], TABLE[RunRow.TABLE]
    for batch in batches(sorted(specimens)):
        among, mixed = trial.c.specimen.in_(batch), trial.c.mixed_with.in_(batch)
        for row in connection.execute(select(trial).where(or_(among, mixed))).mappings():
            tried = with_fields(Trial, row)
            yield from ((one, tried) for one in (tried.specimen, tried.mixed_with) if one in set(batch))
        for row in connection.execute(select(place).where(place.c.specimen.in_(batch))).mappings():
            yield row["specimen"], with_fields(RunRow, row)


def seen_in(connection: Connection, trials: Collection[str]) -> dict[str, list[str]]:
    """Return the ids of what was observed in trials, by trial."""
    seen, found = TABLE[Observation.TABLE], defaultdict[str, list[str]](list)
    for batch in batches(sorted(trials)):
        for id_, trial in connection.execute(select(*seen.c["id", "trial"]).where(seen.c.trial.in_(batch))):
            found[trial].append(id_)
    return dict(found)


def standing(connection: Connection, observations: Collection[str]) -> dict[str, Observation]:
    """Return what stands at the places of observations, by their ids and by their own testers' word, in few steps."""
    older = TABLE[Observation.TABLE]
    newer = older.alias("later")
    links, wanted = dict[str, str](), set(observations)
    walked = set(wanted)
    while wanted:
        found = dict[str, str]()
        pairs = select(older.c.id, newer.c.id).select_from(older.join(newer, supersedes(newer, older)))
        for batch in batches(sorted(wanted)):
            found |= {row[0]: row[1] for row in connection.execute(pairs.where(older.c.id.in_(batch)))}
        links |= found
        wanted = set(found.values()) - walked
        walked |= wanted
    ends = {one: _end(one, links) for one in observations}
    rows = lookup(connection, Observation.TABLE, set(ends.values()))
    return {one: cast(Observation, rows[end]) for one, end in ends.items() if end in rows}


def own(connection: Connection, kind: str, writer: Daybook) -> frozenset[str]:
    """Return the ids of the rows of a table that belong to the tester of a daybook, which may have yet to begin."""
    table, books = TABLE[kind], TABLE[Daybook.TABLE]
    mine = select(books.c.id).where(books.c[WHOSE] == whose(writer))
    return frozenset(connection.execute(select(table.c.id).where(table.c[DAYBOOK].in_(mine))).scalars())


def made_by(connection: Connection, kind: str, subject: str, writer: Daybook) -> str:
    """Return letters and name of the other tester a row belongs to; empty for the writer's own, or where none is."""
    table = TABLE[kind]
    daybook = connection.execute(select(table.c[DAYBOOK]).where(table.c.id == subject)).scalar()
    every = testers(connection)
    return "" if daybook is None or every.of_daybook(daybook) == whose(writer) else every.name(daybook)


def refuse_others(
    connection: Connection, records: Sequence[Record], writer: Daybook, planned_after: Collection[str]
) -> None:
    """Refuse an import that was planned before another one of this tester's came in: its rows may stand by now.

    Raises
    ------
    BadInput
        Naming the import that was planned, and the one that came in.
    """
    planned = {record.id: record for record in records if isinstance(record, Import)}
    others = own(connection, Import.TABLE, writer) - planned.keys() - set(planned_after)
    for row in rows_equal(connection, Import, {}):
        if row.id in others:
            name = next((one.name for one in planned.values()), "import")
            raise bad(name, f"another import, {row.name}, which came in meanwhile", "the same command once more")


def written_again(connection: Connection) -> frozenset[Key]:
    """Return the rows, as table and id, that several entries speak of."""
    row = ENTRY.c["kind", "subject"]
    found = connection.execute(select(*row).group_by(*row).having(func.count() > 1))
    return frozenset((table, subject) for table, subject in found)


def brought_in(connection: Connection, subject: str) -> list[WrittenEntry]:
    """Return the entries that came with an import, in their order: one save, its tables in their order.

    Entries of one save have one time; what a clock that stood still wrote later begins with an earlier table again,
    or with an import of its own.
    """
    first = next(iter(about(connection, Import.TABLE, subject)), None)
    if first is None:
        return []
    same = (ENTRY.c.daybook == first.daybook, ENTRY.c.at == first.at, ENTRY.c.seq > first.seq)
    order = {name: place for place, name in enumerate(TABLES)}
    found: list[WrittenEntry] = []
    for row in connection.execute(select(ENTRY).where(*same).order_by(ENTRY.c.seq)).mappings():
        entry = written_of(entry_from(row))
        last = order[found[-1].kind] if found else 0
        if entry.kind == Import.TABLE or order[entry.kind] < last:
            break
        found.append(entry)
    return found


def brought_again(connection: Connection, import_: str, specimens: Collection[str]) -> dict[str, Import]:
    """Return the other import that stands and brought each specimen in again, by specimen."""
    out, found = taken_back(connection), dict[str, Import]()
    for one in came_in(connection):
        if one.row.id == import_ or one.row.id in out:
            continue
        entries = (entry for entry in brought_in(connection, one.row.id) if entry.kind == Decision.TABLE)
        for entry in (entry for entry in entries if entry.body is not None):
            decided = cast(Decision, decoded(entry))
            if decided.kind is DecisionKind.REINSTATE and decided.subject in specimens:
                found[decided.subject] = one.row
    return found


def taken_back(connection: Connection) -> dict[str, Decision]:
    """Return the decision that took an import back, by import; none for one that was put back since."""
    kinds = (DecisionKind.VOID, DecisionKind.REINSTATE)
    last = {one.subject: one for one in decisions(connection, Import.TABLE, kinds=kinds)}
    return {subject: one for subject, one in last.items() if one.kind is DecisionKind.VOID}
