"""Records to the bodies of entries and back: every text cleaned, every field checked, one spelling each.

A body is the canonical JSON of ``{"record": {fields that are not None}, "reason": "..."}``. A field that a body
does not have takes the record's default, so that older bodies stay readable; a field the record does not have is
refused, because it could change what the row means.
"""

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from functools import cache, partial
from math import isfinite
from typing import Any, TypeVar, cast

from pydantic import TypeAdapter, ValidationError

from qcledger.errors import BadInput, Problem, bad
from qcledger.ledger.chain import canonical, utc_text
from qcledger.ledger.limits import allowed, limits
from qcledger.ledger.told import Unreadable
from qcledger.records import (
    TABLES,
    Comparison,
    FieldType,
    Lot,
    Maker,
    Observation,
    Paint,
    Range,
    Record,
    RubricText,
    Seller,
    Session,
    Specimen,
    columns,
)
from qcledger.text import clean, one_line, shorten

R = TypeVar("R", bound=Record)

ONE_LINE = 200
"""Texts that may be no longer than this are names and stand on one line; longer ones keep their line feeds."""

_AS_WRITTEN = {(RubricText.TABLE, "text")}
"""Texts that cleaning would change the meaning of; what they may hold is checked by their own parser."""


CALLED: Mapping[type[Record], str] = {
    Maker: "name",
    Range: "name",
    Paint: "name",
    Seller: "name",
    Lot: "code",
    Specimen: "sticker",
    Comparison: "title",
    Session: "code",
    RubricText: "key",
}
"""The field by which people name a row, where they do."""


def named(record: Record) -> str:
    """Return a short name of a record for messages, as in ``specimen OV 0147``; its id where it has no name.

    An observation is named by its criterion: one is written at a time, or it is told by the line it stands on.
    """
    field = "criterion" if isinstance(record, Observation) else CALLED.get(type(record), "id")
    name = getattr(record, field) or record.id
    return f"{record.TABLE} {shorten(one_line(str(name)), 40)}".strip()


def tidy(record: R) -> R:
    """Return the record with its texts cleaned and its fields checked; raises BadInput with every problem."""
    return _read(type(record), canonical(_plain_fields(record)), partial(named, record))


class TidyRows(tuple[Record, ...]):
    """Records that have passed `tidy`: who takes them need not clean and check their fields once more."""


NONE = TidyRows()
"""No records."""


class FitRows(TidyRows):
    """New tidy records that a ledger would take as it stood when its daybooks ended so: none stands in it already."""

    ends: Mapping[str, tuple[int, str]]
    """Number and hash of each daybook's last entry, as `Ledger.closing_hashes` tells them."""

    @classmethod
    def found(cls, records: Iterable[Record], ends: Mapping[str, tuple[int, str]]) -> "FitRows":
        """Return records as found fit at these ends."""
        fit = cls(records)
        fit.ends = ends
        return fit


def all_tidy(records: Iterable[Record]) -> TidyRows:
    """Return records tidied by `tidy`, those that are known to be so as they are."""
    return records if isinstance(records, TidyRows) else TidyRows(map(tidy, records))


def encode(record: Record, reason: str) -> str:
    """Return the body of the entry that writes a tidy record."""
    return canonical({"record": _plain_fields(record), "reason": clean(reason)})


def decode(kind: str, body: str, where: str) -> tuple[Record, str]:
    """Return the record and the reason a body holds; raises BadInput saying `where` it stands."""
    if kind not in TABLES:
        raise bad(where, kind, "an entry of a kind this version knows")
    try:
        parts = json.loads(body)
        once = canonical(parts)
    except (ValueError, RecursionError) as error:
        raise bad(where, body, "the canonical JSON of a body") from error
    if once != body or not isinstance(parts, dict) or parts.keys() != {"record", "reason"}:
        raise bad(where, body, "the canonical JSON of a record and a reason")
    if not isinstance(parts["reason"], str):
        raise bad(where, parts["reason"], "a reason in words")
    return _read(TABLES[kind], canonical(parts["record"]), lambda: where), parts["reason"]


@cache
def _adapter(kind: str) -> TypeAdapter[Any]:
    return TypeAdapter(TABLES[kind])


