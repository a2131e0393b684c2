"""What was tested, with everything a finding needs to know about it: from SQL straight into columns.

A read holds off those who write. So observations are fetched in short parts, and what was graded in between is read
after, as is what was graded since the reading before. Where anything else was written, the reading begins anew; where
that goes on and on, it is done in one part.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import tzinfo
from functools import cached_property
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, and_, func, or_, select

from qcledger.clock import day_of, sittings
from qcledger.errors import bad
from qcledger.ledger.collector import resting
from qcledger.ledger.doubts import Circumstances, late, mark_seconds
from qcledger.ledger.fetched import Columns, Fetched, as_kept
from qcledger.ledger.identity import Identity, identity
from qcledger.ledger.own import same_tester, supersedes
from qcledger.ledger.queries import papers, reference_papers, specimens, void_sessions
from qcledger.ledger.readmodels import batches, rows_equal, testers
from qcledger.ledger.rubrics import parsed
from qcledger.ledger.standing import Testers
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE
from qcledger.ledger.undried import undried
from qcledger.ledger.zones import Zones
from qcledger.records import (
    Comparison,
    Observation,
    Paint,
    Photo,
    RubricText,
    Session,
    TestedRow,
    TestedRows,
    Told,
    Trial,
)
from qcledger.rubric.continued import continued
from qcledger.vocab import Role

Reading = Callable[[], AbstractContextManager[Connection]]
"""Gives a connection that sees one state of the ledger, for as long as it is held."""

PART = 1000
"""Observations fetched at a time: some 15 ms; and entries written since a reading that are worth reading after it."""
TRIES = 3
"""How often a reading begins before it is done in one part."""

_GRADED = frozenset({Trial.TABLE, Observation.TABLE, Photo.TABLE})
"""Tables whose new rows change nothing of what was read before, but for the observations they supersede."""


@dataclass(frozen=True, slots=True)
class Filter:
    """Which observations are asked for.

    Parameters
    ----------
    comparison
        Only what was observed in its sessions, and what was observed outside any session (at unpacking, in older
        notes) on its paints.
    blind
        Also what was observed in a session that is still blind: even a count by maker would tell, grade by grade,
        what a code stands for.
    criterion
        The key of the only criterion wanted: the newest, where older ones count together with it.
    """

    comparison: str | None = None
    blind: bool = False
    criterion: str | None = None


@dataclass(frozen=True, slots=True)
class _Context:
    """What many observations share, by id: looked up once, not joined to each of a million rows."""

    comparisons: Mapping[str, Comparison]
    sessions: Mapping[str, Session]
    void: frozenset[str]
    papers: Mapping[str, frozenset[str]]
    specimens: Columns
    circumstances: Circumstances
    undried: frozenset[tuple[str, str]]
    zones: Zones
    whose: Testers
    reference: Mapping[str, str | None]
    continued: Mapping[tuple[str, str], str]
    sittings: Mapping[str, str]


@dataclass(frozen=True)
class _Read:
    """Everything that was tested, as of the daybooks' last numbers `ends`."""

    ends: Mapping[str, int]
    context: _Context
    found: Columns
    late: Collection[str]

    @cached_property
    def rows(self) -> TestedRows:
        """All current observations with their circumstances, in the order of their ids."""
        with resting():
            return TestedRows(_with_circumstances(self.found, self.context, self.late))

    def some(self, asked: Filter) -> TestedRows:
        """Return the rows that are asked for."""
        rows, context = self.rows, self.context
        blind = {one.id for one in context.sessions.values() if one.is_blind}
        if blind and not asked.blind:
            rows = rows.where(lambda session: session not in blind, "session")
        if asked.criterion is not None:
            rows = rows.where(asked.criterion.__eq__, "criterion")
        if asked.comparison is None:
            return rows
        if asked.comparison not in context.comparisons:
            raise bad("comparison", asked.comparison, "the id of a comparison in this ledger")
        own, paints = asked.comparison, frozenset(context.comparisons[asked.comparison].paints)
        return rows.where(
            lambda session, comparison, paint: comparison == own if session else paint in paints,
            *("session", "comparison", "paint"),
        )


