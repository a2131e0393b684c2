"""Guesses how a table lies in its file: where its headings are, which rows are none, what its colours are called."""

import colorsys
import json
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Final

from qcledger.errors import BadInput
from qcledger.exchange.columnwords import column_words, plain
from qcledger.exchange.days import is_month, names_no_month
from qcledger.exchange.grid import Cell, Grid
from qcledger.exchange.layout import LEAVE_OUT, PLAIN, Join, Layout, Tests
from qcledger.exchange.shape import shaped
from qcledger.exchange.sheetfiles import grid_of
from qcledger.exchange.table import Spreadsheet
from qcledger.text import one_line

_LOOKED_THROUGH: Final = 15
"""Lines at the top among which the headings are sought."""
_DITTO: Final = frozenset({'"', "''", "id.", "idem", "ditto", "dito", "do.", "\u201d", "\u3003"})
_MOST: Final = 0.6
_FILLED_DOWN: Final = 0.4
_TEST: Final = frozenset({"test", "tests", "essai", "prufung", "prueba", "prova", "proef"})
_RESULT: Final = frozenset({"result", "resultat", "ergebnis", "resultado", "risultato", "resultaat"})
_FIELDS_ABOVE: Final = ("maker", "bought_on", "tested_on", "seller")
_PALE: Final = 0.2
"""Saturation below which a colour is grey."""


@dataclass(frozen=True, slots=True)
class GuessedLayout:
    """How a table probably lies, the table read so, remarks, and which other sheets of the file lie as it does."""

    layout: Layout
    sheet: Spreadsheet
    remarks: tuple[str, ...] = ()
    alike: tuple[str, ...] = ()


def guess_layout(path: Path, start: Layout = PLAIN) -> GuessedLayout:
    """Return how the table of a file probably lies.

    Parameters
    ----------
    path
        The file.
    start
        What its owner has said of it already, which is kept.

    Raises
    ------
    BadInput
        When the file cannot be read.
    """
    grid = grid_of(path, start)

    def other(name: str) -> Grid:
        return grid_of(path, replace(start, sheet=name))

    if start != replace(PLAIN, sheet=start.sheet, delimiter=start.delimiter, encoding=start.encoding):
        return GuessedLayout(start, shaped(grid, start, other))
    return _Looking(grid, start, other).layout()


