"""What two daybooks say otherwise of one row: told with both sides, and settled by the tester it belongs to."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date, datetime
from typing import Any, cast

from sqlalchemy import Connection, and_, func, not_, select

from qcledger.ledger.called import called
from qcledger.ledger.known import KnownRows
from qcledger.ledger.own import same_tester
from qcledger.ledger.readmodels import decoded, row_of, testers
from qcledger.ledger.standing import Testers, WrittenEntry
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE
from qcledger.ledger.writing import CLOCKS_DIFFER
from qcledger.records import SHARED, TABLES, Decision, Observation, Record, Session, Specimen
from qcledger.text import one_line, shorten
from qcledger.vocab import DecisionKind

SHOWN = 60
"""Characters of a value in a line that tells a dispute."""


@dataclass(frozen=True, slots=True)
class DisputeSide:
    """What one daybook says.

    Parameters
    ----------
    daybook, tester
        Whose it is: the daybook's id, and its tester's letters and name.
    says
        What it says, in a few words.
    record
        The row that says it; None for a tester who leaves things as they are.
    entry
        The hash of the entry that says it; empty where the row has an id of its own.
    """

    daybook: str
    tester: str
    says: str
    record: Record | None = None
    entry: str = ""


@dataclass(frozen=True, slots=True)
class Dispute:
    """One row of which two daybooks say different things; the first side is the one that stands.

    Parameters
    ----------
    what
        The row in words, as in ``specimen OV 0147``.
    kind, subject
        Its table and id.
    made_by
        The daybook it belongs to: only its tester settles it.
    sides
        What is said, the one that stands first.
    """

    what: str
    kind: str
    subject: str
    made_by: str
    sides: tuple[DisputeSide, ...]

    def line(self) -> str:
        """Return the dispute in one line: what each side says, and whose it is."""
        return f"{self.what}: {'; or '.join(f'{side.says} ({side.tester})' for side in self.sides)}"


_TOLD: dict[type[Record], Sequence[str]] = {
    Observation: ("grade", "choice", "reading", "not_testable"),
    Decision: ("kind", "reason"),
}
"""What is told of a row that has an id of its own."""


def _told(record: Record) -> str:
    values = [(name, getattr(record, name)) for name in _TOLD[type(record)]]
    return ", ".join(f"{name} {shown(value)}" for name, value in values if value is not None)


def _differing(entry: WrittenEntry, others: Sequence[WrittenEntry]) -> str:
    """Return the fields in which an entry differs from any other, at most three."""
    mine, theirs = decoded(entry), [decoded(one) for one in others]
    names = [field.name for field in fields(mine)]  # type: ignore[arg-type]
    differ = [name for name in names if any(getattr(one, name) != getattr(mine, name) for one in theirs)]
    return ", ".join(f"{name} {shown(getattr(mine, name))}" for name in differ[:3])


def shown(value: Any) -> str:
    """Return a value in a line: short, on one line, and plain where it is empty."""
    return "nothing" if value in (None, "", ()) else shorten(one_line(str(value)), SHOWN)


def disputes(connection: Connection) -> list[Dispute]:
    """Return every row that two daybooks dispute, by table and id; a ledger of one tester's one daybook has none."""
    whose = testers(connection)
    if len(whose.books) < 2:
        return []
    known = KnownRows(connection)
    found = [*_of_rows(known, whose), *_of_results(known, whose), *_of_decisions(known, whose)]
    return sorted(found, key=lambda one: (one.kind, one.subject))


def _of_rows(known: KnownRows, whose: Testers) -> Iterator[Dispute]:
    """Yield the owned rows that two daybooks wrote, where the owner answered neither."""
    by_two = select(ENTRY.c.kind, ENTRY.c.subject).group_by(ENTRY.c.kind, ENTRY.c.subject)
    by_two = by_two.having(func.count(ENTRY.c.daybook.distinct()) > 1)
    for kind, subject in known.connection.execute(by_two).all():
        row = row_of(known.connection, kind, subject, whose) if TABLES[kind] not in SHARED else None
        if row is not None and (row.rivals or row.proposals):
            said = (row.entry, *row.rivals, *row.proposals)
            sides = tuple(_side(entry, said, whose) for entry in said)
            yield Dispute(called(row.record, known.get), kind, subject, row.daybook, sides)


def _side(entry: WrittenEntry, said: Sequence[WrittenEntry], whose: Testers) -> DisputeSide:
    return DisputeSide(entry.daybook, whose.name(entry.daybook), _differing(entry, said), decoded(entry), entry.hash)


