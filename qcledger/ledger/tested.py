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
from functools import cache, cached_property
from itertools import compress
from operator import lt
from operator import or_ as or_else
from typing import Any

from sqlalchemy import Connection, and_, func, or_, select

from qcledger.clock import day_of, sittings
from qcledger.errors import bad
from qcledger.ledger.collector import resting
from qcledger.ledger.doubts import Circumstances, ahead, late, mark_seconds
from qcledger.ledger.fetched import Asked, Columns, Fetched, joined, tuples
from qcledger.ledger.identity import Identity, identity
from qcledger.ledger.own import same_tester, supersedes
from qcledger.ledger.queries import of_specimens, papers, reference_papers, specimens, void_sessions
from qcledger.ledger.readmodels import batches, rows_equal, testers
from qcledger.ledger.rubrics import parsed
from qcledger.ledger.standing import Testers
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE
from qcledger.ledger.told import told
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

PART = 4000
"""Observations fetched at a time: some 12 ms; and entries written since a reading that are worth reading after it."""
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
class _Found:
    """Observations, and their trials, of each of which there is one, however many observations it has."""

    own: Columns
    trials: Columns

    @cached_property
    def of_trial(self) -> list[int]:
        """Where the trial of each observation stands among the trials."""
        place_of = {one: place for place, one in enumerate(self.trials["trial"])}
        return list(map(place_of.__getitem__, self.own["trial"]))

    def told(self, column: Sequence[Any]) -> Told:
        """Return for each observation what a column says of its trial."""
        return Told(column.__getitem__, self.of_trial)

    @property
    def columns(self) -> dict[str, Sequence[Any]]:
        """What is known of each observation, by what it tells."""
        return {**{name: self.told(column) for name, column in self.trials.items()}, **self.own}

    @property
    def perhaps_late(self) -> list[str]:
        """The observations that, or whose trials, may be dated after they were written down: hardly ever any."""
        ids, at, ahead = (self.own[name] for name in ("id", "at", "ahead"))
        return [*compress(ids, map(or_else, ahead, map(lt, at, self.told(self.trials["trial_at"]))))]


