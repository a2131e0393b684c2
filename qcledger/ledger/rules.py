"""What a row must satisfy beside its own fields: the rows it names, its rubric, and what may be written again."""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, cast

from qcledger.errors import BadInput, bad
from qcledger.ledger.called import called
from qcledger.ledger.chain import sha256
from qcledger.ledger.codec import named
from qcledger.ledger.evidence import check_evidence, resting
from qcledger.ledger.known import KnownRows
from qcledger.ledger.photos import KINDS
from qcledger.ledger.progress import Progress
from qcledger.ledger.rubrics import parsed
from qcledger.ledger.words import check_words
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
    SameAs,
    Specimen,
    Trial,
    columns,
)
from qcledger.records.finding_key import table_of
from qcledger.vocab import CURRENCY_DIGITS, Sameness, StageName

ONCE = frozenset({Daybook.TABLE, Observation.TABLE, Redaction.TABLE})
"""Tables whose rows are never written again; an observation is superseded by another instead."""

_WORDS: Mapping[str, Collection[str]] = dict.fromkeys(("currency", "base", "quote"), CURRENCY_DIGITS)
"""Words a field may hold, by its name."""


_LOOKED_UP: Mapping[type[Record], Sequence[tuple[str, str | None, Collection[str] | None]]] = {
    kind: [
        (column.name, column.refers_to, _WORDS.get(column.name))
        for column in columns(kind)
        if column.refers_to or column.name in _WORDS
    ]
    for kind in TABLES.values()
}
"""The fields of each table whose values must be the id of a row, or words: name, table, words."""


def check(record: Record, known: KnownRows) -> None:
    """Refuse a tidy record that does not fit the rows that stand.

    Raises
    ------
    BadInput
        Naming the row and field, what was found and what is allowed.
    """
    for name, refers_to, words in _LOOKED_UP[type(record)]:
        value = getattr(record, name)
        if value is None:
            continue
        if refers_to and known.get(refers_to, value) is None:
            raise _refuse(record, name, value, f"the id of a {refers_to} in this ledger", known)
        if words is not None and value not in words:
            raise _refuse(record, name, value, "one of " + ", ".join(words))
    check_words(record, known)
    rule = _RULES.get(type(record))
    if rule is not None:
        rule(record, known)


def admit(record: Record, known: KnownRows, now: datetime) -> None:
    """Refuse a tidy record that may not be written to this machine's daybook at `now`, or let later ones see it.

    Raises
    ------
    BadInput
        Naming the row and field, what was found and what is allowed.
    """
    standing = known.get(record.TABLE, record.id)
    check_once(record, standing)
    check(record, known)
    check_current(record, known)
    check_evidence(record, standing, known, now)


def check_once(record: Record, standing: Record | None) -> None:
    """Refuse to write a row again that may be written only once."""
    if standing is not None and record.TABLE in ONCE:
        raise bad(named(record), "another row under this id", "a new id; such a row is never changed")


def check_current(record: Record, known: KnownRows) -> None:
    """Refuse to supersede what another observation superseded already: both corrections would count."""
    older = record.supersedes if isinstance(record, Observation) else None
    if older is not None and known.newer(older) is not None:
        found = "an observation that another one superseded"
        raise _refuse(record, "supersedes", found, "the observation that stands now")


def check_own(record: Record) -> None:
    """Refuse records that only the ledger itself writes."""
    if isinstance(record, Daybook | Redaction):
        raise bad(named(record), f"a {record.TABLE}", "records that are not written by the ledger itself")


def check_resting(records: Sequence[Record], known: KnownRows, now: datetime) -> None:
    """Refuse rows written again that would leave others, whose evidence rests on them, as they cannot have been."""
    for row in resting(records, known):
        check(row, known)
        check_evidence(row, None, known, now)


def refused(
    records: Sequence[Record], known: KnownRows, now: datetime, progress: Progress
) -> Iterator[tuple[Record, BadInput]]:
    """Yield each tidy record that may not be written, and why; those that name it are not blamed for it."""
    known.fetch(records)
    for record in progress("Checking entries", records):
        if known.get(record.TABLE, record.id) == record:
            continue
        try:
            check_own(record)
            admit(record, known, now)
        except BadInput as error:
            yield record, _by_id(error, record, known)
        known.put(record)


def _by_id(error: BadInput, record: Record, known: KnownRows) -> BadInput:
    """Return a refusal that names its row as `codec.named` does: whoever brings many rows says where each stands."""
    name, plain = called(record, known.get), named(record)
    return BadInput(replace(one, where=one.where.replace(name, plain, 1)) for one in error.problems)


