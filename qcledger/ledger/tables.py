"""The tables of the database, built from the records: types, CHECK constraints, references and indexes.

Each record of `records.TABLES` has one table, a read model that can be rebuilt from the entries. On both
databases everything is stored as text, whole number or real; texts are compared byte by byte, dates and times are
texts of fixed width that sort as they should, decimals and lists are texts. Only hashes, salt and body of an entry
are bytes: they are most of a ledger, and nothing is looked for in them but a whole hash. SQLite tables are STRICT: a
number column holds numbers. References are checked at the end of a transaction, so rows may come in any order.
"""

from collections.abc import Callable, Mapping
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from types import MappingProxyType
from typing import Any

from sqlalchemy import (
    CheckConstraint,
    Column,
    ColumnElement,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    UniqueConstraint,
    cast,
    func,
    type_coerce,
)

from qcledger.ledger.limits import limits
from qcledger.ledger.stored import BODY, DIGITS, MOMENT, REALS, TEXT, WHOLE, kept
from qcledger.records import TABLES, Daybook, Observation, Record, RubricText, columns
from qcledger.records import FieldType as Shape

_SELDOM_TAKEN_OUT = (None, RubricText.TABLE)
"""What a field may refer to that needs no index; every observation names a rubric, by a long hash."""


def _column(shape: Shape) -> Column[Any]:
    refers = shape.refers_to
    key = [ForeignKey(f"{refers}.id", deferrable=True, initially="DEFERRED")] if refers else []
    return Column(
        shape.name,
        kept(shape.type),
        *key,
        primary_key=shape.name == "id",
        nullable=shape.optional,
        index=refers
        not in _SELDOM_TAKEN_OUT,  # without it, taking out a row reads the whole table that may refer to it
    )


def _checks(shape: Shape, column: Column[Any]) -> list[ColumnElement[bool]]:
    """Return what the database itself refuses, should a row ever come past the codec."""
    text = type_coerce(column, TEXT)
    if issubclass(shape.type, StrEnum):
        return [text.in_([word.value for word in shape.type])]
    if shape.type is bool:
        return [type_coerce(column, Integer).in_([0, 1])]
    if shape.type is date:
        return [text.like("____-__-__")]
    if shape.type is datetime:
        return [text.like("____-__-__T__:__:__.______Z")]
    limit = limits(shape)
    if shape.type is str:
        return [func.length(text).between(limit.shortest or 0, limit.longest)] if limit.longest else []
    number = cast(text, REALS) if shape.type is Decimal else column
    bounds: list[tuple[Any, Callable[[Any], ColumnElement[bool]]]] = [
        (limit.at_least, lambda value: number >= value),
        (limit.above, lambda value: number > value),
        (limit.at_most, lambda value: number <= value),
        (limit.below, lambda value: number < value),
        (limit.step, lambda value: number / value == cast(number / value, Integer)),
    ]
    return [check(value) for value, check in bounds if value is not None]


DAYBOOK = "daybook"
"""Beside a record's fields each row has the daybook it belongs to, see `standing`."""
WHOSE = "whose"
"""Beside its fields each daybook has its tester's letters and name in one form: equal for daybooks of one tester."""

METADATA = MetaData()
"""Every table of a ledger."""


def _orders(record: type[Record]) -> list[Index]:
    """Return the index that lists rows are read through; only observations are many and listed in time."""
    return [Index("ix_observation_order", "at", "id")] if record is Observation else []


def _table(record: type[Record]) -> Table:
    shapes = columns(record)
    made = {shape.name: _column(shape) for shape in shapes}
    checks = [CheckConstraint(check) for shape in shapes for check in _checks(shape, made[shape.name])]
    made[DAYBOOK] = Column(DAYBOOK, TEXT, nullable=False)
    if record is Daybook:
        made[WHOSE] = Column(WHOSE, TEXT, nullable=False)
    return Table(record.TABLE, METADATA, *made.values(), *checks, *_orders(record), sqlite_strict=True)


ENTRY = Table(
    "entry",
    METADATA,
    Column("daybook", TEXT, primary_key=True),
    Column("seq", WHOLE, primary_key=True, autoincrement=False),
    Column("prev", DIGITS, nullable=False),
    Column("kind", TEXT, nullable=False),
    Column("subject", TEXT, nullable=False),
    Column("at", MOMENT, nullable=False),
    Column("salt", DIGITS),
    Column("body", BODY),
    Column("body_hash", DIGITS, nullable=False),
    Column("hash", DIGITS, nullable=False),
    Column("replaces", kept(tuple), nullable=False),
    UniqueConstraint("hash"),
    Index("ix_entry_row", "kind", "subject"),
    CheckConstraint("seq >= 1"),
    sqlite_strict=True,
)
"""One line of a daybook's hash chain a row, as `records.Entry`."""

META = Table(
    "meta",
    METADATA,
    Column("key", TEXT, primary_key=True),
    Column("value", TEXT, nullable=False),
    sqlite_strict=True,
)
"""What the database says about itself: the version of its tables."""

TABLE: Mapping[str, Table] = MappingProxyType({name: _table(record) for name, record in TABLES.items()})
"""The read models by name, each after the tables it refers to."""

SERVER_METADATA = MetaData()
"""Tables that a ledger on a server has beside those of `METADATA`; in a file there are none."""

LARGEST_PHOTO = 40_000_000
"""Bytes of the largest photo."""

PHOTO_BYTES = Table(
    "photo_bytes",
    SERVER_METADATA,
    Column("sha256", TEXT, primary_key=True),
    Column("bytes", LargeBinary, nullable=False),
    CheckConstraint("length(sha256) = 64"),
    CheckConstraint(f"octet_length(bytes) <= {LARGEST_PHOTO}"),
)
"""The photos of a ledger on a server as they came, by their hash; whose each is, the photo's own rows say."""