@dataclass(frozen=True)
class _Read:
    """Everything that was tested, as of the daybooks' last numbers `ends`."""

    ends: Mapping[str, int]
    context: _Context
    found: _Found
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
    name
        The ledger's, for what is said of values that this program never wrote.
    """

    def __init__(self, reading: Reading, name: str = "The ledger") -> None:
        self._reading, self._name = reading, name
        self._kept: _Read | None = None

    def read(self, asked: Filter) -> TestedRows:
        """Return each current observation with its circumstances, in the order of their ids.

        Raises
        ------
        BadInput
            When there is no such comparison.
        LedgerUnavailable
            When a value is none that this program wrote.
        """
        with told(self._name):  # values are read after the lock was let go
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
            context = _context(connection, of_specimens().fetched(connection))
            context = replace(context, sittings=_sittings(connection))
            own, trials = _own().fetched(connection), _of_trial().fetched(connection)
            return _Read(_ends(connection), context, _Found(own, trials), frozenset(late(connection)))

    def _begun(self) -> _Read:
        """Read everything, in parts."""
        with self._reading() as connection:
            kept = rows_equal(connection, RubricText, {})
        for one in kept:
            parsed(one)  # once a process, and not while the database is held: it takes a quarter of a second
        with self._reading() as connection:
            ends = _ends(connection)
        pieces = self._all(of_specimens())
        with self._reading() as connection:
            context = _context(connection, pieces)
        with self._reading() as connection:
            context = replace(context, sittings=_sittings(connection))
        return _Read(ends, context, *self._in_parts())

    def _in_parts(self) -> tuple[_Found, set[str]]:
        """Return observations, and those of them that are dated late; between the parts a save has its turn."""
        trials, own = (self._all(one) for one in (_of_trial(), _own()))
        if new := set(own["trial"]).difference(trials["trial"]):
            with self._reading() as connection:
                trials = joined(trials, _of_trial().of(connection, new))
        found, dated_late = _Found(own, trials), set[str]()
        if asked := found.perhaps_late:
            with self._reading() as connection:
                dated_late = _late_of(connection, asked)
        return found, dated_late

    def _all(self, what: Asked) -> Columns:
        """Return what is asked of all rows, a part at a time; nothing is made of a part while it is held."""
        found, part = Fetched(what), what.query.limit(PART)
        while True:
            with self._reading() as connection:
                rows = tuples(connection, part)
            found.add(rows)
            if len(rows) < PART:
                return found.columns
            part = what.after(rows[-1][0]).limit(PART)

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


def _with_those(connection: Connection, read: _Found, came: Collection[str]) -> tuple[_Found, set[str]]:
    """Return what was found with the observations that came, less those they supersede; and which are dated late."""
    seen, gone, new = TABLE[Observation.TABLE], set(came), _own().of(connection, came)
    newer = seen.alias("instead")
    for ids in batches(sorted(came)):
        older = select(seen.c.id).join_from(seen, newer, supersedes(newer, seen)).where(newer.c.id.in_(ids))
        gone.update(connection.execute(older).scalars())
    trials = _of_trial().of(connection, set(new["trial"]).difference(read.trials["trial"]))
    both, number = joined(read.own, new), len(read.own["id"])
    stay = (place for place, one in enumerate(both["id"]) if place >= number or one not in gone)
    order = sorted(stay, key=both["id"].__getitem__)
    own = {name: list(map(column.__getitem__, order)) for name, column in both.items()}
    return _Found(own, joined(read.trials, trials)), _late_of(connection, came)


def _late_of(connection: Connection, some: Collection[str]) -> set[str]:
    """Return which of some observations are dated after they were written down."""
    ids = TABLE[Observation.TABLE].c.id
    return {one for part in batches(sorted(some)) for one in late(connection, ids.in_(part))}


def _context(connection: Connection, pieces: Columns) -> _Context:
    """Return what many observations share, with what was fetched of their specimens, and without their sittings."""
    known = identity(connection)
    return _Context(
        comparisons={row.id: _with_united(row, known) for row in rows_equal(connection, Comparison, {})},
        sessions={row.id: row for row in rows_equal(connection, Session, {})},
        void=void_sessions(connection),
        papers=papers(connection),
        specimens=specimens(connection, known, pieces),
        circumstances=Circumstances.of(connection),
        undried=frozenset(undried(connection)),
        zones=Zones(connection, Observation.TABLE),
        whose=testers(connection),
        reference=reference_papers(connection),
        continued=continued(map(parsed, rows_equal(connection, RubricText, {}))),
        sittings={},
    )


@cache  # nobody asks who only opens a ledger
def _own() -> Asked:
    """Return what is asked of the observations that no other supersedes."""
    seen = TABLE[Observation.TABLE]
    newer = seen.alias("newer")
    names = ("id", "trial", "criterion", "rubric", "grade", "choice", "reading", "censored", "not_testable", "at")
    what = {**{name: seen.c[name] for name in (*names, "tester", DAYBOOK)}, "ahead": ahead(seen)}
    joined_ = seen.outerjoin(newer, supersedes(newer, seen))
    return Asked(what, joined_, newer.c.id.is_(None), apart=("id", "reading"))


@cache
def _of_trial() -> Asked:
    """Return what is asked of trials: their own, and where each was on a sheet."""
    trial, run_row, sheet = (TABLE[name] for name in (Trial.TABLE, "run_row", "sheet"))
    what = {
        "trial": trial.c.id,
        "trial_at": trial.c.at,
        **{name: trial.c[name] for name in ("occasion", "mixed_with", "session", "specimen")},
        "trial_book": trial.c[DAYBOOK],
        "role": run_row.c.role,
        "paper": sheet.c.paper,
    }
    placed = trial.outerjoin(run_row, run_row.c.id == trial.c.run_row).outerjoin(sheet, sheet.c.id == run_row.c.sheet)
    return Asked(what, placed, apart=("trial", "specimen"))


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


def _with_circumstances(read: _Found, context: _Context, late: Collection[str]) -> dict[str, Sequence[Any]]:
    """Return a column for each field of a tested row."""
    found, zones = read.columns, context.zones
    columns: dict[str, Sequence[Any]] = {
        **{name: column for name, column in found.items() if name in TestedRow.__slots__},
        **{name: read.told(column) for name, column in _of_trials(read.trials, context).items()},
    }
    place_of = {one: place for place, one in enumerate(context.specimens["specimen"])}
    of_trial = list(map(place_of.__getitem__, read.trials["specimen"]))
    specimens = list(map(of_trial.__getitem__, read.of_trial))
    books, own_places = (found[DAYBOOK], found["trial_book"]), range(len(found["id"]))

    def zone(place: int) -> tzinfo | None:
        return zones.of(found[DAYBOOK][place], found["id"][place], found["occasion"][place])

    columns |= {
        **{name: Told(told.__getitem__, specimens) for name, told in context.specimens.items()},
        "observation": found["id"],
        "why_not": found["not_testable"],
        "not_testable": Told(_is_told, found["not_testable"]),
        "own_trial": Told(lambda place: context.whose.same(books[0][place], books[1][place]), own_places),
        "day": Told(lambda place: day_of(found["trial_at"][place], zone(place)), own_places),
    }
    if newer := context.continued:
        columns["criterion"] = [
            newer.get(scale, scale[1]) for scale in zip(found["rubric"], found["criterion"], strict=True)
        ]
    columns["doubt"] = mark_seconds(columns, context.circumstances.doubts(found, zone, late))
    return columns


def _of_trials(trials: Columns, context: _Context) -> dict[str, Sequence[Any]]:
    """Return for each trial what its observations share."""
    ids, session, specimen = (trials[name] for name in ("trial", "session", "specimen"))
    sessions = list(map(context.sessions.get, session))
    return {
        "mixed": list(map(_is_told, trials["mixed_with"])),
        "role": [role or Role.SPECIMEN for role in trials["role"]],
        "session_code": [one and one.code for one in sessions],
        "blinding": [one and one.blinding for one in sessions],
        "comparison": [one and one.comparison for one in sessions],
        "void": list(map(context.void.__contains__, session)),
        "on_reference": list(map(_OnPaper(context).__getitem__, zip(session, trials["paper"], strict=True))),
        "sitting": Told(lambda place: session[place] or context.sittings[ids[place]], range(len(ids))),
        "undried": list(map(context.undried.__contains__, zip(session, specimen, strict=True))),
    }


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
