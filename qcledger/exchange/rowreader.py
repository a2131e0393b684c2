"""From a row of somebody's spreadsheet to the values and results the map says are in it."""

import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from qcledger import figures
from qcledger.errors import BadInput, Problem, at, bad
from qcledger.exchange import cells
from qcledger.exchange.columnmap import FIELDS, ColumnMap, Target
from qcledger.exchange.grading import Grader
from qcledger.exchange.spreadsheet import Cell, SheetRow
from qcledger.records import columns
from qcledger.text import one_line

_BETWEEN_PIGMENTS = re.compile(r"\s*[,;/+&|]\s*")


@dataclass(frozen=True, slots=True)
class Filled:
    """What a row says.

    Parameters
    ----------
    where
        File and line.
    key
        What tells the row from all others, the same whenever the file is read.
    fields
        Values by the keys of `columnmap.FIELDS`; prices are counted in the smallest coin of ``currency``, and of a
        test only the day is known.
    results
        Fields of an observation by criterion.
    headers
        The column each field is in, for messages.
    cells
        What stands in the row, by column, for messages.
    """

    where: str
    key: tuple[str, ...]
    fields: Mapping[str, Any]
    results: Mapping[str, Mapping[str, Any]]
    headers: Mapping[str, str]
    cells: Mapping[str, Cell]

    def at(self, field: str) -> str:
        """Return the place of a field for a message."""
        return f"{self.where}, {self.headers[field]}" if field in self.headers else self.where

    def cell(self, field: str) -> str:
        """Return what stands in the cell of a field, or the map's constant for it, for a message."""
        return str(self.cells.get(self.headers.get(field, ""), self.fields[field]))


class RowReader:
    """Reads rows by a map.

    Parameters
    ----------
    name
        The spreadsheet's file name.
    column_map
        What its columns hold.
    grader
        Reads the cells of criteria.
    mark
        What stands before the decimals.
    currency
        The currency of prices that name none.
    """

    def __init__(self, name: str, column_map: ColumnMap, grader: Grader, mark: str, currency: str) -> None:
        self._name = name
        self._map = column_map
        self._grader = grader
        self._mark = mark
        self._own_currency = currency
        self._headers = {target.field: header for header, target in column_map.columns.items() if target.field}
        self._constants = self._read_constants()
        self._seen: Counter[tuple[str, ...]] = Counter()
        self.currency_guessed = False

    def read(self, row: SheetRow) -> Filled:
        """Return what a row says; raises BadInput with every cell that is not allowed."""
        where = at(self._name, row.number)
        fields = dict(self._constants)
        results: dict[str, Mapping[str, Any]] = {}
        problems: list[Problem] = []
        for header, target in self._map.columns.items():
            cell = self._cell(row, header)
            if cell is None or target.field == "price":
                continue
            try:
                if target.field:
                    fields[target.field] = value(target.field, cell, target, self._mark, f"{where}, {header}")
                else:
                    results[target.criterion or ""] = self._grader.result(header, cell, target, f"{where}, {header}")
            except BadInput as error:
                problems += error.problems
        problems += self._add_price(row, fields, where)
        if problems:
            raise BadInput(problems)
        return Filled(where, self._key(row, where), fields, results, self._headers, row.cells)

    def _cell(self, row: SheetRow, header: str) -> Cell | None:
        cell = row.cells.get(header)
        return None if cell is None or str(cell).casefold() in self._map.empty else cell

    def _add_price(self, row: SheetRow, fields: dict[str, Any], where: str) -> Sequence[Problem]:
        """Add price and currency to `fields`; returns what is wrong with them."""
        header = self._headers.get("price", "")
        cell, target = self._cell(row, header), self._map.columns.get(header)
        named = fields.get("currency") or (target.currency if target else None)
        if cell is None:
            fields.setdefault("currency", named or self._own_currency)
            return ()
        self.currency_guessed |= named is None
        try:
            coins, code = cells.price_in(cell, self._mark, named or self._own_currency, f"{where}, {header}")
        except BadInput as error:
            return error.problems
        if fields.setdefault("currency", code) != code:
            return bad(f"{where}, {header}", str(cell), f"a price in {fields['currency']}, as the row says").problems
        fields["price"] = coins
        return ()

    def _read_constants(self) -> dict[str, Any]:
        where = f"{self._map.name}, constants"
        found = {}
        for field, text in self._map.constants.items():
            if field == "price":
                raise bad(where, field, "a column for prices; one price for every row would be a guess")
            found[field] = value(field, text, Target(line=0, field=field), ".", f"{where}, {field}")
        return found

    def _key(self, row: SheetRow, where: str) -> tuple[str, ...]:
        """Return what tells this row from others: the cells of `row_key`, or all cells and a count of equal rows."""
        names = self._map.row_key or tuple(sorted(row.cells))
        key = tuple(f"{name}={row.cells.get(name, '')}" for name in names)
        self._seen[key] += 1
        if not self._map.row_key:
            return (*key, str(self._seen[key]))
        if self._seen[key] > 1 or not any(name in row.cells for name in names):
            raise bad(where, ", ".join(key), "each row_key once and filled")
        return key


def value(field: str, cell: Cell, target: Target, mark: str, where: str) -> Any:
    """Return the value of a cell that holds a field.

    Parameters
    ----------
    field
        A key of `columnmap.FIELDS`, but not ``price``.
    cell
        What stands there.
    target
        What the map says of the column.
    mark
        What stands before the decimals.
    where
        The place, for messages.
    """
    text = target.words.get(str(cell).casefold(), str(cell))
    if field == "currency":
        return figures.currency(text, where)
    record, name = FIELDS[field]
    kind = next(column.type for column in columns(record) if column.name == name)
    if issubclass(kind, StrEnum):
        return _option(kind, text, target, where)
    readers: Mapping[type, Callable[[], Any]] = {
        datetime: lambda: cells.day_in(cell, target.dates, where),  # of a test in a spreadsheet only the day is known
        date: lambda: cells.day_in(cell, target.dates, where),
        Decimal: lambda: cells.amount_in(cell, mark, where),
        tuple: lambda: tuple(part for part in _BETWEEN_PIGMENTS.split(text) if part),
        str: lambda: one_line(text),
    }
    return readers[kind]()


def _option(kind: type[StrEnum], text: str, target: Target, where: str) -> StrEnum:
    try:
        return kind(text.casefold())
    except ValueError:
        raise bad(where, text, ", ".join([*kind, *target.words])) from None
