"""What is due: stages, sessions to close, answers awaited, retests, sealed units, the age of the last backup."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING, Final

from qcledger.bench import whereabouts
from qcledger.bench.named import by_whom
from qcledger.bench.public.answers import days_words, letters
from qcledger.bench.retests import open_retests, retest_words
from qcledger.bench.sheets import SheetHead, open_sheets
from qcledger.bench.stages import USUAL_DUE, by_name
from qcledger.bench.unpacking import taken_out
from qcledger.records import Daybook, Parcel, Session, Specimen, Stage, Trial, Zone
from qcledger.vocab import SpecimenState

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

MOST: Final = 12
"""Lines shown at most."""
DAY: Final = timedelta(hours=24)
KEEP_SEALED: Final = timedelta(days=365)
"""How long a sealed unit of an accused lot is kept (common practice, no source: 12 months)."""
BACKUP_AGE: Final = timedelta(days=7)
"""From this age on the last backup is a loose end (our proposal)."""


class LooseEndKind(StrEnum):
    """What a loose end is, the most pressing first; the words name several of a kind."""

    STAGE = "stages due"
    CLOSE = "sessions to close"
    CHECK = "sessions to look at again"
    PHOTOS = "photos not filed"
    CHANGED = "standings that an update changed"
    CONFIRM = "findings to confirm"
    LOOK = "parcels to look at whole"
    DISPUTE = "rows that daybooks dispute"
    NAMES = "names that may be one"
    ANSWER = "answers awaited"
    RETEST = "retests due"
    SEALED = "sealed specimens due"
    UNOPENED = "parcels to unpack"
    BUY = "what to buy next"
    NEXT = "purchases that findings name"
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
    more
        The loose ends that this line stands for, where it stands for several.
    """

    kind: LooseEndKind
    words: str
    subject: str = ""
    at: datetime | None = None
    more: "tuple[Due, ...]" = ()


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
        *_unopened(ledger),
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
            yield Due(LooseEndKind.CLOSE, f"{what}: its last stage is done; close it", head.session.id)
        else:
            at = due_at(head, stages.values())
            yield Due(
                LooseEndKind.STAGE, f"{what}: {head.stage}, {head.done} of {head.of} judged", head.session.id, at
            )


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


def _unopened(ledger: "Ledger") -> Iterator[Due]:
    """Yield the parcels of which some piece was neither opened nor looked at yet, those bought last first.

    A piece that is kept sealed, used up or taken out waits no longer. What was graded blind changes nothing here: a
    line that goes would tell whose code it was.
    """
    blind = {session.id for session in ledger.rows(Session) if session.is_blind}
    tested = {trial.specimen for trial in ledger.rows(Trial) if trial.session not in blind}
    pieces: dict[str, list[Specimen]] = {}
    for one in ledger.rows(Specimen):
        pieces.setdefault(one.parcel, []).append(one)
    waiting = {
        parcel: left
        for parcel, ones in pieces.items()
        if (left := [one for one in ones if one.state is SpecimenState.UNOPENED and one.id not in tested])
    }
    parcels = ledger.by_id(Parcel, set(waiting))
    for parcel in sorted(waiting, key=lambda one: (parcels[one].bought_on, one), reverse=True):
        there = [one for one in waiting[parcel] if not taken_out(ledger, one.id)]
        if not there:
            continue
        count, first = len(there), min(there, key=lambda one: one.sticker)
        of = f" of {len(pieces[parcel])}" if count < len(pieces[parcel]) else ""
        what = f"{count}{of} specimen{'s' if of or count > 1 else ''}"
        words = f"{what} bought {parcels[parcel].bought_on}, from {first.sticker} on, not unpacked yet"
        yield Due(LooseEndKind.UNOPENED, words, first.id)


def _disputes(ledger: "Ledger") -> Iterator[Due]:
    """Yield what two daybooks say otherwise of a row of this tester's own."""
    for one in ledger.disputes(mine=True):
        yield Due(LooseEndKind.DISPUTE, f"which stands? {one.line()}", f"{one.kind} {one.subject}")


