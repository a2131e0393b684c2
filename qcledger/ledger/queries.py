"""What was tested, with everything a finding needs to know about it."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import tzinfo
from typing import Any

from sqlalchemy import ColumnElement, Connection, RowMapping, Select, and_, func, or_, select

from qcledger.clock import day_of, sittings
from qcledger.errors import bad
from qcledger.ledger.decided import decisions
from qcledger.ledger.doubts import Circumstances, with_seconds
from qcledger.ledger.identity import Identity, identity, united_lots
from qcledger.ledger.own import same_tester, supersedes
from qcledger.ledger.readmodels import BATCH, about, decoded, rows_equal, testers
from qcledger.ledger.standing import words_by_tester
from qcledger.ledger.tables import DAYBOOK, TABLE
from qcledger.ledger.undried import undried
from qcledger.ledger.zones import Zones
from qcledger.records import Comparison, LabelVersion, Maker, Observation, Paint, Session, TestedRow
from qcledger.rubric.colour_index import compared_as
from qcledger.vocab import Blinding, DecisionKind, Role


def tested_rows(  # the linter takes the name for a test's
    connection: Connection,
    comparison: str | None,
    *,
    blind: bool = False,  # noqa: PT028
    criterion: str | None = None,  # noqa: PT028
) -> list[TestedRow]:
    """Return each current observation with its circumstances, in the order of their ids.

    With a comparison, only what was observed in its sessions, and what was observed outside any session (at
    unpacking, in older notes) on its paints. What was observed in a session that is still blind is left out unless
    `blind` asks for it: even a count by maker would tell, grade by grade, what a code stands for. With the key of a
    `criterion`, only what was observed of that.
    """
    return with_seconds(list(_each(connection, comparison, blind=blind, criterion=criterion)))


def doubtful_rows(connection: Connection) -> list[TestedRow]:
    """Return those of all tested rows that stand and do not count, holding no others meanwhile."""
    seen = TABLE["observation"]
    newer = seen.alias("newer")
    places = (seen.c.trial, seen.c.criterion)
    current = select(*places).outerjoin(newer, newer.c.supersedes == seen.c.id).where(newer.c.id.is_(None))
    twice = {tuple(place) for place in connection.execute(current.group_by(*places).having(func.count() > 1))}
    rows = _each(connection, None, blind=False)
    found = [row for row in rows if row.doubt is not None or (row.trial, row.criterion) in twice]
    return [row for row in with_seconds(found) if row.doubt is not None]


def _each(
    connection: Connection, comparison: str | None, *, blind: bool, criterion: str | None = None
) -> Iterator[TestedRow]:
    known = identity(connection)
    context = _Context(
        comparisons={row.id: _with_united(row, known) for row in rows_equal(connection, Comparison, {})},
        sessions={row.id: row for row in rows_equal(connection, Session, {})},
        void=void_sessions(connection),
        papers=_papers(connection),
        specimens=_specimens(connection, known),
        circumstances=Circumstances.of(connection),
        undried=frozenset(undried(connection)),
        zones=Zones(connection, Observation.TABLE),
        reference=reference_papers(connection),
        sittings=_sittings(connection),
    )
    if comparison is not None and comparison not in context.comparisons:
        raise bad("comparison", comparison, "the id of a comparison in this ledger")
    wanted = _current(context, comparison)
    if not blind:
        wanted = wanted.where(~is_blind(TABLE["trial"].c.session))
    if criterion is not None:
        wanted = wanted.where(TABLE["observation"].c.criterion == criterion)
    for row in connection.execute(wanted, execution_options={"yield_per": BATCH}).mappings():
        yield _tested(row, context)


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

    def zone(self, row: RowMapping) -> tzinfo | None:
        """Return the zone an observation was written in; None where its daybook has none."""
        return self.zones.of(row[DAYBOOK], row["id"], row["occasion"])


def _current(context: _Context, comparison: str | None) -> Select[Any]:
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
    if comparison is None:
        return wanted
    specimen, session = TABLE["specimen"], TABLE["session"]
    of_paints = select(specimen.c.id).where(specimen.c.paint.in_(context.comparisons[comparison].paints))
    of_sessions = select(session.c.id).where(session.c.comparison == comparison)
    return wanted.where(
        or_(trial.c.session.in_(of_sessions), and_(trial.c.session.is_(None), trial.c.specimen.in_(of_paints)))
    )


def _with_united(comparison: Comparison, known: Identity) -> Comparison:
    """Return a comparison with every paint that counts as one with its own."""
    paints = (one for paint in comparison.paints for one in known.members(Paint.TABLE, paint))
    return replace(comparison, paints=tuple(dict.fromkeys(paints)))


def _specimens(connection: Connection, known: Identity) -> dict[str, dict[str, Any]]:
    """Return what a `TestedRow` says about each specimen, by its id; whatever is one has one id and name."""
    specimen, paint, maker = TABLE["specimen"], TABLE["paint"], TABLE["maker"]
    parcel, lot = TABLE["parcel"], TABLE["lot"]
    joined = (
        specimen.join(paint, paint.c.id == specimen.c.paint)
        .join(maker, maker.c.id == paint.c.maker)
        .join(parcel, parcel.c.id == specimen.c.parcel)
        .outerjoin(lot, lot.c.id == specimen.c.lot)
    )
    wanted = select(
        specimen.c.id.label("specimen"),
        *specimen.c["sticker", "format", "source", "why", "paint", "lot", "label_version", "parcel", DAYBOOK],
        paint.c.name.label("paint_name"),
        paint.c.maker,
        maker.c.name.label("maker_name"),
        lot.c.code.label("lot_code"),
        *parcel.c["bought_on", "seller"],
    ).select_from(joined)
    labels = _Labels(connection, known)
    lots, found = united_lots(connection, known), {}
    for row in connection.execute(wanted).mappings():
        values = dict(row)
        values["paint_name"] = known.name(Paint.TABLE, row["paint"], row["paint_name"])
        values["paint"] = known.one(Paint.TABLE, row["paint"])
        values["maker_name"] = known.name(Maker.TABLE, row["maker"], row["maker_name"])
        values["maker"] = known.one(Maker.TABLE, row["maker"])
        values["lot"], values["lot_code"] = lots.get(row["lot"], (row["lot"], row["lot_code"]))
        values["seller"] = known.seller(row["seller"])
        values["pigments"] = labels.pigments(values["paint"], values.pop("label_version"), values.pop(DAYBOOK))
        found[row["specimen"]] = values
    return found


class _Labels:
    """The pigments that labels declare, by the names they are compared by; stored they stay as printed.

    A specimen without a label version has its paint's latest, whichever of its spellings that stands under: of those
    its own tester saw, and only where there is none, of all.
    """

    def __init__(self, connection: Connection, known: Identity) -> None:
        label = TABLE[LabelVersion.TABLE]
        in_time = select(*label.c["id", "paint", "index_names", DAYBOOK]).order_by(label.c.seen_on, label.c.id)
        self._whose, self._by_id = testers(connection), dict[str, tuple[str, ...]]()
        self._latest: dict[tuple[str, str | None], tuple[str, ...]] = {}
        for row in connection.execute(in_time).mappings():
            names = self._by_id[row["id"]] = compared_as(row["index_names"])
            paint = known.one(Paint.TABLE, row["paint"])
            for tester in (self._whose.of_daybook(row[DAYBOOK]), None):
                self._latest[paint, tester] = names

    def pigments(self, paint: str, label: str | None, daybook: str) -> tuple[str, ...]:
        if label is not None:
            return self._by_id[label]
        own = self._latest.get((paint, self._whose.of_daybook(daybook)))
        return own if own is not None else self._latest.get((paint, None), ())


def is_blind(session: ColumnElement[Any]) -> ColumnElement[bool]:
    """Say whether a column names a session that is still blind (`Session.is_blind`); false where it is empty."""
    table = TABLE["session"]
    blind = select(table.c.id).where(table.c.closed_at.is_(None), table.c.blinding != Blinding.OPEN)
    return and_(session.is_not(None), session.in_(blind))


def void_sessions(connection: Connection) -> frozenset[str]:
    """Return the sessions whose last decision voided them."""
    return void_rows(connection, "session")


def void_rows(connection: Connection, table: str) -> frozenset[str]:
    """Return the rows of an owned table whose own tester's last decision voided them, in the order of the entries."""
    found = decisions(connection, table, kinds=[DecisionKind.VOID, DecisionKind.REINSTATE])
    last = {one.subject: one.kind for one in found}
    return frozenset(subject for subject, kind in last.items() if kind is DecisionKind.VOID)