class Reader:
    """Reads what was tested, and keeps it: whoever asks next waits only for what was written since.

    Parameters
    ----------
    reading
        Gives a connection; between two of them a save has its turn.
    """

    def __init__(self, reading: Reading) -> None:
        self._reading = reading
        self._kept: _Read | None = None

    def read(self, asked: Filter) -> TestedRows:
        """Return each current observation with its circumstances, in the order of their ids.

        Raises
        ------
        BadInput
            When there is no such comparison.
        """
        self._kept = self._now()
        return self._kept.some(asked)

    def forget(self) -> None:
        """Read everything anew next time: the tables were written again from the entries."""
        self._kept = None

    def _now(self) -> _Read:
        read = self._kept
        for _ in range(TRIES):
            with resting():
                read = self._after(read or self._begun())
            if read is not None:
                return read
        with self._reading() as connection:
            context = replace(_context(connection), sittings=_sittings(connection))
            found = Fetched(_FETCHING, _EACH_ITS_OWN)
            found.add(connection.execute(_CURRENT))
            return _Read(_ends(connection), context, found.columns, frozenset(late(connection)))

    def _begun(self) -> _Read:
        """Read everything, in parts."""
        with self._reading() as connection:
            kept = rows_equal(connection, RubricText, {})
        for one in kept:
            parsed(one)  # once a process, and not while the database is held: it takes a quarter of a second
        with self._reading() as connection:
            ends, context = _ends(connection), _context(connection)
        with self._reading() as connection:
            context = replace(context, sittings=_sittings(connection))
        return _Read(ends, context, *self._in_parts())

    def _in_parts(self) -> tuple[Columns, set[str]]:
        """Return observations, and those of them that are dated late; between the parts a save has its turn."""
        found, dated_late = Fetched(_FETCHING, _EACH_ITS_OWN), set[str]()
        ids, part = TABLE[Observation.TABLE].c.id, _CURRENT.limit(PART)
        while True:
            with self._reading() as connection:
                begin = len(found)
                found.add(connection.execute(part))
                some = found.columns["id"][begin:]
                if some:
                    dated_late |= set(late(connection, and_(ids >= some[0], ids <= some[-1])))
            if len(some) < PART:
                return found.columns, dated_late
            part = _CURRENT.where(ids > some[-1]).limit(PART)

    def _after(self, read: _Read) -> _Read | None:
        """Return what was read with what grading wrote since; None where more was written than that."""
        with self._reading() as connection:
            ends = _ends(connection)
            came = _graded_since(connection, read.ends, ends)
            if came is None:
                return None
            if not any(came.values()):
                return read
            found, dated_late = _with_those(connection, read.found, came[Observation.TABLE])
            context = replace(read.context, sittings=_sittings(connection))
        return _Read(ends, context, found, dated_late.union(read.late))


def _ends(connection: Connection) -> dict[str, int]:
    """Return the number of each daybook's last entry."""
    last = select(ENTRY.c.daybook, func.max(ENTRY.c.seq).label("last")).group_by(ENTRY.c.daybook)
    return {row.daybook: row.last for row in connection.execute(last)}


def _graded_since(
    connection: Connection, before: Mapping[str, int], after: Mapping[str, int]
) -> dict[str, set[str]] | None:
    """Return the rows that grading wrote meanwhile, by table; None where more was written than that."""
    came: dict[str, set[str]] = {table: set() for table in _GRADED}
    if after == before:
        return came
    if after.keys() != before.keys() or sum(after.values()) - sum(before.values()) > PART:
        return None
    new = or_(*(and_(ENTRY.c.daybook == book, ENTRY.c.seq > number) for book, number in before.items()))
    for kind, subject, replaces in connection.execute(select(*ENTRY.c["kind", "subject", "replaces"]).where(new)):
        if kind not in _GRADED or replaces:
            return None
        came[kind].add(subject)
    return came