def _read(record: type[R], text: str, called: Callable[[], str]) -> R:
    try:
        return cast(R, _adapter(record.TABLE).validate_json(text))
    except ValidationError as error:
        where = called()
        raise BadInput([_problem(record, where, one) for one in error.errors(include_url=False)]) from None


def _problem(record: type[Record], where: str, error: Mapping[str, Any]) -> Problem:
    by_name = {column.name: column for column in columns(record)}
    field = str(error["loc"][0]) if error["loc"] else ""
    missing = error["type"] in {"missing", "missing_argument", "missing_keyword_only_argument"}
    found = "" if missing else error["input"]
    if field in by_name:
        return bad(f"{where} {field}", found, allowed(by_name[field])).problems[0]
    return bad(f"{where} {shorten(one_line(field), 40)}", found, "the fields " + ", ".join(by_name)).problems[0]


def _plain_fields(record: Record) -> dict[str, Any]:
    """Return the record's fields that are not None, as JSON knows them."""
    plain = {}
    for name, column, spelt in _SHAPES[type(record)]:
        value = getattr(record, name)
        if value is not None:
            plain[name] = spelt(value) if spelt and type(value) is str else _plain(value, column, record)
    return plain


def _plain(value: Any, column: FieldType, record: Record) -> Any:
    for kind in type(value).__mro__:
        if kind in _SPELL:
            try:
                return _SPELL[kind](value, column, record)
            except (ValueError, OverflowError):
                break
    raise bad(f"{named(record)} {column.name}", value, allowed(column))


def _spell_text(value: str, column: FieldType, record: Record) -> str:
    spelt = _spelling(type(record), column)
    if spelt is None:
        value.encode()  # a lone surrogate raises here, not in the database
        return value
    return spelt(value)


def _spelling(kind: type[Record], column: FieldType) -> Callable[[str], str] | None:
    """Return what cleans a text of a field: on one line, where it is a name; None for one that is kept as written."""
    if (kind.TABLE, column.name) in _AS_WRITTEN:
        return None
    longest = limits(column).longest
    return clean if longest is None or longest > ONE_LINE else one_line


def _spell_texts(value: tuple[Any, ...], column: FieldType, record: Record) -> list[Any]:
    return [one_line(text) if isinstance(text, str) else text for text in value]


def _spell_time(value: datetime, column: FieldType, record: Record) -> str:
    if value.tzinfo is None:
        raise ValueError
    return utc_text(value)


def _spell_decimal(value: Decimal, column: FieldType, record: Record) -> str:
    _, digits, exponent = value.as_tuple()
    if not isinstance(exponent, int) or len(digits) > 28 or abs(exponent) > 28:
        raise ValueError
    return format(value, "f")


def _spell_number(value: float, column: FieldType, record: Record) -> float:
    if not isfinite(value) or abs(value) >= 2**63:
        raise ValueError
    return value


_SPELL: Mapping[type, Callable[[Any, FieldType, Record], Any]] = {
    bool: lambda value, column, record: value,
    StrEnum: lambda value, column, record: value.value,
    str: _spell_text,
    int: _spell_number,
    float: _spell_number,
    Decimal: _spell_decimal,
    datetime: _spell_time,
    date: lambda value, column, record: value.isoformat(),
    tuple: _spell_texts,
}
"""How values are spelt, by the nearest of their types: a time is a day, too, and true a number."""


_SHAPES: Mapping[type[Record], Sequence[tuple[str, FieldType, Callable[[str], str] | None]]] = {
    kind: [(column.name, column, _spelling(kind, column)) for column in columns(kind)] for kind in TABLES.values()
}
"""The fields of each table, and what cleans the texts in them."""


def with_fields(record: type[R], values: Mapping[Any, Any]) -> R:
    """Return a record from the values of a read model's row, which were checked when they were written."""
    return with_id(record(**{name: values[name] for name, _, _ in _SHAPES[record]}))


def with_id(row: R) -> R:
    """Return a row that was read, which has an id; raises Unreadable for one without."""
    if row.id is None:
        raise Unreadable(f"a row of {row.TABLE} without an id")
    return row
