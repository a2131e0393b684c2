"""What evidence can have been so: nothing is tested before it came, in the future, or where it is not judged.

The ledger refuses a new row that cannot have been so. Another tester's daybook is taken in word for word, also where
two daybooks that are sound by themselves do not fit together; and a ledger may be older than a rule. So the same
rules also tell which of the results that stand do not count; `tested.read` marks those.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, time, tzinfo

from sqlalchemy import Connection, and_, select

from qcledger.clock import AHEAD, EASTERNMOST, day_of
from qcledger.ledger.own import same_tester
from qcledger.ledger.readmodels import IN_ORDER
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE
from qcledger.records import (
    TABLES,
    Comparison,
    MakerAnswer,
    Parcel,
    Photo,
    Question,
    Record,
    Specimen,
    Stage,
    columns,
)
from qcledger.vocab import EARLIEST, TAKEN_BACK, Occasion, SpecimenState

_MAY_BE_AHEAD = frozenset(
    {
        (Stage, "due_at"),
        (Photo, "taken_at"),
        (Comparison, "started_on"),
        (Question, "answer_by"),
        (MakerAnswer, "changed_on"),
    }
)
"""Days that are planned or promised, or told by a camera's clock."""


_DATED: Mapping[type[Record], Sequence[str]] = {
    kind: [column.name for column in columns(kind) if column.type in (date, datetime)] for kind in TABLES.values()
}
"""The fields of each table that hold a day or time."""


def dated_ahead(record: Record, now: datetime) -> Iterator[tuple[str, date]]:
    """Yield the name and content of each field with a day or time that had not come by `now`."""
    for name in _DATED[type(record)]:
        told = getattr(record, name)
        if told is not None and (type(record), name) not in _MAY_BE_AHEAD and ahead(told, now):
            yield name, told


def dated_back(record: Record) -> Iterator[tuple[str, date]]:
    """Yield the name and content of each field with a day or time before `EARLIEST`; a camera's clock may err."""
    for name in _DATED[type(record)]:
        told = getattr(record, name)
        if told is None or (type(record), name) == (Photo, "taken_at"):
            continue
        if (day_of(told, UTC) if isinstance(told, datetime) else told) < EARLIEST:
            yield name, told


def ahead(told: date, now: datetime) -> bool:
    """Say whether a day or time had not come by `now` (aware), anywhere: a day begins first in the easternmost zone.

    It also covers clocks that differ a little, and tests of which only the day is known, whose time is set to noon.
    """
    return told > now + AHEAD if isinstance(told, datetime) else told > day_of(now, EASTERNMOST)


def came(parcel: Parcel) -> date:
    """Return the day from which on the specimens of a parcel can be tested."""
    return parcel.received_on or parcel.bought_on


def too_early(at: datetime, occasion: Occasion, day: date, zone: tzinfo | None) -> bool:
    """Say whether a test was before the day its specimen came, wherever that was.

    Of older notes only days count, as the daybook they are in lived them, in `zone` (None: UTC).
    """
    return day_of(at, zone or UTC) < day if occasion is Occasion.OLDER_NOTES else at < begins(day)


def begins(day: date) -> datetime:
    """Return the instant, in UTC, from which on it is a day, or later, somewhere."""
    midnight = datetime.combine(day, time(), UTC)
    return midnight - AHEAD if day > date.min else midnight


def too_late(at: datetime, occasion: Occasion, used_up: datetime, zone: tzinfo | None) -> bool:
    """Say whether a test was after its specimen was used up; of older notes only days count, as in `too_early`."""
    if occasion is Occasion.OLDER_NOTES:
        return day_of(at, zone or UTC) > day_of(used_up, zone or UTC)
    return at > used_up


def elsewhere(seen_at: Occasion, occasion: Occasion) -> bool:
    """Say whether a criterion is not judged on an occasion; older notes may be of either."""
    return occasion is not Occasion.OLDER_NOTES and seen_at is not occasion


def is_taken_back(not_testable: str | None) -> bool:
    """Say whether an observation says only that the one before it was a slip."""
    return not_testable == TAKEN_BACK


_SAYS_USED_UP = f'"state":"{SpecimenState.USED_UP}"'
"""Stands so in the canonical JSON of a body; inside a text its quotes would be escaped."""


def used_up(connection: Connection, specimen: str | None = None) -> Mapping[str, datetime]:
    """Return since when each specimen that is used up is so, as its entries tell; of one specimen or all."""
    table = TABLE[Specimen.TABLE]
    wanted = select(table.c.id).where(table.c.state == SpecimenState.USED_UP)
    if specimen is not None:
        wanted = wanted.where(table.c.id == specimen)
    told = select(*ENTRY.c["subject", "at", "body"])
    by_its_own = and_(table.c.id == ENTRY.c.subject, same_tester(table.c[DAYBOOK], ENTRY.c.daybook))
    told = told.select_from(ENTRY.join(table, by_its_own))
    told = told.where(ENTRY.c.kind == Specimen.TABLE, ENTRY.c.body.is_not(None), ENTRY.c.subject.in_(wanted))
    since: dict[str, datetime] = {}
    for subject, at, body in connection.execute(told.order_by(*IN_ORDER)):
        if _SAYS_USED_UP in body:
            since.setdefault(subject, at)
        else:
            since.pop(subject, None)
    return since