def _with_those(connection: Connection, found: Columns, came: Collection[str]) -> tuple[Columns, set[str]]:
    """Return columns with the observations that came, less those they supersede; and which came dated late."""
    seen, dated_late, new = TABLE[Observation.TABLE], set[str](), Fetched(_FETCHING, _EACH_ITS_OWN)
    newer, gone = seen.alias("instead"), set(came)
    for ids in batches(sorted(came)):
        new.add(connection.execute(_CURRENT.where(seen.c.id.in_(ids))))
        older = select(seen.c.id).join_from(seen, newer, supersedes(newer, seen)).where(newer.c.id.in_(ids))
        gone.update(connection.execute(older).scalars())
        dated_late |= set(late(connection, seen.c.id.in_(ids)))
    all_ids, number = [*found["id"], *new.columns["id"]], len(found["id"])
    stay = (place for place, one in enumerate(all_ids) if place >= number or one not in gone)
    order = sorted(stay, key=all_ids.__getitem__)
    columns = {name: [*column, *new.columns[name]] for name, column in found.items()}
    return {name: list(map(column.__getitem__, order)) for name, column in columns.items()}, dated_late


def _context(connection: Connection) -> _Context:
    """Return what many observations share, without the sittings, which take longest."""
    known = identity(connection)
    return _Context(
        comparisons={row.id: _with_united(row, known) for row in rows_equal(connection, Comparison, {})},
        sessions={row.id: row for row in rows_equal(connection, Session, {})},
        void=void_sessions(connection),
        papers=papers(connection),
        specimens=specimens(connection, known),
        circumstances=Circumstances.of(connection),
        undried=frozenset(undried(connection)),
        zones=Zones(connection, Observation.TABLE),
        whose=testers(connection),
        reference=reference_papers(connection),
        continued=continued(map(parsed, rows_equal(connection, RubricText, {}))),
        sittings={},
    )


def _fetching() -> dict[str, ColumnElement[Any]]:
    """Return what is fetched of each observation: its own, its trial's, and where that was on a sheet."""
    seen, trial = TABLE[Observation.TABLE], TABLE[Trial.TABLE]
    own = ("id", "trial", "criterion", "rubric", "grade", "choice", "reading", "censored", "not_testable", "at")
    return {
        **{name: seen.c[name] for name in (*own, "tester", DAYBOOK)},
        "trial_at": trial.c.at,
        **{name: trial.c[name] for name in ("occasion", "mixed_with", "session", "specimen")},
        "trial_book": trial.c[DAYBOOK],
        "role": TABLE["run_row"].c.role,
        "paper": TABLE["sheet"].c.paper,
    }


_FETCHING = _fetching()
_EACH_ITS_OWN = ("id", "reading")
"""What is hardly ever the same in two rows."""


def _current() -> Select[Any]:
    """Select the observations that no other supersedes, with their trial, place on the run sheet and paper."""
    observation, trial = TABLE[Observation.TABLE], TABLE[Trial.TABLE]
    newer, run_row, sheet = observation.alias("newer"), TABLE["run_row"], TABLE["sheet"]
    joined = (
        observation.join(trial, trial.c.id == observation.c.trial)
        .outerjoin(newer, supersedes(newer, observation))
        .outerjoin(run_row, run_row.c.id == trial.c.run_row)
        .outerjoin(sheet, sheet.c.id == run_row.c.sheet)
    )
    return select(*as_kept(_FETCHING)).select_from(joined).where(newer.c.id.is_(None)).order_by(observation.c.id)


_CURRENT = _current()


def _with_united(comparison: Comparison, known: Identity) -> Comparison:
    """Return a comparison with every paint that counts as one with its own."""
    paints = (one for paint in comparison.paints for one in known.members(Paint.TABLE, paint))
    return replace(comparison, paints=tuple(dict.fromkeys(paints)))