def _papers(connection: Connection) -> dict[str, frozenset[str]]:
    """Return the papers of each session's sheets."""
    sheet = TABLE["sheet"]
    papers: dict[str, set[str]] = defaultdict(set)
    for session, paper in connection.execute(select(*sheet.c["session", "paper"])):
        papers[session].add(paper)
    return {session: frozenset(found) for session, found in papers.items()}


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


def _tested(row: RowMapping, context: _Context) -> TestedRow:
    session, zone = context.sessions.get(row["session"]), context.zone(row)
    return TestedRow(
        observation=row["id"],
        trial=row["trial"],
        criterion=row["criterion"],
        rubric=row["rubric"],
        grade=row["grade"],
        choice=row["choice"],
        reading=row["reading"],
        censored=row["censored"],
        not_testable=row["not_testable"] is not None,
        why_not=row["not_testable"],
        at=row["at"],
        trial_at=row["trial_at"],
        tester=row["tester"],
        occasion=row["occasion"],
        role=row["role"] or Role.SPECIMEN,
        mixed=row["mixed_with"] is not None,
        session=row["session"],
        session_code=session.code if session else None,
        blinding=session.blinding if session else None,
        void=row["session"] in context.void,
        on_reference=session is None or _on_reference(session, row["paper"], context),
        comparison=session.comparison if session else None,
        own_trial=bool(row["own_trial"]),
        doubt=context.circumstances.doubt(row, zone),
        day=day_of(row["trial_at"], zone),
        sitting=row["session"] or context.sittings[row["trial"]],
        undried=(row["session"], row["specimen"]) in context.undried,
        **context.specimens[row["specimen"]],
    )


