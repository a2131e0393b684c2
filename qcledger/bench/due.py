"""What is due: stages, sessions to close, answers awaited, retests, sealed units, the age of the last backup."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING, Final

from qcledger.bench import whereabouts
from qcledger.bench.named import by_whom
from qcledger.bench.sheets import SheetHead, open_sheets
from qcledger.bench.stages import USUAL_DUE, by_name
from qcledger.records import Daybook, Decision, Maker, MakerAnswer, Parcel, Session, Specimen, Stage, Trial, Zone
from qcledger.vocab import DecisionKind, Occasion, SpecimenState

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

MOST: Final = 12
"""Lines shown at most."""
DAY: Final = timedelta(hours=24)
KEEP_SEALED: Final = timedelta(days=365)
"""How long a sealed unit of an accused lot is kept (common practice, no source: 12 months)."""
BACKUP_AGE: Final = timedelta(days=7)
"""From this age on the last backup is a loose end (our proposal)."""


class Kind(StrEnum):
    """What a loose end is, the most pressing first; the words name several of a kind."""

    STAGE = "stages due"
    CLOSE = "sessions to close"
    CHECK = "sessions to look at again"
    PHOTOS = "photos not filed"
    CONFIRM = "findings to confirm"
    LOOK = "parcels to look at whole"
    DISPUTE = "rows that daybooks dispute"
    NAMES = "names that may be one"
    ANSWER = "answers awaited"
    RETEST = "retests due"
    SEALED = "sealed units due"
    ZONE = "time zones to say"
    BACKUP = "backups"


@dataclass(frozen=True, slots=True)
class Due:
    """One loose end.

    Parameters
    ----------
    kind
        What it is.
    words
        What to do.
    subject
        The id of the row it is about; empty when it is about none.
    at
        The hour from which it is due; None for now.
    """

    kind: Kind
    words: str
    subject: str = ""
    at: datetime | None = None


def due(ledger: "Ledger", now: datetime) -> list[Due]:
    """Return what is due by the ledger alone, the most pressing first."""
    today = ledger.day(now)
    return [
        *_sheets(ledger),
        *_disputes(ledger),
        *_names(ledger),
        *_answers(ledger, today),
        *_retests(ledger),
        *_sealed(ledger, today),
        *_zone(ledger, now),
        *_backup(ledger, now),
    ]


def _sheets(ledger: "Ledger") -> Iterator[Due]:
    """Yield this tester's sheets at work: those with something to judge, and those that only wait to be closed."""
    own = ledger.own(Session)
    for head in (one for one in open_sheets(ledger) if one.session.id in own):
        what = f"session {head.session.code}{by_whom(ledger, head.session)}, {head.comparison}"
        stages = by_name(ledger, head.session)
        stage = stages.get(head.stage)
        ended = stage is not None and stage.ended_at is not None
        if ended or head.done == head.of:
            yield Due(Kind.CLOSE, f"{what}: its last stage is done; close it", head.session.id)
        else:
            at = due_at(head, stages.values())
            yield Due(Kind.STAGE, f"{what}: {head.stage}, {head.done} of {head.of} judged", head.session.id, at)


def due_at(head: SheetHead, stages: Iterable[Stage]) -> datetime | None:
    """Return the hour a sheet's stage is due at: the one planned, later by as much as the sheet was begun late.

    Without a plan, a stage due a day or more after the start is due so long after the first grade; None for now.
    """
    rows = {stage.name: stage for stage in stages}
    planned = rows[head.stage].due_at if head.stage in rows else None
    begun = min((stage.started_at for stage in rows.values() if stage.started_at is not None), default=None)
    if planned is not None and begun is not None:  # a sheet begun late is due later at each of its stages
        first = min(stage.due_at for stage in rows.values() if stage.due_at is not None)
        return planned + max(begun - first, timedelta(0))
    after = head.after or USUAL_DUE.get(head.stage)
    if planned is not None or begun is None or after is None or after < DAY:
        return planned
    return begun + after


def _disputes(ledger: "Ledger") -> Iterator[Due]:
    """Yield what two daybooks say otherwise of a row of this tester's own."""
    for one in ledger.disputes(mine=True):
        yield Due(Kind.DISPUTE, f"which stands? {one.line()}", f"{one.kind} {one.subject}")


def _names(ledger: "Ledger") -> Iterator[Due]:
    """Yield near spellings of two testers that nobody has decided about, and decisions that contradict each other."""
    from qcledger.bench import naming
    from qcledger.ledger.identity import who_is_who
    from qcledger.ledger.nearby import questions

    for near in questions(ledger):
        yield Due(Kind.NAMES, naming.asked(near), f"{near.one.table} {near.one.id}")
    for table, subject, line in who_is_who(ledger).disputes():
        yield Due(Kind.NAMES, line, f"{table} {subject}")


def _answers(ledger: "Ledger", today: date) -> Iterator[Due]:
    from qcledger.ledger.identity import who_is_who

    known = who_is_who(ledger)
    makers = {maker.id: known.name(Maker.TABLE, maker.id, maker.name) for maker in ledger.rows(Maker)}
    open_ = sorted(ledger.rows(MakerAnswer, answered_on=None), key=lambda row: (row.asked_on, row.id))
    for row in open_:
        days = (today - row.asked_on).days
        yield Due(Kind.ANSWER, f"{makers[row.maker]}: asked {_ago(days)}, no answer yet", row.id)