def _sittings(connection: Connection) -> dict[str, str]:
    """Return for each trial outside a session its sitting: the first trial of a tester's run of work.

    Whichever part of a ledger is asked for, all of a tester's work counts for where a run ends. Two who are named in
    one tester's daybooks do not sit together; whom another daybook names in a trial says nothing.
    """
    trial, observation, whose = TABLE["trial"], TABLE["observation"], testers(connection)
    own = and_(observation.c.trial == trial.c.id, same_tester(observation.c[DAYBOOK], trial.c[DAYBOOK]))
    wanted = (
        select(*trial.c["id", "at", DAYBOOK], func.min(observation.c.tester).label("tester"))
        .select_from(trial.outerjoin(observation, own))
        .where(trial.c.session.is_(None))
        .group_by(*trial.c["id", "at", DAYBOOK])
        .order_by(trial.c.at, trial.c.id)
    )
    by_tester: dict[tuple[str, str | None], list[Any]] = defaultdict(list)
    for row in connection.execute(wanted):
        by_tester[whose.of_daybook(row.daybook), row.tester].append(row)
    found: dict[str, str] = {}
    for rows in by_tester.values():
        first: dict[int, str] = {}
        for row, number in zip(rows, sittings([row.at for row in rows]), strict=True):
            found[row.id] = first.setdefault(number, row.id)
    return found


def _with_circumstances(found: Columns, context: _Context, late: Collection[str]) -> dict[str, Sequence[Any]]:
    """Return a column for each field of a tested row."""
    places, zones, session, trial = range(len(found["id"])), context.zones, found["session"], found["trial"]
    place_of = {one: place for place, one in enumerate(context.specimens["specimen"])}
    specimens = list(map(place_of.__getitem__, found["specimen"]))
    sessions = list(map(context.sessions.get, session))

    def zone(place: int) -> tzinfo | None:
        return zones.of(found[DAYBOOK][place], found["id"][place], found["occasion"][place])

    columns: dict[str, Sequence[Any]] = {
        **{name: Told(told.__getitem__, specimens) for name, told in context.specimens.items()},
        **{name: found[name] for name in _FETCHING if name in TestedRow.__slots__},
        "observation": found["id"],
        "why_not": found["not_testable"],
        "not_testable": Told(_is_told, found["not_testable"]),
        "mixed": Told(_is_told, found["mixed_with"]),
        "own_trial": list(map(context.whose.same, found[DAYBOOK], found["trial_book"])),
        "role": Told(lambda role: role or Role.SPECIMEN, found["role"]),
        "session_code": Told(lambda one: one and one.code, sessions),
        "blinding": Told(lambda one: one and one.blinding, sessions),
        "comparison": Told(lambda one: one and one.comparison, sessions),
        "void": Told(context.void.__contains__, session),
        "on_reference": list(map(_OnPaper(context).__getitem__, zip(session, found["paper"], strict=True))),
        "day": Told(lambda place: day_of(found["trial_at"][place], zone(place)), places),
        "sitting": Told(lambda place: session[place] or context.sittings[trial[place]], places),
        "undried": Told(lambda place: (session[place], found["specimen"][place]) in context.undried, places),
    }
    if newer := context.continued:
        columns["criterion"] = [
            newer.get(scale, scale[1]) for scale in zip(found["rubric"], found["criterion"], strict=True)
        ]
    columns["doubt"] = mark_seconds(columns, context.circumstances.doubts(found, zone, late))
    return columns


def _is_told(value: object) -> bool:
    return value is not None


class _OnPaper(dict[tuple[str | None, str | None], bool]):
    """Whether a trial was on the reference paper, by its session and its paper.

    Without a place on a sheet its whole session's papers tell; without a session there is no reference.
    """

    def __init__(self, context: _Context) -> None:
        self._context = context

    def __missing__(self, key: tuple[str | None, str | None]) -> bool:
        session, paper = self._context.sessions.get(key[0] or ""), key[1]
        wanted = None
        if session is not None:
            whole = self._context.comparisons[session.comparison].reference_paper
            wanted = self._context.reference.get(session.id, whole)
            papers = {paper} if paper else self._context.papers.get(session.id, frozenset())
        self[key] = wanted is None or papers == {wanted}
        return self[key]
