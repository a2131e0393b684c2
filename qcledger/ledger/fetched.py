"""What a statement finds, made into columns as the driver gives it: no object is built for a row."""

from collections.abc import Callable, Collection, Hashable, Iterable, Mapping, Sequence
from typing import Any, TypeVar

from sqlalchemy import ColumnElement, Connection, FromClause, Select, select, type_coerce

from qcledger.ledger.readmodels import batches
from qcledger.ledger.stored import MOMENT, SpelledType

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")
Columns = dict[str, list[Any]]
"""Values by the name of what they tell, all of one length."""


class Asked:
    """What is asked of the rows of a table, by name: the row's id first, in whose order they come.

    Parameters
    ----------
    what
        What is fetched, by name.
    source
        The table, with what is joined to it.
    condition
        Which rows are meant, if not all.
    apart
        Names of what is hardly ever the same in two rows.
    """

    def __init__(
        self,
        what: Mapping[str, ColumnElement[Any]],
        source: FromClause,
        condition: ColumnElement[bool] | None = None,
        apart: Collection[str] = (),
    ) -> None:
        self.what, self.apart = what, apart
        self._key = next(iter(what.values()))
        query = select(*map(_as_kept, what, what.values())).select_from(source).order_by(self._key)
        self.query: Select[Any] = query if condition is None else query.where(condition)

    def after(self, last: Any) -> Select[Any]:
        """Return what asks for the rows after the one with this id."""
        return self.query.where(self._key > last)

    def fetched(self, connection: Connection) -> Columns:
        """Return what is asked of all rows."""
        found = Fetched(self)
        found.add(tuples(connection, self.query))
        return found.columns

    def of(self, connection: Connection, ids: Iterable[str]) -> Columns:
        """Return what is asked of the rows with these ids, in their order."""
        found = Fetched(self)
        for part in batches(sorted(ids)):
            found.add(tuples(connection, self.query.where(self._key.in_(part))))
        return found.columns


class Fetched:
    """Columns that grow with the rows that are added.

    Parameters
    ----------
    asked
        What is fetched.
    """

    def __init__(self, asked: Asked) -> None:
        self.columns: Columns = {name: [] for name in asked.what}
        self._values = {name: _Values(one.type) for name, one in asked.what.items() if name not in asked.apart}
        self._moments = [name for name, column in asked.what.items() if column.type is MOMENT]

    def add(self, rows: Sequence[tuple[Any, ...]]) -> None:
        """Add rows as the driver gave them: values as they are kept, which are read here once each."""
        self._values.update(dict.fromkeys(self._moments, _Values(MOMENT)))  # of one time tell few, and soon
        for name, column in zip(self.columns, zip(*rows, strict=True), strict=False):
            values = self._values.get(name)
            self.columns[name].extend(column if values is None else map(values.__getitem__, column))


def tuples(connection: Connection, query: Select[Any]) -> list[tuple[Any, ...]]:
    """Return what a statement finds as the driver itself gives it: of values as they are kept nothing is made."""
    with connection.execute(query) as result:
        assert result.cursor is not None
        return list(result.cursor.fetchall())


def joined(some: Columns, more: Columns) -> Columns:
    """Return columns with those of more rows behind them."""
    return {name: [*column, *more[name]] for name, column in some.items()}


def each_once(of: Callable[[K], V], column: Iterable[K]) -> list[V]:
    """Return what `of` says of each value of a column in which many are the same; it is asked once of each."""
    values = list(column)
    said = {value: of(value) for value in set(values)}
    return list(map(said.__getitem__, values))


def _as_kept(name: str, column: ColumnElement[Any]) -> ColumnElement[Any]:
    """Return a column so that it is selected as it is kept."""
    kept = column.type.kept if isinstance(column.type, SpelledType) else column.type
    return type_coerce(column, kept).label(name)


class _Values(dict[Any, Any]):
    """Values by what is kept for them, each read once: many rows tell the same."""

    def __init__(self, type_: object) -> None:
        self._type = type_

    def __missing__(self, kept: Any) -> Any:
        self[kept] = self._type.value(kept) if isinstance(self._type, SpelledType) else kept
        return self[kept]
