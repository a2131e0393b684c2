"""From a row of somebody's spreadsheet to the values and results the map says are in it."""

import dataclasses
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from qcledger import figures
from qcledger.errors import BadInput, Problem, at, bad
from qcledger.exchange import cells
from qcledger.exchange.columnmap import FIELDS, TEXTS, ColumnMap, Target
from qcledger.exchange.columnwords import column_words
from qcledger.exchange.days import day_told_by
from qcledger.exchange.grading import Grader, as_grade_or_choice
from qcledger.exchange.grid import Cell
from qcledger.exchange.layout import LEAVE_OUT
from qcledger.exchange.table import SheetRow
from qcledger.exchange.wholepiece import EXAMPLE, WHOLE, piece_told_by
from qcledger.records import columns
from qcledger.text import one_line

_EITHER_WAY = re.compile(r"(?:0?[1-9]|1[0-2])[/-](?:0?[1-9]|1[0-2])[/-](?:\d\d){1,2}$")
"""A day that has its day or its month first; points say which, slashes do not."""
_BETWEEN_FAULTS = re.compile(r"\s*(?:[,;+&]|\band\b)\s*")
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
    piece
        What tells its piece from all others, where several rows are about one; else `key` does.
    left
        Why a cell of the row says nothing, by column.
    row
        The row itself.
    others
        Columns of criteria whose words are no result and are kept as a note.
    """

    where: str
    key: tuple[str, ...]
    fields: Mapping[str, Any]
    results: Mapping[str, Mapping[str, Any]]
    headers: Mapping[str, str]
    cells: Mapping[str, Cell]
    piece: tuple[str, ...] = ()
    left: Mapping[str, str] = dataclasses.field(default_factory=dict)
    row: SheetRow | None = None
    others: tuple[str, ...] = ()

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
        self._headers = {field: header for header, target in column_map.columns.items() for field in target.fields}
        self._constants = self._read_constants()
        self._seen: Counter[tuple[str, ...]] = Counter()
        self._assumed: Counter[tuple[str, str, str, str]] = Counter()
        self._either_way: dict[str, str] = {}
        self._silent: Counter[tuple[str, str]] = Counter()
        self._in_words: Counter[str] = Counter()
        self._no_results: Counter[str] = Counter()
        self.currency_guessed = False

    def read(self, row: SheetRow) -> Filled:
        """Return what a row says; raises BadInput with every cell that is not allowed."""
        where = at(self._name, row.number)
        reading = _Reading(row, where, {**self._constants, **self._fixed(row, where)})
        for header, target in self._map.columns.items():
            cell = self._cell(reading, header, target)
            if cell is None or target.field == "price":
                continue
            try:
                self._take(reading, header, cell, target)
            except BadInput as error:
                reading.problems += error.problems
        reading.problems += self._add_price(reading)
        self._add_texts(reading)
        if reading.problems:
            raise BadInput(reading.problems)
        for header, why in reading.left.items():
            self._silent[header, why] += 1
        key = self._key(row, where)
        return Filled(
            where, key, reading.fields, reading.results, self._headers, row.cells,
            self._piece(row), reading.left, row, tuple(reading.others),
        )  # fmt: skip

    def told(self) -> Iterator[str]:
        """Yield what was assumed of days and sizes, and which cells say nothing, a line each."""
        yield from self._either_way.values()
        for (header, old, new, why), times in self._assumed.items():
            yield f"{header}: {old} is taken as {new}, {why} ({_rows(times)})"
        for (header, why), times in self._silent.items():
            yield f"{header}: {why} ({_cells(times)})"
        for header, times in self._no_results.items():
            yield f"{header}: words that are no result of it are kept as older notes ({_cells(times)})"
        for header, times in (self._in_words - self._no_results).items():
            yield f"{header}: kept in words as older notes; no grade is taken from them ({_cells(times)})"

    def _fixed(self, row: SheetRow, where: str) -> dict[str, Any]:
        """Return the fields that hold for the block of columns a row was made of."""
        return {
            field: value(field, text, Target(line=0, field=field), ".", f"{where}, {field}")
            for field, text in row.fixed.items()
        }

    def _cell(self, reading: "_Reading", header: str, target: Target) -> Cell | None:
        """Return what a column says in a row, or None where it says nothing."""
        cell = reading.row.cells.get(header)
        if cell is None:
            counts = "" in target.words and bool(target.criterion) and not reading.row.unanswered
            return "" if counts else None
        text = str(cell).casefold()
        silent = target.faults.get(text) == {}
        if text in self._map.empty or target.words.get(text) == LEAVE_OUT or silent:
            reading.left[header] = f"'{one_line(str(cell))}' says nothing, as the map has it"
            return None
        return cell

    def _take(self, reading: "_Reading", header: str, cell: Cell, target: Target) -> None:
        where = f"{reading.where}, {header}"
        if target.criterion:
            self._take_result(reading, header, cell, target)
        elif target.faults:
            for key, grade in _faults_in(cell, target, where).items():
                if self._grader.offers(key, reading.fields.get("format")):
                    reading.results[key] = as_grade_or_choice(grade)
        elif target.split:
            self._take_split(reading, header, cell, target)
        elif target.field in TEXTS:
            reading.texts[target.field].append((header, one_line(str(cell))))
        elif target.field == "format":
            self._take_format(reading, header, cell, target)
        elif target.field in ("bought_on", "tested_on"):
            self._take_day(reading, header, cell, target)
        else:
            reading.fields[target.field or ""] = value(target.field or "", cell, target, self._mark, where)

    def _take_result(self, reading: "_Reading", header: str, cell: Cell, target: Target) -> None:
        """Take a result of a criterion; words that are none stay words where the map says so, numbers never."""
        try:
            result = self._grader.result(header, cell, target, f"{reading.where}, {header}")
        except BadInput:
            if not target.keeps_others or isinstance(cell, Decimal) or figures.as_number(str(cell)) is not None:
                raise
            reading.texts["test_note"].append((header, one_line(str(cell))))
            reading.others.append(header)
            return
        tester = self._map.testers.get(reading.row.comments.get(header, "").casefold())
        reading.results[target.criterion or ""] = {**result, "tester": tester} if tester else result

    def _take_split(self, reading: "_Reading", header: str, cell: Cell, target: Target) -> None:
        """Take the fields that stand in one cell."""
        where = f"{reading.where}, {header}"
        first, _, rest = one_line(str(cell)).partition(" ")
        parts = dict(zip(target.split, (first, rest), strict=False))
        if target.split == WHOLE:
            told = piece_told_by(cell)
            if told is None:
                raise bad(where, str(cell), f"a piece such as {EXAMPLE}")
            parts = {"maker": told.maker, "paint": told.paint, "lot": told.lot}
            self._take_format(reading, header, told.form, target)
        for field, part in parts.items():
            if part:
                reading.fields[field] = value(field, part, target, self._mark, where)

    def _take_format(self, reading: "_Reading", header: str, cell: Cell, target: Target) -> None:
        """Take a format, and the millilitres that stand beside it."""
        text = one_line(str(cell))
        where = f"{reading.where}, {header}"
        words, volume = (text, None) if text.casefold() in target.words else cells.format_and_volume(text)
        if volume is not None and words.casefold() == "tube":  # as people write it who write nouns so
            words = "tube"
        if volume is not None and not words:
            words = column_words().size_alone
            self._assumed[header, text, f"a {words}", f"as only {words}s are told by their size"] += 1
        reading.fields["format"] = value("format", words, target, self._mark, where)
        if volume is not None:
            reading.fields["nominal_ml"] = volume

    def _take_day(self, reading: "_Reading", header: str, cell: Cell, target: Target) -> None:
        """Take a day; of one that is not written out to the day, the words are kept in a note."""
        told = day_told_by(cell, target.dates, f"{reading.where}, {header}", self._map.year)
        if _EITHER_WAY.match(one_line(str(cell))):
            shown = f"{header}: {one_line(str(cell))} is read as {told.day}, {target.dates}, as the map has it"
            self._either_way.setdefault(header, shown)
        for field in target.fields:
            reading.fields[field] = told.day
        if told.assumed:
            self._assumed[header, one_line(str(cell)), told.day.isoformat(), told.assumed] += 1
        if told.is_rough:
            reading.texts["note" if "bought_on" in target.fields else "test_note"].append((header, str(cell)))

    def _add_texts(self, reading: "_Reading") -> None:
        """Add notes: alone as they are written, several each with its column; what is pinned to cells as well."""
        pinned = [(header, text) for header, text in reading.row.comments.items()]
        own = self._several_about_one and not reading.fields.get("sticker")
        texts = {
            "note": [] if own else reading.texts["note"],
            "test_note": [*(reading.texts["note"] if own else ()), *reading.texts["test_note"], *pinned],
        }
        self._no_results.update(reading.others)
        if not reading.results:
            self._in_words.update(header for found in reading.texts.values() for header, _ in found)
        if not reading.results and not (texts["test_note"] and "tested_on" in reading.fields):
            texts = {"note": [*texts["note"], *texts["test_note"]], "test_note": []}
        for field, found in texts.items():
            plain = len(found) == 1 and self._headers.get(field) == found[0][0] and len(self._texts_of(field)) == 1
            if found:
                told = found[0][1] if plain else "; ".join(f"{header}: {text}" for header, text in found)
                reading.fields[field] = told

    def _texts_of(self, field: str) -> list[str]:
        return [header for header, target in self._map.columns.items() if target.field == field]

    @property
    def _several_about_one(self) -> bool:
        return bool(self._map.layout.piece or self._map.layout.join)

    def _piece(self, row: SheetRow) -> tuple[str, ...]:
        """Return what tells the piece of a row from others, where several rows may be about one."""
        names = self._map.layout.piece or (self._map.row_key if self._map.layout.join else ())
        return tuple(f"{name}={row.cells.get(name, '')}" for name in names)

    def _add_price(self, reading: "_Reading") -> Sequence[Problem]:
        """Add price and currency to the fields; returns what is wrong with them."""
        header, fields = self._headers.get("price", ""), reading.fields
        target = self._map.columns.get(header) or Target(line=0)
        cell = self._cell(reading, header, target)
        seller = str(fields.get("seller", "")).casefold()
        named = fields.get("currency") or target.currencies.get(seller) or target.currency
        if cell is None:
            fields.setdefault("currency", named or self._own_currency)
            return ()
        where = f"{reading.where}, {header}"
        try:
            coins, code = cells.price_in(cell, self._mark, named or self._own_currency, where)
        except BadInput as error:
            return error.problems
        self.currency_guessed |= named is None and not _names_money(cell)
        if fields.setdefault("currency", code) != code:
            return bad(where, str(cell), f"a price in {fields['currency']}, as the row says").problems
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
        key = (*(f"{name}={row.cells.get(name, '')}" for name in names), *row.part)
        self._seen[key] += 1
        if not self._map.row_key:
            return (*key, str(self._seen[key]))
        if not any(name in row.cells for name in names) or (self._seen[key] > 1 and not row.part):
            raise bad(where, ", ".join(key), "each row_key once and filled")
        return key if self._seen[key] == 1 else (*key, str(self._seen[key]))


@dataclass(slots=True)
class _Reading:
    """What has been read of a row so far."""

    row: SheetRow
    where: str
    fields: dict[str, Any]
    results: dict[str, Mapping[str, Any]] = dataclasses.field(default_factory=dict)
    texts: dict[str, list[tuple[str, str]]] = dataclasses.field(default_factory=lambda: {name: [] for name in TEXTS})
    left: dict[str, str] = dataclasses.field(default_factory=dict)
    others: list[str] = dataclasses.field(default_factory=list)
    problems: list[Problem] = dataclasses.field(default_factory=list)


def _cells(times: int) -> str:
    return f"{times} cell{'s' * (times != 1)}"


def _rows(times: int) -> str:
    return f"{times} row{'s' * (times != 1)}"


def _names_money(cell: Cell) -> bool:
    return not isinstance(cell, Decimal) and str(cell).strip("0123456789.,-+' ") != ""


def _faults_in(cell: Cell, target: Target, where: str) -> Mapping[str, str]:
    """Return the grades by criterion that the words of a cell stand for."""
    text = one_line(str(cell)).casefold()
    found: dict[str, str] = {}
    for word in [text] if text in target.faults else _BETWEEN_FAULTS.split(text):
        if word not in target.faults:
            raise bad(where, word, "words of the map: " + ", ".join(target.faults))
        found |= target.faults[word]
    return found


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
        datetime: lambda: day_told_by(cell, target.dates, where).day,  # of a test only the day is known
        date: lambda: day_told_by(cell, target.dates, where).day,
        Decimal: lambda: (cells.volume_in if field == "nominal_ml" else cells.amount_in)(cell, mark, where),
        tuple: lambda: tuple(part for part in _BETWEEN_PIGMENTS.split(text) if part),
        str: lambda: one_line(text),
    }
    return readers[kind]()


def _option(kind: type[StrEnum], text: str, target: Target, where: str) -> StrEnum:
    try:
        return kind(text.casefold())
    except ValueError:
        raise bad(where, text, ", ".join([*kind, *target.words])) from None
