"""Which results that stand cannot have been so, or are one too many for their trial; see `possible`."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, tzinfo
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, and_, or_, select

from qcledger.ledger import possible
from qcledger.ledger.readmodels import rows_equal
from qcledger.ledger.rubrics import parsed
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE
from qcledger.records import Observation, Parcel, RubricText, Specimen, TestedRow, Trial
from qcledger.vocab import Doubt, Occasion


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What a ledger says of when and where things were, looked up once for many observations.

    Parameters
    ----------
    came
        The day each specimen came, by its id.
    used_up
        Since when each specimen that is used up is so.
    seen_at
        Where a criterion is judged, by the hash of its rubric and its key.
    """

    came: Mapping[str, date]
    used_up: Mapping[str, datetime]
    seen_at: Mapping[tuple[str, str], Occasion]

    @classmethod
    def of(cls, connection: Connection) -> "Circumstances":
        """Return the circumstances in a ledger."""
        scales = {kept.id: parsed(kept) for kept in rows_equal(connection, RubricText, {})}
        seen_at = {
            (hash_, key): one.seen_at for hash_, scale in scales.items() for key, one in scale.criteria.items()
        }
        return cls(_came(connection), possible.used_up(connection), seen_at)

    def doubt(self, row: Row[Any], zone: tzinfo | None, late: Collection[str]) -> Doubt | None:
        """Return why an observation, with the time, occasion and specimens of its trial, cannot have been so.

        Parameters
        ----------
        row
            The observation as `tested` fetches it.
        zone
            The one it was written in; None where its daybook has none.
        late
            Observations dated after they were written down.
        """
        occasion, tested = row.occasion, [one for one in (row.specimen, row.mixed_with) if one]
        if possible.elsewhere(self.seen_at[row.rubric, row.criterion], occasion):
            return Doubt.ELSEWHERE
        first = min(row.at, row.trial_at)
        if any(possible.too_early(first, occasion, self.came[one], zone) for one in tested):
            return Doubt.EARLY
        if row.id in late:
            return Doubt.LATE
        gone = (self.used_up[one] for one in tested if one in self.used_up)
        too_late = any(possible.too_late(row.trial_at, occasion, since, zone) for since in gone)
        return Doubt.USED_UP if too_late else None


def _came(connection: Connection) -> dict[str, date]:
    parcels = {parcel.id: possible.came(parcel) for parcel in rows_equal(connection, Parcel, {})}
    table = TABLE[Specimen.TABLE]
    return {row.id: parcels[row.parcel] for row in connection.execute(select(table.c.id, table.c.parcel))}


def late(connection: Connection, which: ColumnElement[bool] | None = None) -> Iterator[str]:
    """Yield the observations dated after they were written down; of all, or of those that `which` says."""
    seen, trial = TABLE[Observation.TABLE], TABLE[Trial.TABLE]
    by_its_own = and_(ENTRY.c.kind == seen.name, ENTRY.c.subject == seen.c.id, ENTRY.c.daybook == seen.c[DAYBOOK])
    joined = seen.join(ENTRY, by_its_own)
    joined = joined.join(trial, trial.c.id == seen.c.trial)
    wanted = select(seen.c.id, seen.c.at, trial.c.at.label("trial_at"), ENTRY.c.at.label("written_at"))
    wanted = wanted.select_from(joined).where(or_(seen.c.at > ENTRY.c.at, trial.c.at > ENTRY.c.at))
    if which is not None:
        wanted = wanted.where(which)
    for row in connection.execute(wanted):
        if possible.ahead(max(row.at, row.trial_at), row.written_at):
            yield row.id


def with_seconds(rows: Sequence[TestedRow]) -> list[TestedRow]:
    """Mark all but the first of several results of one trial and criterion, taken back ones last.

    Two testers may have corrected the same observation, each in a copy of one ledger; neither knew of the other.
    What the trial's own tester observed counts before what another says of it; of one tester's the one observed first
    (by id where even that is the same), as with a specimen that was tested twice.
    """
    places = [(row.trial, row.criterion) for row in rows]
    if len(set(places)) == len(places):
        return list(rows)
    first: dict[tuple[str, str], TestedRow] = {}
    for row in sorted(rows, key=_standing):
        first.setdefault((row.trial, row.criterion), row)
    leading = {row.observation for row in first.values()}
    return [row if row.observation in leading else replace(row, doubt=Doubt.SECOND) for row in rows]


def _standing(row: TestedRow) -> tuple[bool, bool, bool, datetime, str]:
    taken_back = possible.is_taken_back(row.why_not)
    return row.doubt is not None, taken_back, not row.own_trial, row.at, row.observation


def in_words(rows: Iterable[TestedRow], most: int = 3) -> Iterator[str]:
    """Yield for each kind of doubt how many results do not count for it, and the first stickers they are of."""
    by_doubt: dict[Doubt, list[str]] = {}
    for row in rows:
        if row.doubt is not None:
            by_doubt.setdefault(row.doubt, []).append(row.sticker)
    for doubt, found in sorted(by_doubt.items()):
        named = sorted(set(found))
        more = ", ..." if len(named) > most else ""
        number = "1 result does" if len(found) == 1 else f"{len(found)} results do"
        yield f"{number} not count, {doubt}: {', '.join(named[:most])}{more}"