def _of_results(known: KnownRows, whose: Testers) -> Iterator[Dispute]:
    """Yield the observations that another tester's observation supersedes, until they are answered."""
    seen = TABLE[Observation.TABLE]
    newer = seen.alias("newer")
    foreign = and_(newer.c.supersedes == seen.c.id, not_(same_tester(newer.c[DAYBOOK], seen.c[DAYBOOK])))
    pairs = select(seen.c.id, seen.c[DAYBOOK], newer.c.id, newer.c[DAYBOOK]).select_from(seen.join(newer, foreign))
    for older, mine, other, theirs in known.connection.execute(pairs.order_by(newer.c.id)).all():
        if known.newer(older) is None and not _answered(known, Observation.TABLE, other, mine, whose):
            rows = [(known.get(Observation.TABLE, one), daybook) for one, daybook in ((older, mine), (other, theirs))]
            sides = tuple(
                DisputeSide(book, whose.name(book), _told(row), row) for row, book in rows if row is not None
            )
            what = called(cast(Record, rows[0][0]), known.get)
            yield Dispute(what, Observation.TABLE, older, mine, sides)


def _of_decisions(known: KnownRows, whose: Testers) -> Iterator[Dispute]:
    """Yield what other testers decided about a session or specimen that is not theirs, until it is answered."""
    decision = TABLE[Decision.TABLE]
    for kind in (Session.TABLE, Specimen.TABLE):
        about = TABLE[kind]
        foreign = and_(
            decision.c.subject_table == kind,
            decision.c.subject == about.c.id,
            decision.c.kind.in_([DecisionKind.VOID, DecisionKind.REINSTATE]),
            not_(same_tester(decision.c[DAYBOOK], about.c[DAYBOOK])),
        )
        pairs = select(about.c.id, about.c[DAYBOOK], decision.c.id, decision.c[DAYBOOK])
        pairs = pairs.select_from(about.join(decision, foreign)).order_by(decision.c.id)
        for subject, mine, other, theirs in known.connection.execute(pairs).all():
            row, decided = known.get(kind, subject), known.get(Decision.TABLE, other)
            if row is not None and decided is not None and not _answered(known, Decision.TABLE, other, mine, whose):
                sides = (
                    DisputeSide(mine, whose.name(mine), "as it stands"),
                    DisputeSide(theirs, whose.name(theirs), _told(decided), decided),
                )
                yield Dispute(called(row, known.get), kind, subject, mine, sides)


def _answered(known: KnownRows, kind: str, subject: str, made_by: str, whose: Testers) -> bool:
    """Say whether the tester concerned decided about another's row: it was taken over, or was left."""
    decision = TABLE[Decision.TABLE]
    about = select(decision.c[DAYBOOK]).where(decision.c.subject_table == kind, decision.c.subject == subject)
    return any(whose.same(one, made_by) for one in known.connection.execute(about).scalars())


def dated_ahead(connection: Connection, now: datetime) -> list[str]:
    """Return a line for each daybook with entries more than a day after `now`: a clock was wrong, here or there.

    They are kept as they are and move no other daybook's times.
    """
    whose, latest = testers(connection), func.max(ENTRY.c.at)
    found = connection.execute(select(ENTRY.c.daybook, latest).group_by(ENTRY.c.daybook).order_by(ENTRY.c.daybook))
    return [
        f"daybook {daybook} ({whose.name(daybook)}) is dated up to {at:%Y-%m-%d}, later than now; "
        "it moves no clock here"
        for daybook, at in found.all()
        if at is not None and at > now + CLOCKS_DIFFER
    ]


def answers(dispute: Dispute, side: DisputeSide, *, by: str, on: date, new_id: Callable[[], str]) -> list[Record]:
    """Return the rows that settle a dispute about a row which has an id of its own, in favour of a side."""
    theirs = next(one.record for one in dispute.sides[1:] if one.record is not None)
    taken = side is not dispute.sides[0]
    reason = f"{'taken over from' if taken else 'not taken over from'} {dispute.sides[1].tester}"
    answered = Decision(
        id=new_id(),
        kind=DecisionKind.KEEP,
        subject_table=theirs.TABLE,
        subject=theirs.id,
        by=by,
        on=on,
        reason=reason,
    )
    if not taken:
        return [answered]
    if isinstance(theirs, Observation):
        return [replace(theirs, id=new_id(), supersedes=dispute.subject, reason=reason), answered]
    return [replace(theirs, id=new_id(), by=by, on=on), answered]  # type: ignore[type-var]
