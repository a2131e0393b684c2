"""Where a row to be brought in stands, and how a refusal names it, its column and the piece it is about."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any, TypeVar

from qcledger.errors import BadInput
from qcledger.ledger.codec import CALLED
from qcledger.records import (
    TABLES,
    LabelVersion,
    Lot,
    Maker,
    Observation,
    Paint,
    Parcel,
    Record,
    Sheet,
    Specimen,
    Trial,
    columns,
)
from qcledger.vocab import CURRENCY_DIGITS

R = TypeVar("R", bound=Record)
Get = Callable[[type[Any], str], Any]
"""Returns a row by its class and id, or None."""


class ChangedRow(BadInput):
    """A row that stands already and now says something else."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a row stands.

    Parameters
    ----------
    where
        File and line.
    columns
        What the fields of the row are called there, where that is not what the ledger calls them.
    cells
        What stands in the cells of those columns.
    days
        The day that a field was made of which holds a time, where only the day is known.
    """

    where: str
    columns: Mapping[str, str] = field(default_factory=dict)
    cells: Mapping[str, object] = field(default_factory=dict)
    days: Mapping[str, str] = field(default_factory=dict)

    def at(self, name: str) -> str:
        """Return the place of a field."""
        return f"{self.where}, {self.columns.get(name, name)}"

    def found(self, name: str) -> str | None:
        """Return what stands there in a field's cell, or None where that is not known."""
        cell = self.cells.get(self.columns.get(name, ""))
        return None if cell is None else str(cell)


def shown(row: Record, name: str, get: Get) -> str:
    """Return the value of a row's field in words: a row it refers to by its name, never by its id."""
    value = getattr(row, name)
    refers_to = next(column.refers_to for column in columns(type(row)) if column.name == name)
    if refers_to and value is not None:
        return called(get(TABLES[refers_to], value), get)
    return _plain(value)


def money(coins: int | None, currency: str) -> str:
    """Return a price as people write it."""
    return "" if coins is None else f"{Decimal(coins).scaleb(-CURRENCY_DIGITS[currency]):f} {currency}"


def _plain(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, date):
        return value.isoformat()
    return ", ".join(value) if isinstance(value, tuple) else str(value)


def called(row: Record | None, get: Get) -> str:
    """Return what a tester calls a row: the paint, and the sticker of a piece of it."""
    name = _CALLED.get(type(row))
    if row is None or (name is None and type(row) not in CALLED):
        return f"another {row.TABLE.replace('_', ' ')}" if row else "nothing"
    return name(row, get) if name else str(getattr(row, CALLED[type(row)]))


def _paint(row: Paint, get: Get) -> str:
    maker = get(Maker, row.maker)
    return f"{maker.name} {row.name}" if maker else row.name


def _lot(row: Lot, get: Get) -> str:
    return f"lot {row.code} of {called(get(Paint, row.paint), get)}"


def _label(row: LabelVersion, get: Get) -> str:
    return f"the label of {called(get(Paint, row.paint), get)} with {', '.join(row.index_names) or 'no pigments'}"


def _parcel(row: Parcel, get: Get) -> str:
    return f"the parcel of {row.bought_on.isoformat()}, {row.seller}"


def _specimen(row: Specimen, get: Get) -> str:
    return f"{called(get(Paint, row.paint), get)} ({row.sticker})"


def _trial(row: Trial, get: Get) -> str:
    """Name a trial by its specimen; in a session a code may stand for it, which no message tells."""
    return "a place of a session" if row.session else called(get(Specimen, row.specimen), get)


def _observation(row: Observation, get: Get) -> str:
    return called(get(Trial, row.trial), get)


_CALLED: Mapping[type[Any], Callable[[Any, Get], str]] = {
    Paint: _paint,
    Lot: _lot,
    LabelVersion: _label,
    Parcel: _parcel,
    Specimen: _specimen,
    Trial: _trial,
    Observation: _observation,
    Sheet: lambda row, _: f"sheet {row.number}",
}
