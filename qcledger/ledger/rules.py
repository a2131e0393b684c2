"""What a row must satisfy beside its own fields: the rows it names, its rubric, and what may be written again."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, cast

from sqlalchemy import Connection, select

from qcledger.errors import BadInput, bad
from qcledger.ledger.chain import sha256
from qcledger.ledger.codec import named
from qcledger.ledger.readmodels import Key, lookup
from qcledger.ledger.rubrics import parsed
from qcledger.ledger.tables import TABLE
from qcledger.records import (
    TABLES,
    Daybook,
    Decision,
    LabelVersion,
    Lot,
    Observation,
    Photo,
    Record,
    Redaction,
    RubricText,
    RunRow,
    Specimen,
    Trial,
    columns,
)
from qcledger.vocab import CURRENCY_DIGITS

ONCE = frozenset({Daybook.TABLE, Observation.TABLE, Redaction.TABLE})
"""Tables whose rows are never written again; an observation is superseded by another instead."""

PHOTO_KINDS = ("jpg", "png", "webp", "heic")


class Known:
    """The rows of a ledger as a transaction sees them: those in the database and those it is about to write.

    Parameters
    ----------
    connection
        The transaction's connection.
    """

    def __init__(self, connection: Connection) -> None:
        self.connection = connection
        self._rows: dict[Key, Record | None] = {}
        self._newer: dict[str, str] = {}

    def fetch(self, records: Iterable[Record]) -> None:
        """Look up, in few statements, the rows that stand for these records and the rows they name."""
        wanted: dict[str, set[str]] = defaultdict(set)
        for record in records:
            for kind, subject in _named_rows(record):
                wanted[kind].add(subject)
        for kind, ids in wanted.items():
            found = lookup(self.connection, kind, ids)
            self._rows |= {(kind, subject): found.get(subject) for subject in ids}

    def get(self, kind: str, subject: str) -> Record | None:
        """Return a row, or None when there is none."""
        if (kind, subject) not in self._rows:
            self._rows[kind, subject] = lookup(self.connection, kind, [subject]).get(subject)
        return self._rows[kind, subject]

    def put(self, record: Record) -> None:
        """Let later records of the transaction see this one."""
        self._rows[record.TABLE, record.id] = record
        if isinstance(record, Observation) and record.supersedes is not None:
            self._newer[record.supersedes] = record.id

    def newer(self, observation: str) -> str | None:
        """Return the id of an observation that supersedes this one, or None."""
        if observation in self._newer:
            return self._newer[observation]
        table = TABLE[Observation.TABLE]
        found = select(table.c.id).where(table.c.supersedes == observation)
        return cast(str | None, self.connection.execute(found).scalar())


def _named_rows(record: Record) -> Iterable[Key]:
    yield record.TABLE, record.id
    for column in columns(type(record)):
        subject = getattr(record, column.name)
        if column.refers_to and subject is not None:
            yield column.refers_to, subject
    if isinstance(record, Decision) and record.subject_table in TABLES:
        yield record.subject_table, record.subject


def check(record: Record, known: Known) -> None:
    """Refuse a tidy record that does not fit the rows that stand.

    Raises
    ------
    BadInput
        Naming the row and field, what was found and what is allowed.
    """
    for column in columns(type(record)):
        subject = getattr(record, column.name)
        if column.refers_to and subject is not None and known.get(column.refers_to, subject) is None:
            raise _refuse(record, column.name, subject, f"the id of a {column.refers_to} in this ledger")
        if column.name in {"currency", "base", "quote"} and subject not in CURRENCY_DIGITS:
            raise _refuse(record, column.name, subject, ", ".join(CURRENCY_DIGITS))
    rule = _RULES.get(type(record))
    if rule is not None:
        rule(record, known)


def check_once(record: Record, standing: Record | None) -> None:
    """Refuse to write a row again that may be written only once."""
    if standing is not None and record.TABLE in ONCE:
        raise bad(named(record), "another row under this id", "a new id; such a row is never changed")


def check_current(record: Record, known: Known) -> None:
    """Refuse to supersede what another observation superseded already: both corrections would count."""
    if isinstance(record, Observation) and record.supersedes is not None:
        newer = known.newer(record.supersedes)
        if newer is not None:
            raise _refuse(record, "supersedes", record.supersedes, f"the current observation, {newer}")


def check_own(record: Record) -> None:
    """Refuse records that only the ledger itself writes."""
    if isinstance(record, Daybook | Redaction):
        raise bad(named(record), f"a {record.TABLE}", "records that are not written by the ledger itself")


def refused(records: Sequence[Record], known: Known) -> Iterator[tuple[Record, BadInput]]:
    """Yield each tidy record that may not be written, and why; those that name it are not blamed for it."""
    known.fetch(records)
    for record in records:
        standing = known.get(record.TABLE, record.id)
        if standing == record:
            continue
        try:
            check_own(record)
            check_once(record, standing)
            check(record, known)
            check_current(record, known)
        except BadInput as error:
            yield record, error
        known.put(record)


def _refuse(record: Record, field: str, found: object, allowed: str) -> BadInput:
    return bad(f"{named(record)} {field}", found, allowed)


def _rubric_text(record: RubricText, known: Known) -> None:
    if sha256(record.text.encode()) != record.id:
        raise _refuse(record, "id", record.id, "the SHA-256 of the text")
    if parsed(record).key != record.key:
        raise _refuse(record, "key", record.key, "the rubric's own key")


def _observation(record: Observation, known: Known) -> None:
    rubric = parsed(cast(RubricText, known.get(RubricText.TABLE, record.rubric)))
    criterion = rubric.criteria.get(record.criterion)
    if criterion is None:
        raise _refuse(record, "criterion", record.criterion, "the criteria of rubric " + rubric.key)
    criterion.check(
        grade=record.grade,
        choice=record.choice,
        reading=record.reading,
        censored=record.censored,
        not_testable=record.not_testable,
        where=named(record),
    )
    if record.supersedes is not None:
        _amendment(record, known)


def _amendment(record: Observation, known: Known) -> None:
    older = cast(Observation, known.get(Observation.TABLE, record.supersedes or ""))
    if (older.trial, older.criterion) != (record.trial, record.criterion):
        raise _refuse(record, "supersedes", record.supersedes, "an observation of the same trial and criterion")
    if not record.reason:
        raise _refuse(record, "reason", "", "a reason, because it supersedes another observation")


def _photo(record: Photo, known: Known) -> None:
    if not set(record.sha256) <= set("0123456789abcdef"):
        raise _refuse(record, "sha256", record.sha256, "64 hexadecimal digits in lower case")
    if record.kind not in PHOTO_KINDS:
        raise _refuse(record, "kind", record.kind, ", ".join(PHOTO_KINDS))


def _decision(record: Decision, known: Known) -> None:
    if record.subject_table not in TABLES:
        raise _refuse(record, "subject_table", record.subject_table, "a table of this ledger")
    if known.get(record.subject_table, record.subject) is None:
        raise _refuse(record, "subject", record.subject, f"the id of a {record.subject_table} in this ledger")


def _specimen(record: Specimen, known: Known) -> None:
    lot = cast(Lot | None, record.lot and known.get(Lot.TABLE, record.lot))
    if lot is not None and (lot.paint, lot.format) != (record.paint, record.format):
        raise _refuse(record, "lot", record.lot, "a lot of the same paint and format")
    label = cast(LabelVersion | None, record.label_version and known.get(LabelVersion.TABLE, record.label_version))
    if label is not None and label.paint != record.paint:
        raise _refuse(record, "label_version", record.label_version, "a label version of the same paint")


def _trial(record: Trial, known: Known) -> None:
    row = cast(RunRow | None, record.run_row and known.get(RunRow.TABLE, record.run_row))
    if row is not None and (row.specimen, row.session) != (record.specimen, record.session):
        raise _refuse(record, "run_row", record.run_row, "a run row of the same session and specimen")


_RULES: Mapping[type[Record], Callable[[Any, Known], None]] = {
    RubricText: _rubric_text,
    Observation: _observation,
    Photo: _photo,
    Decision: _decision,
    Specimen: _specimen,
    Trial: _trial,
}
