"""What was tested, with everything a finding needs to know about it, read so that no save waits for it.

A read holds off those who write. So observations are fetched in short parts, nothing is built meanwhile, and what was
graded in between is read after. Where anything else was written, the reading begins anew; where that goes on and on,
it is done in one part.
"""

import gc
from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, replace
from datetime import tzinfo
from typing import Any

from sqlalchemy import Connection, Row, Select, and_, func, or_, select

from qcledger.clock import day_of, sittings
from qcledger.errors import bad
from qcledger.ledger.doubts import Circumstances, late, with_seconds
from qcledger.ledger.identity import Identity, identity
from qcledger.ledger.own import same_tester, supersedes
from qcledger.ledger.queries import is_blind, papers, reference_papers, specimens, void_sessions
from qcledger.ledger.readmodels import batches, rows_equal, testers
from qcledger.ledger.rubrics import parsed
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE
from qcledger.ledger.undried import undried
from qcledger.ledger.zones import Zones
from qcledger.records import Comparison, Observation, Paint, Photo, RubricText, Session, TestedRow, Trial
from qcledger.vocab import Doubt, Role

Reading = Callable[[], AbstractContextManager[Connection]]
"""Gives a connection that sees one state of the ledger, for as long as it is held."""

PART = 500
"""Observations fetched at a time: some 10 ms."""
TRIES = 3
"""How often a reading begins before it is done in one part."""

_GRADED = frozenset({Trial.TABLE, Observation.TABLE, Photo.TABLE})
"""Tables whose new rows change nothing of what was read before, but for the observations they supersede."""


@dataclass(frozen=True, slots=True)
class Asked:
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
        The key of the only criterion wanted.
    """

    comparison: str | None = None
    blind: bool = False
    criterion: str | None = None


def read(reading: Reading, asked: Asked) -> list[TestedRow]:
    """Return each current observation with its circumstances, in the order of their ids.

    Raises
    ------
    BadInput
        When there is no such comparison.
    """
    found, context = _fetched(reading, asked)
    return with_seconds([_tested(row, context) for row in found])


def doubtful_rows(reading: Reading) -> list[TestedRow]:
    """Return those of all tested rows that stand and do not count, building few others."""
    found, context = _fetched(reading, Asked())
    places: dict[tuple[str, str], int] = defaultdict(int)
    for row in found:
        places[row.trial, row.criterion] += 1
    built = (
        _tested(row, context)
        for row in found
        if places[row.trial, row.criterion] > 1 or context.doubt(row) is not None
    )
    return [row for row in with_seconds(list(built)) if row.doubt is not None]


@dataclass(frozen=True, slots=True)
class _Context:
    """What many observations share, by id: looked up once, not joined to each of a million rows."""

    comparisons: Mapping[str, Comparison]
    sessions: Mapping[str, Session]
    void: frozenset[str]
    papers: Mapping[str, frozenset[str]]
    specimens: Mapping[str, Mapping[str, Any]]
    circumstances: Circumstances
    undried: frozenset[tuple[str, str]]
    zones: Zones
    reference: Mapping[str, str | None]
    sittings: Mapping[str, str]
    late: Collection[str] = ()

    def zone(self, row: Row[Any]) -> tzinfo | None:
        """Return the zone an observation was written in; None where its daybook has none."""
        return self.zones.of(row.daybook, row.id, row.occasion)

    def doubt(self, row: Row[Any]) -> Doubt | None:
        """Return why an observation cannot have been so; None where it can."""
        return self.circumstances.doubt(row, self.zone(row), self.late)


def _fetched(reading: Reading, asked: Asked) -> tuple[list[Row[Any]], _Context]:
    """Return the observations as the database gives them, and what they share."""
    with reading() as connection:
        kept = rows_equal(connection, RubricText, {})
    for one in kept:
        parsed(one)  # once a process, and not while the database is held: it takes a quarter of a second
    for _ in range(TRIES):
        with reading() as connection:
            before, context = _ends(connection), _context(connection, asked)
        with reading() as connection:
            context = replace(context, sittings=_sittings(connection))
        wanted = _current(context, asked)
        found, dated_late = _in_parts(reading, wanted)
        with reading() as connection:
            came = _graded_since(connection, before)
            if came is None:
                continue
            if came[Trial.TABLE]:
                context = replace(context, sittings=_sittings(connection))
            dated_late |= _add(connection, wanted, found, came[Observation.TABLE])
        return [found[one] for one in sorted(found)], replace(context, late=dated_late)
    with reading() as connection:
        context = replace(_context(connection, asked), sittings=_sittings(connection), late=set(late(connection)))
        return list(connection.execute(_current(context, asked))), context


def _in_parts(reading: Reading, wanted: Select[Any]) -> tuple[dict[str, Row[Any]], set[str]]:
    """Return observations by id, and those of them that are dated late; between the parts a save has its turn."""
    found: dict[str, Row[Any]] = {}
    dated_late: set[str] = set()
    ids, part = TABLE[Observation.TABLE].c.id, wanted.limit(PART)
    while True:
        with _no_collecting(), reading() as connection:
            rows = connection.execute(part).all()
            if rows:
                dated_late |= set(late(connection, and_(ids >= rows[0].id, ids <= rows[-1].id)))
        found.update((row.id, row) for row in rows)
        if len(rows) < PART:
            return found, dated_late
        part = wanted.where(ids > rows[-1].id).limit(PART)


@contextmanager
def _no_collecting() -> Iterator[None]:
    """Let no garbage be looked for meanwhile: among many rows that takes ten times as long as a part."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _ends(connection: Connection) -> dict[str, int]:
    """Return the number of each daybook's last entry."""
    last = select(ENTRY.c.daybook, func.max(ENTRY.c.seq).label("last")).group_by(ENTRY.c.daybook)
    return {row.daybook: row.last for row in connection.execute(last)}


