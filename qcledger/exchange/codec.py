r"""The text of a CSV cell for the value of a record's field, and back again without loss.

======================== ==========================================================================
field                    cell
======================== ==========================================================================
text                     as it is; a text that a spreadsheet would run gets one ``'`` more in front
list of texts            joined by `` | ``; a ``|`` or ``\`` inside a text has a ``\`` before it
whole number             digits, with ``-`` before a negative one
decimal number           digits with ``.``; an exponent is read, and written only where floats need it
yes or no                ``yes``, ``no``
date                     ``2026-03-09``
time                     ``2026-03-09T14:05:00Z``, in UTC
one of a closed list     the word
nothing                  empty
======================== ==========================================================================
"""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, fields
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import StrEnum
from functools import cache
from typing import Any

from qcledger.errors import BadInput, Problem, bad
from qcledger.ledger.limits import allowed, limits
from qcledger.records import Entry, FieldType, Record, RubricText, columns
from qcledger.text import clean, harmless

# What makes a spreadsheet run a cell instead of showing it, after any number of guards.
_LIVE = re.compile("'*[=+\\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")
_WHOLE = re.compile(r"-?\d{1,18}", re.ASCII)
_DECIMAL = re.compile(r"-?\d{1,30}(\.\d{1,30})?", re.ASCII)
_FLOAT = re.compile(r"-?\d{1,30}(\.\d{1,30})?([eE][-+]?\d{1,3})?", re.ASCII)
_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?Z", re.ASCII)
_PARTS = re.compile(r"((?:[^\\|]|\\.)*)(\||$)", re.DOTALL)
_ESCAPED = re.compile(r"\\(.)", re.DOTALL)
_ESCAPES = re.compile(r"[\\|]")
_FLAGS = {"yes": True, "no": False}


def guard(text: str) -> str:
    """Return `text` as a cell that no spreadsheet runs as a formula; `unguard` undoes it."""
    return f"'{text}" if _LIVE.match(text) else text


def unguard(cell: str) -> str:
    """Return the text of a cell written by `guard`."""
    return cell[1:] if cell.startswith("'") and _LIVE.match(cell) else cell


def own_text(cell: str) -> str:
    """Return the text of a cell that a person may have typed: without its guard, cleaned."""
    return clean(unguard(cell))


def _write_float(value: float) -> str:
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be written to a cell")
    return repr(value).removesuffix(".0")


def _write_text(text: str) -> str:
    return guard(harmless(text))


def _write_texts(texts: tuple[str, ...]) -> str:
    return guard(" | ".join(_ESCAPES.sub(r"\\\g<0>", harmless(text)) for text in texts))


def _read_texts(cell: str) -> tuple[str, ...]:
    parts = [match[1] for match in _PARTS.finditer(unguard(cell))]
    texts = (clean(_ESCAPED.sub(r"\1", part)) for part in parts)
    return tuple(text for text in texts if text)


def _write_time(moment: datetime) -> str:
    return moment.astimezone(UTC).replace(tzinfo=None).isoformat() + "Z"


def _matching(pattern: re.Pattern[str], read: Callable[[str], Any]) -> Callable[[str], Any]:
    """Return `read` for cells of one form only; Python's own readers take many more."""

    def strictly(cell: str) -> Any:
        if not pattern.fullmatch(cell):
            raise ValueError(cell)
        return read(cell)

    return strictly


@dataclass(frozen=True, slots=True)
class CellForm:
    """How values of one type stand in a cell.

    Parameters
    ----------
    write
        Returns the cell of a value.
    read
        Returns the value of a cell; raises ValueError or KeyError for one that is not allowed.
    allowed
        What may stand in the cell, for messages, where that is not what the ledger says of the field.
    """

    write: Callable[[Any], str]
    read: Callable[[str], Any]
    allowed: str = ""


_FORMS: Mapping[type, CellForm] = {
    str: CellForm(_write_text, own_text),
    tuple: CellForm(_write_texts, _read_texts, "texts with ' | ' between them"),
    int: CellForm(str, _matching(_WHOLE, int)),
    float: CellForm(_write_float, _matching(_FLOAT, float)),
    Decimal: CellForm(
        lambda value: f"{value:f}", _matching(_DECIMAL, Decimal), "digits, with '.' before the decimals"
    ),
    bool: CellForm(lambda value: "yes" if value else "no", _FLAGS.__getitem__, "yes or no"),
    date: CellForm(date.isoformat, _matching(_DATE, date.fromisoformat), "a day of the calendar, as 2026-03-09"),
    datetime: CellForm(
        _write_time, _matching(_TIME, datetime.fromisoformat), "a time in UTC, as 2026-03-09T14:05:00Z"
    ),
}
_VERBATIM = CellForm(guard, unguard)


def form(kind: type) -> CellForm:
    """Return how values of the Python type `kind` stand in a cell."""
    return CellForm(str, kind) if issubclass(kind, StrEnum) else _FORMS[kind]


def _form(kind: type[Record] | type[Entry], column: FieldType) -> CellForm:
    """Return the form of a column; a text that is hashed as it stands keeps every blank."""
    hashed = kind is Entry or (kind is RubricText and column.name == "text")
    return _VERBATIM if hashed and column.type is str else form(column.type)


def required(row: type) -> frozenset[str]:
    """Return the fields that a row cannot do without."""
    return _required(row)


@cache
def _required(row: type) -> frozenset[str]:
    return frozenset(field.name for field in fields(row) if field.default is MISSING)


def cells(row: Record | Entry) -> list[str]:
    """Return the cells of a row, in the order of its columns."""
    kind = type(row)
    return [_cell(kind, column, getattr(row, column.name)) for column in columns(kind)]


def _cell(kind: type[Record] | type[Entry], column: FieldType, content: Any) -> str:
    return "" if content is None else _form(kind, column).write(content)


def value(kind: type[Record] | type[Entry], column: FieldType, cell: str, where: str) -> Any:
    """Return the value of one filled cell.

    Raises
    ------
    BadInput
        With `where`, what stands in the cell and what may stand there.
    """
    how = _form(kind, column)
    try:
        return how.read(cell)
    except (ValueError, KeyError):
        raise bad(f"{where}, {column.name}", cell, how.allowed or allowed(column)) from None


def _empty(kind: type[Record] | type[Entry], column: FieldType, where: str) -> dict[str, Any]:
    """Return what an empty cell says about its field: nothing where there is a default."""
    if column.name not in required(kind):
        return {}
    if column.optional:
        return {column.name: None}
    if column.type in (str, tuple) and not limits(column).shortest:
        return {column.name: column.type()}
    raise bad(f"{where}, {column.name}", "", _form(kind, column).allowed or allowed(column))


def values(kind: type[Record] | type[Entry], named: Mapping[str, str], where: str) -> dict[str, Any]:
    """Return the values of a row's cells; an empty or missing cell leaves the field to its default.

    Parameters
    ----------
    kind
        The class of the row.
    named
        Cells by column name; columns may be missing.
    where
        File and line, for messages.

    Raises
    ------
    BadInput
        Listing every cell that is not allowed, and every field that is needed and empty.
    """
    found: dict[str, Any] = {}
    problems: list[Problem] = []
    for column in columns(kind):
        cell = named.get(column.name, "")
        try:
            found |= {column.name: value(kind, column, cell, where)} if cell else _empty(kind, column, where)
        except BadInput as error:
            problems.extend(error.problems)
    if problems:
        raise BadInput(problems)
    return found