def _refuse(record: Record, field: str, found: object, allowed: str, known: KnownRows | None = None) -> BadInput:
    name = called(record, known.get) if known is not None else named(record)
    return bad(f"{name} {field}", found, allowed)


def _rubric_text(record: RubricText, known: KnownRows) -> None:
    if sha256(record.text.encode()) != record.id:
        raise _refuse(record, "id", record.id, "the SHA-256 of the text")
    if parsed(record).key != record.key:
        raise _refuse(record, "key", record.key, "the rubric's own key")


def _observation(record: Observation, known: KnownRows) -> None:
    rubric = parsed(cast(RubricText, known.get(RubricText.TABLE, record.rubric)))
    criterion = rubric.criteria.get(record.criterion)
    if criterion is None:
        raise _refuse(record, "criterion", record.criterion, "the criteria of rubric " + rubric.key)
    stages = dict.fromkeys((*rubric.stage_names, *StageName))
    if record.stage is not None and record.stage not in stages:
        raise _refuse(record, "stage", record.stage, f"one of {', '.join(stages)}, as rubric {rubric.key} has them")
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


def _amendment(record: Observation, known: KnownRows) -> None:
    older = cast(Observation, known.get(Observation.TABLE, record.supersedes or ""))
    if (older.trial, older.criterion) != (record.trial, record.criterion):
        found = f"{older.criterion} of another trial" if older.trial != record.trial else older.criterion
        raise _refuse(record, "supersedes", found, "an observation of the same trial and criterion")
    if record.id in _superseded(older, known):
        raise _refuse(record, "supersedes", "an observation that this one leads to", "an observation before it")
    if not record.reason:
        raise _refuse(record, "reason", "", "a reason, because it supersedes another observation")


def _superseded(newest: Observation, known: KnownRows) -> set[str]:
    """Return the id of an observation, and of all before it that it stands in place of."""
    found, one = set[str](), cast(Observation | None, newest)
    while one is not None and one.id not in found:
        found.add(one.id)
        one = cast(Observation | None, known.get(Observation.TABLE, one.supersedes)) if one.supersedes else None
    return found


def _photo(record: Photo, known: KnownRows) -> None:
    if record.kind not in KINDS:
        raise _refuse(record, "kind", record.kind, ", ".join(KINDS))


def _decision(record: Decision, known: KnownRows) -> None:
    table = table_of(record.subject_table)
    if table not in TABLES:
        raise _refuse(record, "subject_table", record.subject_table, "a table of this ledger, or a finding")
    if known.get(table, record.subject) is None:
        raise _refuse(record, "subject", record.subject, f"the id of a {table} in this ledger")


_IDENTIFIED = ("maker", "range", "paint", "seller")
"""What a decision about who is who may be about; a seller may be one that only parcels name."""


def _same_as(record: SameAs, known: KnownRows) -> None:
    if record.subject_table not in _IDENTIFIED:
        raise _refuse(record, "subject_table", record.subject_table, "one of " + ", ".join(_IDENTIFIED))
    renames = record.kind is Sameness.CALLED
    if renames and (not record.name or record.other is not None):
        raise _refuse(record, "name", record.name or "", "what it is called now, and no other")
    if not renames and (record.other in (None, record.subject) or record.name is not None):
        raise _refuse(record, "other", record.other or "", "the id of another one, and no name")
    for field in ("subject", "other") if record.subject_table != "seller" else ():
        subject = getattr(record, field)
        if subject is not None and known.get(record.subject_table, subject) is None:
            raise _refuse(record, field, subject, f"the id of a {record.subject_table} in this ledger")


def _specimen(record: Specimen, known: KnownRows) -> None:
    lot = cast(Lot | None, record.lot and known.get(Lot.TABLE, record.lot))
    if lot is not None and (lot.paint, lot.format) != (record.paint, record.format):
        raise _refuse(record, "lot", lot.code, "a lot of the same paint and format")
    label = cast(LabelVersion | None, record.label_version and known.get(LabelVersion.TABLE, record.label_version))
    if label is not None and label.paint != record.paint:
        raise _refuse(record, "label_version", f"a label seen on {label.seen_on}", "a label of the same paint")


def _trial(record: Trial, known: KnownRows) -> None:
    row = cast(RunRow | None, record.run_row and known.get(RunRow.TABLE, record.run_row))
    if row is not None and (row.specimen, row.session) != (record.specimen, record.session):
        raise _refuse(record, "run_row", "another place", "a place of the same session and specimen", known)


_RULES: Mapping[type[Record], Callable[[Any, KnownRows], None]] = {
    RubricText: _rubric_text,
    Observation: _observation,
    Photo: _photo,
    Decision: _decision,
    SameAs: _same_as,
    Specimen: _specimen,
    Trial: _trial,
}