def _names(ledger: "Ledger") -> Iterator[Due]:
    """Yield near spellings of two testers that nobody has decided about, and decisions that contradict each other."""
    from qcledger.bench import naming
    from qcledger.ledger.identity import who_is_who
    from qcledger.ledger.nearby import questions

    for near in questions(ledger):
        yield Due(LooseEndKind.NAMES, naming.asked(near), f"{near.one.table} {near.one.id}")
    for table, subject, line in who_is_who(ledger).disputes():
        yield Due(LooseEndKind.NAMES, line, f"{table} {subject}")


def _answers(ledger: "Ledger", today: date) -> Iterator[Due]:
    for one in letters(ledger):
        if one.awaited:
            yield Due(LooseEndKind.ANSWER, f"{one.maker}: {days_words(one, today)}", one.id)


def _retests(ledger: "Ledger") -> Iterator[Due]:
    """Yield the retests decided on after which neither was tested nor decided anything."""
    for one in open_retests(ledger):
        subject = one.subject if one.subject_table == Specimen.TABLE else ""
        yield Due(LooseEndKind.RETEST, retest_words(ledger, one), subject)


def _sealed(ledger: "Ledger", today: date) -> Iterator[Due]:
    """Yield the sealed units that have been kept long enough."""
    kept = ledger.rows(Specimen, state=SpecimenState.RESERVE)
    parcels = ledger.by_id(Parcel, {one.parcel for one in kept})
    for one in sorted(kept, key=lambda row: (parcels[row.parcel].bought_on, row.sticker)):
        bought = parcels[one.parcel].bought_on
        if today - bought >= KEEP_SEALED:
            yield Due(
                LooseEndKind.SEALED, f"{one.sticker}: sealed since {bought}; open it and retest, or keep it", one.id
            )


def _zone(ledger: "Ledger", now: datetime) -> Iterator[Due]:
    """Yield the question in which time zone the tester works, where it is open."""
    if asked := whereabouts.question(ledger, now):
        yield Due(LooseEndKind.ZONE, asked)


def _backup(ledger: "Ledger", now: datetime) -> Iterator[Due]:
    """Yield what is to be said about the last backup; while daybooks have only begun, nothing can be lost."""
    last, begun = ledger.backed_up_at, len(ledger.rows(Daybook)) + len(ledger.rows(Zone))
    if sum(number for number, _ in ledger.closing_hashes().values()) <= begun:
        return
    if last is None:
        yield Due(LooseEndKind.BACKUP, "no backup of this ledger was made from this machine")
    elif now - last >= BACKUP_AGE:
        yield Due(LooseEndKind.BACKUP, f"the last backup is {(now - last).days} days old")


def photos(count: int, folder: str) -> list[Due]:
    """Return the loose end of so many pictures that are not filed; none for 0."""
    plural = "s" if count > 1 else ""
    return [Due(LooseEndKind.PHOTOS, f"{count} photo{plural} in {folder} not filed yet")] if count else []


def fewest(found: Iterable[Due], most: int = MOST) -> list[Due]:
    """Return at most `most` loose ends, the most pressing kinds first; the last of a long kind holds the rest."""
    kinds: dict[LooseEndKind, list[Due]] = {kind: [] for kind in LooseEndKind}
    for one in found:
        kinds[one.kind].append(one)
    room = {kind: len(lines) for kind, lines in kinds.items()}
    while sum(room.values()) > most:
        room[max(LooseEndKind, key=lambda kind: room[kind])] -= 1
    return [line for kind, lines in kinds.items() for line in _cut(kind, lines, room[kind])]


def _cut(kind: LooseEndKind, lines: Sequence[Due], room: int) -> Sequence[Due]:
    if len(lines) <= room:
        return lines
    left = [each for one in lines[room - 1 :] for each in one.more or (one,)]
    words = f"{len(left)} {'more ' if room > 1 else ''}{kind}"
    return [*lines[: room - 1], Due(kind, words, left[0].subject, more=tuple(left))]