class _Looking:
    """Looks at one sheet."""

    def __init__(self, grid: Grid, start: Layout, other: Callable[[str], Grid]) -> None:
        self._grid = grid
        self._layout = start
        self._other = other
        self.remarks: list[str] = []
        self.alike: list[str] = []

    def layout(self) -> GuessedLayout:
        """Return what is guessed; the plain layout where the guess cannot be read."""
        plainly = self._layout
        try:
            self._headings()
            self._blocks()
            for look in (self._months, self._marks, self._rows, self._joined, self._long, self._again):
                look()
            table = self._table(self._layout)
            return GuessedLayout(self._layout, table, tuple(self.remarks), tuple(self.alike))
        except BadInput:
            return GuessedLayout(plainly, self._table(plainly))

    def _table(self, layout: Layout) -> Spreadsheet:
        return shaped(self._grid, layout, self._other)

    def _set(self, **changed: object) -> None:
        self._layout = replace(self._layout, **changed)  # type: ignore[arg-type]

    def _headings(self) -> None:
        """Find the line of headings; it may be a column, or have another line of headings above it."""
        lines = self._grid.turned().lines if self._is_turned() else self._grid.lines
        top = lines[:_LOOKED_THROUGH]
        best = max(top, key=lambda line: _known(line.cells), default=None)
        if best is None or _known(best.cells) < 2:
            return
        before = next((line for line in top if line.number == best.number - 1), None)
        filled = sum(cell != "" for cell in before.cells) if before else 0
        if before and 2 <= filled < sum(cell != "" for cell in best.cells):
            self._set(header_lines=2, header_line=before.number)
        elif best is not top[0]:
            self._set(header_line=best.number)

    def _is_turned(self) -> bool:
        first = [line.cells[0] for line in self._grid.lines if line.cells]
        across = max((_known(line.cells) for line in self._grid.lines[:_LOOKED_THROUGH]), default=0)
        if _known(first) >= 4 and _known(first) > across:
            self._set(turned=True)
            return True
        return False

    def _months(self) -> None:
        """Find a column of days in which lines with a month alone say of which month the days below are."""
        table = self._table(self._layout)
        for name in table.header:
            alone = [row for row in table.rows if list(row.cells) == [name] and is_month(row.cells[name])]
            days = [row.cells[name] for row in table.rows if name in row.cells and len(row.cells) > 1]
            if alone and any(map(names_no_month, days)):
                self._set(month_above=name)

    def _blocks(self) -> None:
        """Propose what the upper headings say where the lower ones are repeated below them."""
        if self._layout.header_lines != 2:
            return
        lines = [line for line in self._grid.lines if line.number >= (self._layout.header_line or 1)][:2]
        lower = Counter(one_line(str(cell)) for cell in lines[1].cells if cell != "")
        if max(lower.values(), default=0) < 2:
            return
        formats = column_words().formats
        upper = [one_line(str(cell)) for cell in lines[0].cells if cell != ""]
        found = {name: formats.get(plain(name)) for name in upper}
        self._set(blocks={name: {"format": form} if form else None for name, form in found.items()})

    def _marks(self) -> None:
        """Find marks that mean the same as above, what is hidden, and what colours are called."""
        cells = [cell for line in self._grid.lines for cell in line.cells if isinstance(cell, str)]
        same = sorted({cell.strip().casefold() for cell in cells if cell.strip().casefold() in _DITTO})
        if same:
            self._set(same_as_above=frozenset(same))
        if self._grid.hidden_rows:
            self._set(hidden=False)
        colours = {fill.casefold(): colour_name(fill) for fill in sorted(set(self._grid.fills.values()))}
        if colours:
            self._set(colours=colours)

    def _rows(self) -> None:
        """Propose which rows are none, and which columns are filled down."""
        table = self._table(self._layout)
        paint = next((name for name in table.header if is_field(name, "paint") or is_item(name)), None)
        if paint is None:
            return
        patterns = [""] if any(paint not in row.cells for row in table.rows) else []
        texts = [one_line(str(row.cells[paint])) for row in table.rows if paint in row.cells]
        patterns += dict.fromkeys(f"{text.split()[0]}*" for text in texts if _is_total(text))
        patterns += dict.fromkeys(self._sums(table, paint))
        down = self._down(table, paint)
        if patterns and (len(texts) >= 2 * (len(table.rows) - len(texts)) or down):
            self._set(skip={paint: tuple(patterns)})
            down = self._down(self._table(self._layout), paint)
        if down:
            self._set(fill_down=tuple(down))

    def _sums(self, table: Spreadsheet, paint: str) -> Iterator[str]:
        """Yield what the rows look like in which the sheet calculates what others have written."""
        columns = {table.places.get(name, 0) for name in table.formulas}
        sums = {row for row, column in self._grid.formulas if column not in columns}
        for row in table.rows:
            if row.number in sums and paint in row.cells and not self._layout.turned:
                text = re.sub(r"^[^:]+:", "*:", one_line(str(row.cells[paint])))
                if text.startswith("*"):
                    yield re.sub(r"\d+", "*", text)

    def _down(self, table: Spreadsheet, paint: str) -> list[str]:
        rows = [row for row in table.rows if paint in row.cells]
        return [
            name
            for name in table.header
            if any(is_field(name, field) for field in _FIELDS_ABOVE) and name != paint
            if rows and name in rows[0].cells
            if sum(name not in row.cells for row in rows) >= _FILLED_DOWN * len(rows)
        ]

    def _joined(self) -> None:
        """Propose sheets that go on about the rows of this one, known by a column that both have."""
        here = self._table(self._layout)
        joins: list[Join] = []
        for name in self._grid.sheets:
            if name == (self._grid.sheet or name):
                continue
            try:
                there = shaped(self._other(name), replace(PLAIN, header_line=self._layout.header_line), self._other)
            except BadInput:
                self.remarks.append(f"sheet {name} is no table of this kind and is not read")
                continue
            shared = {plain(one) for one in here.header} & {plain(one) for one in there.header}
            if 2 * len(shared) > len(here.header):
                self.alike.append(name)
                continue
            own = next(_same_keys(here, there), None)
            joins += [Join(name, own[1], own[0])] if own else []
            if not own:
                self.remarks.append(f"sheet {name} has no column in common with this one and is not read")
        if joins:
            self._set(join=tuple(joins))

    def _long(self) -> None:
        """Find the columns of a sheet with one line a test, and what tells its pieces apart."""
        table = self._table(self._layout)
        test = next((name for name in table.header if plain(name) in _TEST), None)
        result = next((name for name in table.header if plain(name) in _RESULT), None)
        if test and result:
            self._set(tests=Tests(test, result))
            wanted = ("maker", "paint", "format", "lot")
            piece = [name for name in table.header if any(is_field(name, field) for field in wanted)]
            if not self._layout.join:
                self._set(piece=tuple(piece))
                self._set(fill_down=())

    def _again(self) -> None:
        """Find remarks that take an earlier line back, or say that a row was not looked at."""
        table = self._table(replace(self._layout, tests=None))
        words = column_words()
        for name in (one for one in table.header if is_field(one, "note")):
            said = dict.fromkeys(one_line(str(row.cells[name])) for row in table.rows if name in row.cells)
            untested = [text for text in said if plain(text).startswith(tuple(words.untested))]
            redone = [text for text in said if plain(text).startswith(tuple(words.redone))]
            if untested:
                self._set(untested={name: tuple(untested)})
            if redone and self._layout.tests:
                self._set(redone={name: tuple(dict.fromkeys(f"{text.split(',')[0]}*" for text in redone))})


