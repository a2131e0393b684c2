"""What the ledger refuses of new evidence, though each field by itself would do: what cannot have been so.

`rules` says what any row must satisfy, also one that is merged; this is held against new rows only, see `possible`.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date, datetime, tzinfo
from typing import Any, cast

from qcledger import stickers
from qcledger.clock import zone_named
from qcledger.errors import BadInput, Problem, bad
from qcledger.ledger import possible
from qcledger.ledger.called import called, specimen_of
from qcledger.ledger.chain import utc_text
from qcledger.ledger.known import KnownRows
from qcledger.ledger.rubrics import parsed
from qcledger.records import (
    Daybook,
    LabelVersion,
    Lot,
    Observation,
    Parcel,
    Record,
    RubricText,
    Specimen,
    Trial,
    Zone,
)
from qcledger.vocab import EARLIEST, Occasion, SpecimenState

_TELLING: Mapping[type[Record], tuple[str, ...]] = {
    Parcel: ("bought_on", "received_on"),
    Lot: ("paint", "format"),
    LabelVersion: ("paint",),
    Specimen: ("parcel",),
    Trial: ("specimen", "mixed_with", "occasion", "at"),
}
"""The fields on which the evidence of other rows rests."""


def check_evidence(record: Record, standing: Record | None, known: KnownRows, now: datetime) -> None:
    """Refuse a record that cannot have been so; what stands already so in a row that is amended is let be.

    Raises
    ------
    BadInput
        Naming the row and field, what was found and what is allowed.
    """
    found = list(_problems(record, known, now))
    if found and standing is not None:
        found = [problem for problem in found if problem not in set(_problems(standing, known, now))]
    if found:
        raise BadInput(found)


def changes_evidence(record: Record, standing: Record | None) -> bool:
    """Say whether writing a row again changes what other rows rest on."""
    telling = _TELLING.get(type(record), ())
    return standing is not None and any(getattr(record, name) != getattr(standing, name) for name in telling)


def resting(records: Iterable[Record], known: KnownRows) -> Iterator[Record]:
    """Yield the rows whose evidence rests on these, and those that rest on them in turn."""
    below = [row for record in records for row in known.resting_on(record)]
    if below:
        yield from below
        yield from resting(below, known)


def _problems(record: Record, known: KnownRows, now: datetime) -> Iterator[Problem]:
    for field, told in possible.dated_ahead(record, now):
        yield _problem(record, field, _shown(told), f"nothing later than now, {_shown(now)}", known)
    for field, told in possible.dated_back(record):
        yield _problem(record, field, _shown(told), f"a day from {EARLIEST} on", known)
    rule = _RULES.get(type(record))
    if rule is not None:
        yield from rule(record, known)


def _problem(record: Record, field: str, found: str, allowed: str, known: KnownRows) -> Problem:
    return bad(f"{called(record, known.get)} {field}", found, allowed).problems[0]


def _shown(told: date) -> str:
    """Return a day, or a time to the minute in UTC."""
    return f"{utc_text(told)[:16]}Z" if isinstance(told, datetime) else told.isoformat()


def _daybook(record: Daybook, known: KnownRows) -> Iterator[Problem]:
    if not stickers.are_letters(record.letters):
        yield _problem(record, "letters", record.letters, "one to four letters, as in OV", known)


def _parcel(record: Parcel, known: KnownRows) -> Iterator[Problem]:
    if possible.came(record) < record.bought_on:
        allowed = f"{record.bought_on}, the day it was bought, or later"
        yield _problem(record, "received_on", str(record.received_on), allowed, known)


def _specimen(record: Specimen, known: KnownRows) -> Iterator[Problem]:
    standing = known.get(Specimen.TABLE, record.id)
    if standing is not None and cast(Specimen, standing).sticker == record.sticker:
        return
    if stickers.letters_and_count(record.sticker) is None:
        yield _problem(record, "sticker", record.sticker, stickers.FORM, known)
    elif known.stickers.holder(record.sticker) not in (None, record.id):
        free = known.stickers.next(record.sticker.rpartition(" ")[0])
        allowed = f"one that no other specimen has; {free} is free"
        yield _problem(record, "sticker", record.sticker, allowed, known)


def _trial(record: Trial, known: KnownRows) -> Iterator[Problem]:
    yield from _second_at_place(record, known)
    yield from _early(record, record, record.at, known)
    for subject in filter(None, (record.specimen, record.mixed_with)):
        specimen = cast(Specimen, known.get(Specimen.TABLE, subject))
        since = known.used_up_since(subject) if specimen.state is SpecimenState.USED_UP else None
        if since is not None and possible.too_late(record.at, record.occasion, since, _zone(record, known)):
            whose = specimen_of(record, specimen, known.get)
            allowed = f"a time before {_shown(since)}, when {whose} was used up"
            yield _problem(record, "at", _shown(record.at), allowed, known)


def _second_at_place(record: Trial, known: KnownRows) -> Iterator[Problem]:
    """Yield that a place of a run sheet has its trial already, as when two terminals grade it at once."""
    standing = cast(Trial | None, known.get(Trial.TABLE, record.id))
    if record.run_row is None or (standing is not None and standing.run_row == record.run_row):
        return
    for other in known.trials_at(record.run_row):
        if other.id != record.id:
            allowed = "one trial at a place; look again, and amend what stands there"
            yield _problem(record, "run_row", _stands(other, known), allowed, known)


def _stands(trial: Trial, known: KnownRows) -> str:
    """Return what stands in a trial in a few words, as in ``tested at 2026-03-09T14:02Z: edge 1``."""
    results = [f"{row.criterion} {_result(row)}" for row in known.results(trial.id)]
    return f"tested at {_shown(trial.at)}: {', '.join(results) or 'no result'}"


def _result(row: Observation) -> str:
    if row.grade is not None:
        return f"{row.grade:g}"
    return row.choice or (f"{row.reading:g}" if row.reading is not None else "not testable")


def _early(record: Trial | Observation, trial: Trial, at: datetime, known: KnownRows) -> Iterator[Problem]:
    for subject in filter(None, (trial.specimen, trial.mixed_with)):
        specimen = cast(Specimen, known.get(Specimen.TABLE, subject))
        day = possible.came(cast(Parcel, known.get(Parcel.TABLE, specimen.parcel)))
        if possible.too_early(at, trial.occasion, day, _zone(trial, known)):
            allowed = f"{day}, when {specimen_of(trial, specimen, known.get)} came, or later"
            yield _problem(record, "at", _shown(at), allowed, known)


def _zone(trial: Trial, known: KnownRows) -> tzinfo | None:
    """Return the zone a trial was written in, where that matters: for older notes, of which only days count."""
    return known.zone_of(trial) if trial.occasion is Occasion.OLDER_NOTES else None


def _zone_name(record: Zone, known: KnownRows) -> Iterator[Problem]:
    try:
        zone_named(record.name)
    except BadInput as error:
        yield from error.problems


def _observation(record: Observation, known: KnownRows) -> Iterator[Problem]:
    if record.supersedes is None:
        yield from _second(record, known)
    elif possible.is_taken_back(record.not_testable):
        return  # or what should never have been written could not be taken back
    trial = cast(Trial, known.get(Trial.TABLE, record.trial))
    criterion = parsed(cast(RubricText, known.get(RubricText.TABLE, record.rubric))).criteria[record.criterion]
    if possible.elsewhere(criterion.seen_at, trial.occasion):
        allowed = f"criteria judged at {trial.occasion}; {criterion.title} is judged at {criterion.seen_at}"
        yield _problem(record, "criterion", record.criterion, allowed, known)
    yield from _early(record, trial, record.at, known)


def _second(record: Observation, known: KnownRows) -> Iterator[Problem]:
    if known.get(Observation.TABLE, record.id) is not None:
        return  # one that was written already may have been superseded since: that is no second result
    other = known.result(record.trial, record.criterion)
    if other not in (None, record.id):
        allowed = "one result in a trial; a in Record or qcledger amend changes the one that stands"
        yield _problem(record, "criterion", record.criterion, allowed, known)


_RULES: Mapping[type[Record], Callable[[Any, KnownRows], Iterator[Problem]]] = {
    Daybook: _daybook,
    Zone: _zone_name,
    Parcel: _parcel,
    Specimen: _specimen,
    Trial: _trial,
    Observation: _observation,
}