def _graded_since(connection: Connection, before: Mapping[str, int]) -> dict[str, set[str]] | None:
    """Return the rows that grading wrote meanwhile, by table; None where more was written than that."""
    came: dict[str, set[str]] = {table: set() for table in _GRADED}
    after = _ends(connection)
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


def _add(connection: Connection, wanted: Select[Any], found: dict[str, Row[Any]], came: Collection[str]) -> set[str]:
    """Put in the observations that came, take out those they supersede, and return those that are dated late."""
    seen, dated_late = TABLE[Observation.TABLE], set[str]()
    newer = seen.alias("instead")
    for ids in batches(sorted(came)):
        found.update((row.id, row) for row in connection.execute(wanted.where(seen.c.id.in_(ids))))
        older = select(seen.c.id).join_from(seen, newer, supersedes(newer, seen)).where(newer.c.id.in_(ids))
        for one in connection.execute(older).scalars():
            found.pop(one, None)
        dated_late |= set(late(connection, seen.c.id.in_(ids)))
    return dated_late


def _context(connection: Connection, asked: Asked) -> _Context:
    """Return what many observations share, without the sittings, which take longest."""
    known = identity(connection)
    comparisons = {row.id: _with_united(row, known) for row in rows_equal(connection, Comparison, {})}
    if asked.comparison is not None and asked.comparison not in comparisons:
        raise bad("comparison", asked.comparison, "the id of a comparison in this ledger")
    return _Context(
        comparisons=comparisons,
        sessions={row.id: row for row in rows_equal(connection, Session, {})},
        void=void_sessions(connection),
        papers=papers(connection),
        specimens=specimens(connection, known),
        circumstances=Circumstances.of(connection),
        undried=frozenset(undried(connection)),
        zones=Zones(connection, Observation.TABLE),
        reference=reference_papers(connection),
        sittings={},
    )


def _current(context: _Context, asked: Asked) -> Select[Any]:
    """Select the observations that no other supersedes, with their trial, place on the run sheet and paper."""
    observation, trial = TABLE["observation"], TABLE["trial"]
    newer, run_row, sheet = observation.alias("newer"), TABLE["run_row"], TABLE["sheet"]
    joined = (
        observation.join(trial, trial.c.id == observation.c.trial)
        .outerjoin(newer, supersedes(newer, observation))
        .outerjoin(run_row, run_row.c.id == trial.c.run_row)
        .outerjoin(sheet, sheet.c.id == run_row.c.sheet)
    )
    wanted: Select[Any] = select(
        *observation.c["id", "trial", "criterion", "rubric", "grade", "choice", "reading", "censored"],
        *observation.c["not_testable", "at", "tester", DAYBOOK],
        trial.c.at.label("trial_at"),
        *trial.c["occasion", "mixed_with", "session", "specimen"],
        same_tester(observation.c[DAYBOOK], trial.c[DAYBOOK]).label("own_trial"),
        run_row.c.role,
        sheet.c.paper,
    )
    wanted = wanted.select_from(joined).where(newer.c.id.is_(None)).order_by(observation.c.id)
    if not asked.blind:
        wanted = wanted.where(~is_blind(trial.c.session))
    if asked.criterion is not None:
        wanted = wanted.where(observation.c.criterion == asked.criterion)
    if asked.comparison is None:
        return wanted
    specimen, session = TABLE["specimen"], TABLE["session"]
    of_paints = select(specimen.c.id).where(specimen.c.paint.in_(context.comparisons[asked.comparison].paints))
    of_sessions = select(session.c.id).where(session.c.comparison == asked.comparison)
    return wanted.where(
        or_(trial.c.session.in_(of_sessions), and_(trial.c.session.is_(None), trial.c.specimen.in_(of_paints)))
    )


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


def _tested(row: Row[Any], context: _Context) -> TestedRow:
    session, zone = context.sessions.get(row.session), context.zone(row)
    return TestedRow(
        observation=row.id,
        trial=row.trial,
        criterion=row.criterion,
        rubric=row.rubric,
        grade=row.grade,
        choice=row.choice,
        reading=row.reading,
        censored=row.censored,
        not_testable=row.not_testable is not None,
        why_not=row.not_testable,
        at=row.at,
        trial_at=row.trial_at,
        tester=row.tester,
        occasion=row.occasion,
        role=row.role or Role.SPECIMEN,
        mixed=row.mixed_with is not None,
        session=row.session,
        session_code=session.code if session else None,
        blinding=session.blinding if session else None,
        void=row.session in context.void,
        on_reference=session is None or _on_reference(session, row.paper, context),
        comparison=session.comparison if session else None,
        own_trial=bool(row.own_trial),
        doubt=context.circumstances.doubt(row, zone, context.late),
        day=day_of(row.trial_at, zone),
        sitting=row.session or context.sittings[row.trial],
        undried=(row.session, row.specimen) in context.undried,
        **context.specimens[row.specimen],
    )


def _on_reference(session: Session, paper: str | None, context: _Context) -> bool:
    """Say whether a trial was on the reference paper; without a place on a sheet, whether its whole session was."""
    wanted = context.reference.get(session.id, context.comparisons[session.comparison].reference_paper)
    papers = {paper} if paper else context.papers.get(session.id, frozenset())
    return wanted is None or papers == {wanted}
