"""Which results that stand cannot have been so, or are one too many for their trial; see `possible`."""

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from functools import cached_property
from itertools import compress, count, repeat
from operator import gt, is_not
from typing import Any, NamedTuple

from sqlalchemy import ColumnElement, Connection, Table, and_, or_, select

from qcledger.ledger import possible
from qcledger.ledger.readmodels import rows_equal
from qcledger.ledger.rubrics import parsed
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE
from qcledger.records import Observation, Parcel, RubricText, Specimen, TestedRows, Trial
from qcledger.vocab import Doubt, Occasion

Columns = Mapping[str, Sequence[Any]]
"""Observations as columns, by what each tells."""


@dataclass(frozen=True)
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

    @cached_property
    def begins(self) -> Mapping[str, datetime]:
        """Since when each specimen can be tested, by its id; older notes apart, of which only days count."""
        days = {day: possible.begins(day) for day in set(self.came.values())}
        return {specimen: days[day] for specimen, day in self.came.items()}

    @classmethod
    def of(cls, connection: Connection) -> "Circumstances":
        """Return the circumstances in a ledger."""
        scales = {kept.id: parsed(kept) for kept in rows_equal(connection, RubricText, {})}
        seen_at = {
            (hash_, key): one.seen_at for hash_, scale in scales.items() for key, one in scale.criteria.items()
        }
        return cls(_came(connection), possible.used_up(connection), seen_at)

    def doubts(
        self, found: Columns, zone: Callable[[int], tzinfo | None], late: Collection[str]
    ) -> list[Doubt | None]:
        """Return for each observation, as `tested` fetches them, why it cannot have been so; None where it can.

        Parameters
        ----------
        found
            The observations, each with the time, occasion and specimens of its trial, as columns.
        zone
            Returns the one that the observation at a place was written in; None where its daybook has none.
        late
            Observations dated after they were written down.
        """
        told = [found[name] for name in _Told._fields]
        doubts: list[Doubt | None] = [None] * len(told[0])
        for place in self._in_question(found, late):
            doubts[place] = self._doubt(_Told(*(column[place] for column in told)), zone(place), late)
        return doubts

    def _in_question(self, found: Columns, late: Collection[str]) -> Iterator[int]:
        """Yield where something speaks against an observation at first sight, which is so of hardly any."""
        first = list(map(self.begins.__getitem__, found["specimen"]))
        scale = map(self.seen_at.__getitem__, zip(found["rubric"], found["criterion"], strict=True))
        against = zip(
            map(is_not, found["mixed_with"], repeat(None)),
            map(self.used_up.__contains__, found["specimen"]),
            map(is_not, scale, found["occasion"]),
            map(gt, first, found["at"]),
            map(gt, first, found["trial_at"]),
            map(late.__contains__, found["id"]),
            strict=False,  # nothing else ends what stands for no second specimen
        )
        yield from compress(count(), map(any, against))

    def _doubt(self, row: "_Told", zone: tzinfo | None, late: Collection[str]) -> Doubt | None:
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


class _Told(NamedTuple):
    """What of an observation says whether it can have been so."""

    id: str
    rubric: str
    criterion: str
    occasion: Occasion
    specimen: str
    mixed_with: str | None
    at: datetime
    trial_at: datetime


def _came(connection: Connection) -> dict[str, date]:
    parcels = {parcel.id: possible.came(parcel) for parcel in rows_equal(connection, Parcel, {})}
    table = TABLE[Specimen.TABLE]
    return {row.id: parcels[row.parcel] for row in connection.execute(select(table.c.id, table.c.parcel))}


def ahead(seen: Table) -> ColumnElement[bool]:
    """Say whether an observation is dated after the first entry of its own daybook that may have written it."""
    by_its_own = (ENTRY.c.kind == seen.name, ENTRY.c.subject == seen.c.id, ENTRY.c.daybook == seen.c[DAYBOOK])
    return select(ENTRY.c.seq).where(*by_its_own, seen.c.at > ENTRY.c.at).correlate(seen).exists()


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


def mark_seconds(rows: Columns, doubts: Sequence[Doubt | None]) -> list[Doubt | None]:
    """Return doubts, and mark all but the first of several results of one trial and criterion, taken back ones last.

    Two testers may have corrected the same observation, each in a copy of one ledger; neither knew of the other.
    What the trial's own tester observed counts before what another says of it; of one tester's the one observed first
    (by id where even that is the same), as with a specimen that was tested twice.
    """
    marked, asked = list(doubts), Counter(zip(rows["trial"], rows["criterion"], strict=True))
    if len(asked) == len(marked):
        return marked
    several: dict[tuple[str, str], list[int]] = {key: [] for key, number in asked.items() if number > 1}
    for place, key in enumerate(zip(rows["trial"], rows["criterion"], strict=True)):
        if key in several:
            several[key].append(place)

    def standing(place: int) -> tuple[bool, bool, bool, datetime, str]:
        taken_back = possible.is_taken_back(rows["why_not"][place])
        own, at, one = (rows[name][place] for name in ("own_trial", "at", "observation"))
        return doubts[place] is not None, taken_back, not own, at, one

    for places in several.values():
        for place in sorted(places, key=standing)[1:]:
            marked[place] = Doubt.SECOND
    return marked


def in_words(rows: TestedRows, most: int = 3) -> Iterator[str]:
    """Yield for each kind of doubt how many results do not count for it, and the first stickers they are of."""
    by_doubt: dict[Doubt, list[str]] = {}
    for doubt, sticker in rows.where(lambda doubt: doubt is not None, "doubt").together("doubt", "sticker"):
        by_doubt.setdefault(doubt, []).append(sticker)
    for doubt, found in sorted(by_doubt.items()):
        named = sorted(set(found))
        more = ", ..." if len(named) > most else ""
        number = "1 result does" if len(found) == 1 else f"{len(found)} results do"
        yield f"{number} not count, {doubt}: {', '.join(named[:most])}{more}"
