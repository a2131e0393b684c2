"""Where a row to be brought in stands, and how a refusal names it, its column and the piece it is about."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo
from decimal import Decimal
from typing import Any, TypeVar

from qcledger.clock import day_of, local
from qcledger.errors import BadInput
from qcledger.figures import money_text
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
    RubricText,
    Session,
    Sheet,
    Specimen,
    Trial,
    columns,
)

R = TypeVar("R", bound=Record)
Get = Callable[[type[Any], str], Any]
"""Returns a row by its class and id, or None."""


class ChangedRow(BadInput):
    """A row that stands already and now says something else."""


@dataclass(frozen=True, slots=True)
class RowPlace:
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
        cell = self.cells.get(self.columns.get(name, "" if self.columns else name))
        return None if cell is None else str(cell)


def shown(row: Record, name: str, get: Get, zone: tzinfo | None) -> str:
    """Return the value of a row's field in words: a row it refers to by its name, a time by the clock of a zone."""
    value = getattr(row, name)
    refers_to = next(column.refers_to for column in columns(type(row)) if column.name == name)
    if refers_to and value is not None:
        return called(get(TABLES[refers_to], value), get)
    return time(value, zone) if isinstance(value, datetime) else _plain(value)


def price_text(coins: int | None, currency: str, mark: str) -> str:
    """Return a price as people write it, with `mark` before the decimals."""
    return "" if coins is None else f"{money_text(coins, currency, mark)} {currency}"


def time(at: datetime, zone: tzinfo | None) -> str:
    """Return a time to the minute by the clock of a zone, with that clock's name; by this machine's for None."""
    return f"{local(at, zone):%Y-%m-%d %H:%M %Z}"


_UTC_TIME = re.compile(r"\b\d{4}-\d\d-\d\dT\d\d:\d\dZ")
"""A time to the minute, as refusals of the ledger tell it."""


def in_zone(text: str, zone: tzinfo | None, *, days: bool = False) -> str:
    """Return a text of the ledger with its times by the clock of a zone; only their days where no time is known."""

    def told(found: re.Match[str]) -> str:
        at = datetime.fromisoformat(found[0])
        return day_of(at, zone).isoformat() if days else time(at, zone)

    return _UTC_TIME.sub(told, text)


def _plain(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, Decimal):
        return f"{value:f}"
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
    """Name a trial by its specimen; in a session, where a code may stand for that, by the session alone."""
    session = get(Session, row.session) if row.session else None
    return f"a place of session {session.code}" if session else called(get(Specimen, row.specimen), get)


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
    RubricText: lambda row, _: f"{row.key}, version {row.id[:8]}",
}

WAYS: Mapping[type[Any], str] = {
    Observation: "a in Record or qcledger amend changes it",
    Specimen: "e in Stock changes it",
    LabelVersion: "l in Stock or qcledger label changes it",
}
"""How a row that stands is changed, where an import may not."""
