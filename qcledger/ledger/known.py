"""The rows of a ledger as a transaction sees them: those in the database and those it is about to write."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, tzinfo
from functools import cached_property
from typing import Any, cast

from sqlalchemy import Connection, Select, select

from qcledger.ledger.own import supersedes
from qcledger.ledger.possible import used_up
from qcledger.ledger.readmodels import Key, batches, lookup, present, rows_equal
from qcledger.ledger.stickers import Stickers
from qcledger.ledger.tables import DAYBOOK, TABLE
from qcledger.ledger.zones import Zones, written_in
from qcledger.records import (
    TABLES,
    Decision,
    LabelVersion,
    Lot,
    Observation,
    Parcel,
    Record,
    RubricText,
    Specimen,
    Trial,
    columns,
)
from qcledger.records.finding_key import table_of

_RESTING: Mapping[type[Record], tuple[tuple[type[Record], str], ...]] = {
    Parcel: ((Specimen, "parcel"),),
    Lot: ((Specimen, "lot"),),
    LabelVersion: ((Specimen, "label_version"),),
    Specimen: ((Trial, "specimen"), (Trial, "mixed_with")),
    Trial: ((Observation, "trial"),),
}
"""Which rows must still fit when a row is written again, and the field by which they name it."""


_SEEN = TABLE[Observation.TABLE]
_NEWER = _SEEN.alias("newer")
_CURRENT: Select[Any] = (
    select(_SEEN.c.id, _SEEN.c.trial, _SEEN.c.criterion)
    .select_from(_SEEN.outerjoin(_NEWER, supersedes(_NEWER, _SEEN)))
    .where(_NEWER.c.id.is_(None))
    .order_by(_SEEN.c.id)
)
_TRIAL = TABLE[Trial.TABLE]
_AT_PLACE: Select[Any] = select(_TRIAL.c.id, _TRIAL.c.run_row)


class KnownRows:
    """Looks rows up in few statements, and remembers them.

    Parameters
    ----------
    connection
        The transaction's connection.
    daybook
        The daybook that what is new will be written to; None for one that has not begun, or where nothing is new.
    begins_in
        The IANA name of the time zone that a daybook which has not begun begins in; None for none.
    """

    def __init__(self, connection: Connection, daybook: str | None = None, begins_in: str | None = None) -> None:
        self.connection = connection
        self._daybook, self._begins_in = daybook, begins_in
        self._new: set[Key] = set()
        self._rows: dict[Key, Record | None] = {}
        self._newer: dict[str, str] = {}
        self._results: dict[str, dict[str, str]] = {}
        self._places: dict[str, set[str]] = {}
        self._stickers: Stickers | None = None
        self._kept: list[RubricText] | None = None
        self._coming: list[RubricText] = []

    def fetch(self, records: Iterable[Record]) -> None:
        """Look up, in few statements, the rows that stand for these records and the rows they rest on."""
        records = list(records)
        self._coming += (row for row in records if isinstance(row, RubricText))
        wanted = {key for record in records for key in _named_rows(record)}
        while wanted:
            found = self._look_up(wanted)
            wanted = {key for row in found for key in _rests_on(row)} - self._rows.keys()
        self._fetch_results({row.trial for row in records if isinstance(row, Observation)})
        self._fetch_places({row.run_row for row in records if isinstance(row, Trial) and row.run_row})

    def _look_up(self, wanted: Iterable[Key]) -> list[Record]:
        by_kind: dict[str, set[str]] = defaultdict(set)
        for kind, subject in wanted:
            by_kind[kind].add(subject)
        rows: list[Record] = []
        for kind, ids in by_kind.items():
            found = lookup(self.connection, kind, ids)
            self._rows |= {(kind, subject): found.get(subject) for subject in ids}
            rows += found.values()
        return rows

    def _fetch_results(self, trials: Iterable[str]) -> None:
        """Look up the results that stand in trials: the observations that no other supersedes."""
        wanted = {one for one in trials if one not in self._results}
        self._results.update((trial, {}) for trial in wanted)
        for batch in batches(present(self.connection, _TRIAL, wanted)):
            for row in self.connection.execute(_CURRENT.where(_SEEN.c.trial.in_(batch))):
                self._results[row.trial].setdefault(row.criterion, row.id)

    def _fetch_places(self, run_rows: Iterable[str]) -> None:
        """Look up which trials were made at places of run sheets."""
        wanted = {one for one in run_rows if one not in self._places}
        for batch in batches(sorted(wanted)):
            self._places |= {run_row: set() for run_row in batch}
            for row in self.connection.execute(_AT_PLACE.where(_TRIAL.c.run_row.in_(batch))):
                self._places[row.run_row].add(row.id)

    def get(self, kind: str, subject: str) -> Record | None:
        """Return a row, or None when there is none."""
        if (kind, subject) not in self._rows:
            self._look_up([(kind, subject)])
        return self._rows[kind, subject]

    def put(self, record: Record) -> None:
        """Let later records of the transaction see this one."""
        before = self._rows.get((record.TABLE, record.id))
        if before is None:
            self._new.add((record.TABLE, record.id))
        self._rows[record.TABLE, record.id] = record
        if isinstance(record, Specimen) and self._stickers is not None:
            self._stickers.put(record, before if isinstance(before, Specimen) else None)
        if isinstance(record, Observation):
            self._fetch_results([record.trial])
            self._results[record.trial][record.criterion] = record.id
            if record.supersedes is not None:
                self._newer[record.supersedes] = record.id
        if isinstance(record, Trial) and record.run_row is not None:
            self._fetch_places([record.run_row])
            self._places[record.run_row].add(record.id)

    def is_new(self, record: Record) -> bool:
        """Say whether a record was put whose row did not stand."""
        return (record.TABLE, record.id) in self._new

    def made_by(self, kind: str, subject: str) -> str | None:
        """Return the daybook a row of the database belongs to; None for one that is about to be written."""
        table = TABLE[kind]
        found = self.connection.execute(select(table.c[DAYBOOK]).where(table.c.id == subject)).scalar()
        return cast(str | None, found)

    def zone_of(self, trial: Trial) -> tzinfo | None:
        """Return the zone that a trial was, or is about to be, written in; None where its daybook has none."""
        key = (Trial.TABLE, trial.id)
        if key in self._new or self.get(*key) is None:
            return self._own_zone
        book = self.made_by(*key) or ""
        return Zones(self.connection, Trial.TABLE, [trial.id]).of(book, trial.id, trial.occasion)

    @cached_property
    def _own_zone(self) -> tzinfo | None:
        return written_in(self.connection, self._daybook, self._begins_in)

    def newer(self, observation: str) -> str | None:
        """Return the id of an observation that supersedes this one, or None."""
        if observation in self._newer:
            return self._newer[observation]
        joined = _SEEN.join(_NEWER, supersedes(_NEWER, _SEEN))
        found = select(_NEWER.c.id).select_from(joined).where(_SEEN.c.id == observation)
        return cast(str | None, self.connection.execute(found).scalar())

    def result(self, trial: str, criterion: str) -> str | None:
        """Return the id of the observation that stands for a criterion in a trial, or None."""
        self._fetch_results([trial])
        return self._results[trial].get(criterion)

    def rubrics(self) -> list[RubricText]:
        """Return the rubrics that are kept, and those that come with the records at work, before or after others."""
        if self._kept is None:
            self._kept = rows_equal(self.connection, RubricText, {})
        return [*self._kept, *self._coming]

    def results(self, trial: str) -> list[Observation]:
        """Return the observations that stand in a trial, by criterion."""
        self._fetch_results([trial])
        found = sorted(self._results[trial].items())
        return [cast(Observation, self.get(Observation.TABLE, one)) for _, one in found]

    def trials_at(self, run_row: str) -> list[Trial]:
        """Return the trials made at a place of a run sheet, as they stand or are about to be written."""
        self._fetch_places([run_row])
        rows = (self.get(Trial.TABLE, one) for one in sorted(self._places[run_row]))
        return [row for row in rows if isinstance(row, Trial) and row.run_row == run_row]

    @property
    def stickers(self) -> Stickers:
        """The stickers in use."""
        if self._stickers is None:
            self._stickers = Stickers(self.connection)
            for row in self._rows.values():
                if isinstance(row, Specimen):
                    self._stickers.put(row, None)
        return self._stickers

    def used_up_since(self, specimen: str) -> datetime | None:
        """Return when a specimen was used up, or None; a state about to be written is not known to have lasted."""
        return used_up(self.connection, specimen).get(specimen)

    def resting_on(self, row: Record) -> list[Record]:
        """Return the rows whose evidence rests on this one, as they stand or are about to be written."""
        found: list[Record] = []
        for kind, field in _RESTING.get(type(row), ()):
            table = TABLE[kind.TABLE]
            ids = self.connection.execute(select(table.c.id).where(table.c[field] == row.id)).scalars().all()
            self._look_up((kind.TABLE, one) for one in ids if (kind.TABLE, one) not in self._rows)
            rows = (self._rows[kind.TABLE, one] for one in ids)
            found += (one for one in rows if one is not None and getattr(one, field) == row.id)
        return found


def _rests_on(row: Record) -> Iterable[Key]:
    """Yield the rows that say when and on what something was tested."""
    if isinstance(row, Trial):
        yield from ((Specimen.TABLE, subject) for subject in (row.specimen, row.mixed_with) if subject)
    elif isinstance(row, Specimen):
        yield Parcel.TABLE, row.parcel


_LINKS: Mapping[type[Record], Sequence[tuple[str, str]]] = {
    kind: [(column.name, column.refers_to) for column in columns(kind) if column.refers_to]
    for kind in TABLES.values()
}
"""The fields of each table that name another row, and the table of that."""


def _named_rows(record: Record) -> Iterable[Key]:
    yield record.TABLE, record.id
    for name, refers_to in _LINKS[type(record)]:
        subject = getattr(record, name)
        if subject is not None:
            yield refers_to, subject
    if isinstance(record, Decision) and (table := table_of(record.subject_table)) in TABLES:
        yield table, record.subject
