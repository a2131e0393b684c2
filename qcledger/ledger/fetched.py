"""What a statement finds, made into columns as the driver gives it: no object is built for a row."""

from collections.abc import Collection, Mapping
from typing import Any

from sqlalchemy import ColumnElement, CursorResult, type_coerce

from qcledger.ledger.stored import MOMENT, SpelledType

Columns = dict[str, list[Any]]
"""Values by the name of what they tell, all of one length."""


class Fetched:
    """Columns that grow with each result that is added.

    Parameters
    ----------
    what
        What is fetched, by name.
    apart
        Names of what is hardly ever the same in two rows.
    """

    def __init__(self, what: Mapping[str, ColumnElement[Any]], apart: Collection[str] = ()) -> None:
        self.columns: Columns = {name: [] for name in what}
        self._values = {name: _Values(column.type) for name, column in what.items() if name not in apart}
        self._moments = [name for name, column in what.items() if column.type is MOMENT]

    def __len__(self) -> int:
        return len(next(iter(self.columns.values())))

    def add(self, result: CursorResult[Any]) -> None:
        """Add what was found by a statement that selects `as_kept`."""
        rows = result.all()
        self._values.update(dict.fromkeys(self._moments, _Values(MOMENT)))  # of one time tell few, and soon
        for name, column in zip(self.columns, zip(*rows, strict=True), strict=False):
            values = self._values.get(name)
            self.columns[name].extend(column if values is None else map(values.__getitem__, column))


def as_kept(what: Mapping[str, ColumnElement[Any]]) -> list[ColumnElement[Any]]:
    """Return what is to be selected for `Fetched`: values as they are kept, which are read there once each."""
    kept = (
        (name, one, one.type.kept if isinstance(one.type, SpelledType) else one.type) for name, one in what.items()
    )
    return [type_coerce(column, type_).label(name) for name, column, type_ in kept]


class _Values(dict[Any, Any]):
    """Values by what is kept for them, each read once: many rows tell the same."""

    def __init__(self, type_: object) -> None:
        self._type = type_

    def __missing__(self, kept: Any) -> Any:
        self[kept] = self._type.value(kept) if isinstance(self._type, SpelledType) else kept
        return self[kept]
