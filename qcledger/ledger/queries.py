"""What many observations share: their specimens, sessions that are blind or void, papers; see `tested`."""

from collections import defaultdict
from functools import cache, partial
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Connection, and_, select

from qcledger.ledger.decided import decisions
from qcledger.ledger.fetched import Asked, Columns, each_once
from qcledger.ledger.identity import Identity, united_lots
from qcledger.ledger.readmodels import about, decoded, testers
from qcledger.ledger.standing import words_by_tester
from qcledger.ledger.tables import DAYBOOK, TABLE
from qcledger.records import Comparison, LabelVersion, Maker, Paint, Session
from qcledger.rubric.colour_index import compared_as
from qcledger.vocab import Blinding, DecisionKind


@cache  # to put it together takes longer than to ask it
def of_specimens() -> Asked:
    """Return what is asked of specimens, each with its paint, maker, parcel and lot."""
    specimen, paint, maker = TABLE["specimen"], TABLE["paint"], TABLE["maker"]
    parcel, lot = TABLE["parcel"], TABLE["lot"]
    together = (
        specimen.join(paint, paint.c.id == specimen.c.paint)
        .join(maker, maker.c.id == paint.c.maker)
        .join(parcel, parcel.c.id == specimen.c.parcel)
        .outerjoin(lot, lot.c.id == specimen.c.lot)
    )
    own = ("sticker", "format", "source", "why", "paint", "lot", "label_version", "parcel", DAYBOOK)
    wanted = {
        "specimen": specimen.c.id,
        **{name: specimen.c[name] for name in own},
        "paint_name": paint.c.name,
        "maker": paint.c.maker,
        "maker_name": maker.c.name,
        "lot_code": lot.c.code,
        **{name: parcel.c[name] for name in ("bought_on", "seller")},
    }
    return Asked(wanted, together, apart=("specimen", "sticker"))


def specimens(connection: Connection, known: Identity, told: Columns) -> Columns:
    """Return what a `TestedRow` says of each specimen, from what was `told` of it; whatever is one has one id."""
    labels, lots = _Labels(connection, known), united_lots(connection, known)
    for table in (Paint.TABLE, Maker.TABLE):
        called = list(zip(told[table], told[f"{table}_name"], strict=True))
        told[f"{table}_name"] = each_once(partial(_name, known, table), called)
        told[table] = each_once(partial(known.one, table), told[table])
    codes = zip(told["lot"], told["lot_code"], strict=True)
    told["lot_code"] = [lots.get(one, (one, code))[1] for one, code in codes]
    told["lot"] = [lots.get(one, (one, None))[0] for one in told["lot"]]
    told["seller"] = each_once(known.seller, told["seller"])
    said = list(map(labels.said, told["paint"], told.pop("label_version"), told.pop(DAYBOOK)))
    told["pigments"], told["facts"] = [one.pigments for one in said], [one.facts for one in said]
    told["group"] = [None] * len(said)
    return told


def _name(known: Identity, table: str, called: tuple[str, str]) -> str:
    return known.name(table, *called)


class _Said(NamedTuple):
    """What a label says that findings ask for: pigments by the names they are compared by, and the rubric's parts."""

    pigments: tuple[str, ...] = ()
    facts: tuple[str, ...] = ()


_NOTHING_SAID = _Said()


class _Labels:
    """What labels say that makes things peers; stored it stays as printed.

    A specimen without a label version has its paint's latest that was not taken back, whichever of its spellings that
    stands under: of those its own tester saw, and only where there is none, of all.
    """

    def __init__(self, connection: Connection, known: Identity) -> None:
        label = TABLE[LabelVersion.TABLE]
        wanted = label.c["id", "paint", "index_names", "facts", DAYBOOK]
        in_time = select(*wanted).order_by(label.c.seen_on, label.c.id)
        self._whose, self._by_id = testers(connection), dict[str, _Said]()
        self._latest: dict[tuple[str, str | None], _Said] = {}
        taken_back = void_rows(connection, LabelVersion.TABLE)
        for row in connection.execute(in_time).mappings():
            said = self._by_id[row["id"]] = _Said(compared_as(row["index_names"]), tuple(row["facts"]))
            if row["id"] in taken_back:
                continue
            paint = known.one(Paint.TABLE, row["paint"])
            for tester in (self._whose.of_daybook(row[DAYBOOK]), None):
                self._latest[paint, tester] = said

    def said(self, paint: str, label: str | None, daybook: str) -> _Said:
        if label is not None:
            return self._by_id[label]
        own = self._latest.get((paint, self._whose.of_daybook(daybook)))
        return own if own is not None else self._latest.get((paint, None), _NOTHING_SAID)


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


def papers(connection: Connection) -> dict[str, frozenset[str]]:
    """Return the papers of each session's sheets."""
    sheet = TABLE["sheet"]
    papers: dict[str, set[str]] = defaultdict(set)
    for session, paper in connection.execute(select(*sheet.c["session", "paper"])):
        papers[session].add(paper)
    return {session: frozenset(found) for session, found in papers.items()}


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
