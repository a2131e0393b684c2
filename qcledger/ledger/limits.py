"""The limits of a field, read once from its annotation, for CHECK constraints and for messages alike."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from functools import cache
from typing import Any

from annotated_types import Ge, Gt, Interval, Le, Len, Lt, MaxLen, MinLen, MultipleOf, Predicate

from qcledger.records import FieldType, is_digest


@dataclass(frozen=True, slots=True)
class Limits:
    """What a field may hold; None where there is no such limit."""

    shortest: int | None = None
    longest: int | None = None
    at_least: Any = None
    above: Any = None
    at_most: Any = None
    below: Any = None
    step: Any = None
    spelling: str = ""


_SINGLE: dict[type[Any], tuple[str, str]] = {
    MinLen: ("shortest", "min_length"),
    MaxLen: ("longest", "max_length"),
    Ge: ("at_least", "ge"),
    Gt: ("above", "gt"),
    Le: ("at_most", "le"),
    Lt: ("below", "lt"),
    MultipleOf: ("step", "multiple_of"),
}


_SPELT: dict[Any, str] = {is_digest: "64 hexadecimal digits in lower case"}
"""How a text is spelt, by what says so of one."""


@cache
def limits(column: FieldType) -> Limits:
    """Return the limits of a column; a later one in the annotation narrows an earlier one."""
    found: dict[str, Any] = {}
    for limit in column.limits:
        if isinstance(limit, Predicate):
            found["spelling"] = _SPELT[limit.func]
            continue
        for single in limit if isinstance(limit, Interval | Len) else (limit,):
            name, attribute = _SINGLE[type(single)]
            found[name] = getattr(single, attribute)
    return Limits(**found)


_WHAT: dict[type[Any], str] = {
    str: "text",
    int: "a whole number",
    float: "a number",
    bool: "true or false",
    Decimal: "a decimal number of at most 28 digits",
    date: "a date such as 2026-11-25",
    datetime: "a time with its zone, such as 2026-11-25T08:00:00Z",
    tuple: "a list of texts of 1 to 200 characters",
}


def allowed(column: FieldType) -> str:
    """Return in words what a column may hold, as the last part of an error message."""
    spelt = limits(column).spelling
    words = spelt or (_choice(column) if issubclass(column.type, StrEnum) else _in_words(column))
    return f"{words}, or nothing" if column.optional else words


def _in_words(column: FieldType) -> str:
    return _WHAT[column.type] + _range(limits(column))


def _choice(column: FieldType) -> str:
    return "one of " + ", ".join(option.value for option in column.type)


def _range(limit: Limits) -> str:
    parts = []
    if limit.longest is not None:
        parts.append(f" of {limit.shortest or 0} to {limit.longest} characters")
    if limit.at_least is not None:
        parts.append(f" from {limit.at_least}" + (f" to {limit.at_most}" if limit.at_most is not None else " up"))
    if limit.above is not None:
        parts.append(f" above {limit.above}")
    if limit.step is not None:
        parts.append(f" in steps of {limit.step}")
    return "".join(parts)