def _ago(days: int) -> str:
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")


def _retests(ledger: "Ledger") -> Iterator[Due]:
    """Yield the retests decided on after which neither was tested nor decided anything."""
    last = _last_decisions(ledger)
    for one in sorted(last, key=lambda row: (row.on, row.id)):
        if one.kind is DecisionKind.RETEST and not _retested(ledger, one):
            name, subject = _subject(ledger, one)
            yield Due(Kind.RETEST, f"{name}: {one.reason}", subject)


def _last_decisions(ledger: "Ledger") -> list[Decision]:
    """Return what was decided last of each thing to be tested again; of one day, in the later entry."""
    from qcledger.ledger.decided import decided_tables, decisions

    with ledger.reading() as connection:
        tables = decided_tables(connection, DecisionKind.RETEST)
        counting = [one for table in tables for one in decisions(connection, table)]
    in_time = sorted(counting, key=lambda row: row.on)  # of one day they stay in the order of their entries
    return list({(row.subject_table, row.subject): row for row in in_time}.values())


def _retested(ledger: "Ledger", one: Decision) -> bool:
    """Say whether its specimen, or its session's comparison, was at the bench on a later day.

    A session that is still blind does not count: a line that goes away would tell which code was just judged.
    """
    if one.subject_table == Specimen.TABLE:
        trials = ledger.rows(Trial, specimen=one.subject, occasion=Occasion.BENCH)
        sessions = ledger.by_id(Session, {trial.session for trial in trials if trial.session})
        blind = {session.id for session in sessions.values() if session.is_blind}
        return any(ledger.day_of(trial, trial.at) > one.on for trial in trials if trial.session not in blind)
    session = ledger.get(Session, one.subject) if one.subject_table == Session.TABLE else None
    others = ledger.rows(Session, comparison=session.comparison) if session else []
    return any(ledger.day_of(other, other.started_at) > one.on for other in others)


def _subject(ledger: "Ledger", one: Decision) -> tuple[str, str]:
    """Return the name of a decision's subject, and its id where it is a specimen."""
    specimen = ledger.get(Specimen, one.subject) if one.subject_table == Specimen.TABLE else None
    if specimen is not None:
        return f"retest {specimen.sticker}", specimen.id
    session = ledger.get(Session, one.subject) if one.subject_table == Session.TABLE else None
    return f"retest {one.subject_table} {session.code if session else ''}".rstrip(), ""


def _sealed(ledger: "Ledger", today: date) -> Iterator[Due]:
    """Yield the sealed units that have been kept long enough."""
    kept = ledger.rows(Specimen, state=SpecimenState.RESERVE)
    parcels = ledger.by_id(Parcel, {one.parcel for one in kept})
    for one in sorted(kept, key=lambda row: (parcels[row.parcel].bought_on, row.sticker)):
        bought = parcels[one.parcel].bought_on
        if today - bought >= KEEP_SEALED:
            yield Due(Kind.SEALED, f"{one.sticker}: sealed since {bought}; open it and retest, or keep it", one.id)


def _zone(ledger: "Ledger", now: datetime) -> Iterator[Due]:
    """Yield the question in which time zone the tester works, where it is open."""
    if asked := whereabouts.question(ledger, now):
        yield Due(Kind.ZONE, asked)


def _backup(ledger: "Ledger", now: datetime) -> Iterator[Due]:
    """Yield what is to be said about the last backup; while daybooks have only begun, nothing can be lost."""
    last, begun = ledger.backed_up_at, len(ledger.rows(Daybook)) + len(ledger.rows(Zone))
    if sum(number for number, _ in ledger.closing_hashes().values()) <= begun:
        return
    if last is None:
        yield Due(Kind.BACKUP, "no backup of this ledger was made from this machine")
    elif now - last >= BACKUP_AGE:
        yield Due(Kind.BACKUP, f"the last backup is {(now - last).days} days old")


def photos(count: int, folder: str) -> list[Due]:
    """Return the loose end of so many pictures that are not filed; none for 0."""
    plural = "s" if count > 1 else ""
    return [Due(Kind.PHOTOS, f"{count} photo{plural} in {folder} not filed yet")] if count else []


def fewest(found: Iterable[Due], most: int = MOST) -> list[Due]:
    """Return at most `most` loose ends, the most pressing kinds first; the last of a long kind says how many more."""
    kinds: dict[Kind, list[Due]] = {kind: [] for kind in Kind}
    for one in found:
        kinds[one.kind].append(one)
    room = {kind: len(lines) for kind, lines in kinds.items()}
    while sum(room.values()) > most:
        room[max(Kind, key=lambda kind: room[kind])] -= 1
    return [line for kind, lines in kinds.items() for line in _cut(kind, lines, room[kind])]


def _cut(kind: Kind, lines: Sequence[Due], room: int) -> Sequence[Due]:
    if len(lines) <= room:
        return lines
    left = lines[room - 1 :]
    return [*lines[: room - 1], Due(kind, f"{len(left)} {'more ' if room > 1 else ''}{kind}", left[0].subject)]
