"""Everything about one specimen, in the order it happened, and how it was then and is now."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Final

from qcledger.bench.blind import blind_sheets
from qcledger.bench.faults import title_of
from qcledger.bench.filing import called, same_place, where_words
from qcledger.bench.labelled import with_label
from qcledger.bench.mending import FactChange, changes
from qcledger.bench.result import Result, result_of
from qcledger.errors import bad
from qcledger.records import (
    LabelVersion,
    Lot,
    Observation,
    Parcel,
    Photo,
    Preparation,
    Specimen,
)
from qcledger.vocab import TAKEN_BACK, Nature

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.queries_stock import Seen


STANDS: Final = "stands"
AMENDED: Final = "amended"
"""Said of what stands now, and of what another one stands for now."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One observation of a specimen, in words that a list can show."""

    observation: Observation
    title: str
    result: Result
    day: date
    tested_on: date
    occasion: str
    counts: bool
    standing: str
    is_fault: bool
    is_trait: bool


@dataclass(frozen=True, slots=True)
class ThenNow:
    """The first and the latest standing result of one criterion; the same one when there is only one."""

    title: str
    then: Event
    now: Event


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedPhoto:
    """A photo that was filed here before: what it is called, what it is filed with now, when it was moved and why."""

    name: str
    to: str
    at: datetime
    day: date
    by: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimenHistory:
    """A specimen with everything recorded about it.

    Parameters
    ----------
    specimen, title
        The specimen, and its maker, paint and format.
    lot, parcel, label
        What its rows name; a specimen without a label version has its paint's latest.
    preparations, events, pictures
        In the order they were made; what was seen in a blind session is left out while that is open.
    hidden
        Codes of the sessions that are still blind and have it on their sheet, whether it was judged there or not: a
        count would tell which code was judged last.
    taken_out
        Why its entry was taken back; empty for one that is in stock.
    made_by
        Letters and name of the other tester whose piece it is; empty for one's own.
    changes
        Each time that what is known about it, its parcel or its label was changed, in order.
    moved
        The photos that were filed with it, or with what was observed on it, and were moved.
    """

    specimen: Specimen
    title: str
    lot: Lot | None
    parcel: Parcel | None
    label: LabelVersion | None
    preparations: Sequence[Preparation]
    events: Sequence[Event]
    pictures: Sequence[Photo]
    hidden: tuple[str, ...]
    taken_out: str
    made_by: str = ""
    changes: Sequence[FactChange] = ()
    moved: Sequence[MovedPhoto] = ()

    @property
    def then_and_now(self) -> tuple[ThenNow, ...]:
        """Return the first and latest results that count, criterion by criterion, in the order first seen.

        What was put right stands where it was seen: an old result amended today is not the latest.
        """
        counted: dict[str, list[Event]] = {event.observation.criterion: [] for event in self.events}
        for event in sorted(self.events, key=lambda one: one.tested_on):
            if event.counts:
                counted[event.observation.criterion].append(event)
        return tuple(ThenNow(found[0].title, found[0], found[-1]) for found in counted.values() if found)

    @property
    def ends(self) -> tuple[Photo, Photo] | None:
        """Return the first and the latest photo; None without any."""
        in_time = self.in_time
        return (in_time[0], in_time[-1]) if in_time else None

    @property
    def in_time(self) -> list[Photo]:
        """Return the photos in the order they were taken."""
        return sorted(self.pictures, key=self._shot_at)

    def _shot_at(self, photo: Photo) -> tuple[bool, float]:
        """Return what photos are ordered by: when taken; those without a time keep the order of filing, last."""
        taken = photo.taken_at or self._seen_at.get(photo.observation or "")
        return taken is None, taken.timestamp() if taken else 0.0

    @property
    def _seen_at(self) -> Mapping[str, datetime]:
        return {event.observation.id: event.observation.at for event in self.events}


def load(ledger: "Ledger", specimen: str) -> SpecimenHistory:
    """Return the history of a specimen.

    Raises
    ------
    BadInput
        When there is no such specimen.
    """
    from qcledger.bench.known import latest_labels
    from qcledger.bench.unpacking import taken_out
    from qcledger.ledger.queries_stock import pictures_of, seen_on

    one = ledger.get(Specimen, specimen)
    if one is None:
        raise bad("specimen", specimen, "a specimen of this ledger")
    with ledger.reading() as connection:
        seen, pictures = seen_on(connection, specimen), pictures_of(connection, specimen)
    blind = {one.observation.id for one in seen if one.blind}
    own = ledger.get(LabelVersion, one.label_version) if one.label_version else None
    return SpecimenHistory(
        specimen=one,
        title=title_of(ledger, one),
        lot=ledger.get(Lot, one.lot) if one.lot else None,
        parcel=ledger.get(Parcel, one.parcel),
        label=own or latest_labels(ledger).get(one.paint),
        preparations=sorted(ledger.rows(Preparation, specimen=specimen), key=lambda row: (row.on, row.id)),
        events=tuple(_events(ledger, (one for one in seen if not one.blind))),
        pictures=tuple(photo for photo in pictures if photo.observation not in blind),
        hidden=blind_sheets(ledger, specimen),
        taken_out=out[1] if (out := taken_out(ledger, specimen)) else "",
        made_by=ledger.made_by(Specimen, specimen),
        changes=with_label(ledger, specimen, changes(ledger, specimen)),
        moved=tuple(_moved(ledger, specimen, seen)),
    )


def _moved(ledger: "Ledger", specimen: str, seen: "Sequence[Seen]") -> Iterable[MovedPhoto]:
    """Yield the photos that were moved from a specimen, but from no place of a session that is still blind."""
    from qcledger.ledger.filed import moved

    with ledger.reading() as connection:
        found = moved(connection)
    own = {one.observation.id for one in seen if not one.blind}
    for one in found:
        from_here = one.was.observation in own or (one.was.observation is None and one.was.specimen == specimen)
        if from_here and not same_place(ledger, one.was, one.photo):
            yield MovedPhoto(
                name=called(one.was),
                to=where_words(ledger, one.photo, codes=False),
                at=one.at,
                day=ledger.day_of(one.photo, one.at),
                by=one.by,
                reason=one.reason,
            )


def _standing(one: "Seen") -> str:
    """Return in a word whether an observation stands now."""
    if one.superseded:
        return AMENDED
    if one.void:
        return "void"
    return TAKEN_BACK if one.observation.not_testable == TAKEN_BACK else STANDS


def _events(ledger: "Ledger", seen: "Iterable[Seen]") -> Iterable[Event]:
    for one in seen:
        found = one.observation
        criterion = ledger.rubric(found.rubric).criteria[found.criterion]
        result = result_of(found)
        yield Event(
            observation=found,
            title=criterion.title,
            result=result,
            day=one.day,
            tested_on=one.tested_on,
            occasion=one.session or str(one.trial.occasion),
            counts=_standing(one) == STANDS,
            standing=_standing(one),
            is_fault=found.grade is not None and criterion.is_fault(found.grade),
            is_trait=criterion.nature is Nature.TRAIT,
        )