def reference_papers(connection: Connection) -> dict[str, str | None]:
    """Return the reference paper of each session as its own tester set it, where there are several testers.

    Two testers may share a comparison, each on a paper of his own: what counts is what the session's own tester says.
    """
    whose, session = testers(connection), TABLE[Session.TABLE]
    if len({whose.of_daybook(daybook) for daybook in whose.books}) < 2:
        return {}
    said: dict[tuple[str, str], str | None] = {}
    for row in connection.execute(select(session.c.comparison).distinct()).scalars():
        for word in words_by_tester(about(connection, Comparison.TABLE, row), whose):
            comparison = decoded(word)
            if isinstance(comparison, Comparison):
                said[row, whose.of_daybook(word.daybook)] = comparison.reference_paper
    found = connection.execute(select(*session.c["id", "comparison", DAYBOOK])).all()
    keys = {id_: (comparison, whose.of_daybook(daybook)) for id_, comparison, daybook in found}
    return {id_: said[key] for id_, key in keys.items() if key in said}


def _on_reference(session: Session, paper: str | None, context: _Context) -> bool:
    """Say whether a trial was on the reference paper; without a place on a sheet, whether its whole session was."""
    wanted = context.reference.get(session.id, context.comparisons[session.comparison].reference_paper)
    papers = {paper} if paper else context.papers.get(session.id, frozenset())
    return wanted is None or papers == {wanted}