def _known(cells: Sequence[Cell]) -> int:
    """Return how many of these cells are words that people write over columns."""
    words = column_words()
    known = frozenset().union(*words.fields.values(), *words.criteria.values())
    return sum(bare(str(cell)) in known for cell in cells if isinstance(cell, str))


def bare(header: str) -> str:
    """Return a heading without figures, units and what stands in brackets."""
    text = plain(header.partition("(")[0])
    return " ".join(word for word in text.split() if not word.strip("-/").isdigit()) if not text.isdigit() else text


def is_field(header: str, field: str) -> bool:
    """Say whether a heading is a word for a field."""
    words = column_words().fields[field]
    return bare(header) in words or plain(header) in words


def is_item(header: str) -> bool:
    """Say whether a heading stands over maker and paint in one cell."""
    return bare(header) in ("item", "artikel", "article", "articulo", "articolo")


def _is_total(text: str) -> bool:
    told = plain(text)
    return any(told == word or told.startswith(f"{word} ") for word in column_words().totals)


def _same_keys(here: Spreadsheet, there: Spreadsheet) -> Iterator[tuple[str, str]]:
    """Yield a column here and one there that have a heading and most values in common."""
    for own in here.header:
        for name in there.header:
            if bare(own).rstrip(" ") == bare(name).rstrip(" ") and bare(own):
                mine = {str(row.cells.get(own, "")).lstrip("0") for row in here.rows}
                theirs = [str(row.cells[name]).lstrip("0") for row in there.rows if name in row.cells]
                if sum(value in mine for value in theirs) >= _MOST * max(len(theirs), 1):
                    yield own, name


def colour_name(fill: str) -> str:
    """Return what people call a fill colour: green, yellow, red, blue, grey or white."""
    if fill.startswith("theme"):
        _, number, tint = fill.split()
        return "white" if (number, float(tint)) == ("0", 0.0) else "grey"
    red, green, blue = (int(fill[place : place + 2], 16) / 255 for place in (0, 2, 4))
    hue, light, strong = colorsys.rgb_to_hls(red, green, blue)
    if strong < _PALE:
        return "white" if light > 0.95 else "grey"
    degrees = 360 * hue
    return next(name for until, name in _HUES if degrees < until)


_HUES: Final = ((20, "red"), (70, "yellow"), (170, "green"), (330, "blue"), (361, "red"))


def lines(layout: Layout) -> Iterator[str]:
    """Yield the lines of a map that say a layout, without what is usual."""
    for one in fields(Layout):
        value = getattr(layout, one.name)
        if value != getattr(PLAIN, one.name):
            yield f"{one.name}: {_shown(value)}"


def _shown(value: object) -> str:
    if value is True or value is False:
        return "true" if value else LEAVE_OUT
    if value is None:
        return LEAVE_OUT
    if isinstance(value, Tests):
        return _shown({"name": value.name, "result": value.result})
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_quoted(str(key))}: {_shown(one)}" for key, one in value.items()) + "}"
    if isinstance(value, tuple) and value and isinstance(value[0], Join):
        return _shown({join.sheet: {join.column: join.own} for join in value})
    if isinstance(value, tuple | frozenset):
        return (
            "[" + ", ".join(_quoted(str(one)) for one in (value if isinstance(value, tuple) else sorted(value))) + "]"
        )
    return _quoted(value) if isinstance(value, str) and not value.isalpha() else str(value)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
