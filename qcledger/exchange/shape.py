"""From a sheet as it lies in its file to a table with one row for each piece or test, as a layout says."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fnmatch import fnmatchcase
from itertools import takewhile

from qcledger.errors import BadInput, Problem, at, bad
from qcledger.exchange.days import is_month, of_month
from qcledger.exchange.grid import Cell, Grid, GridLine
from qcledger.exchange.layout import Layout
from qcledger.exchange.steering import Steering
from qcledger.exchange.table import LeftOut, Place, SheetRow, Spreadsheet
from qcledger.text import clean, one_line, shorten

MAX_COLUMNS = 500
LONGEST_NAME = 200
"""Most characters of a column's name."""
_SHOWN = 40
_FEW = 6

Other = Callable[[str], Grid]
"""Reads another sheet of the same file."""


def shaped(grid: Grid, layout: Layout, other: Other) -> Spreadsheet:
    """Return the table in a sheet.

    Parameters
    ----------
    grid
        The sheet.
    layout
        Where the table stands in it, and what its rows are.
    other
        Reads another sheet of the same file by its name.

    Raises
    ------
    BadInput
        When the columns cannot be told apart, or a column that the layout names is not there.
    """
    lying = grid.turned() if layout.turned else grid
    table = _Table(lying, layout)
    rows = list(table.rows())
    if table.problems:
        raise BadInput(table.problems)
    header = list(dict.fromkeys(name for name in table.names if name))
    if layout.join:
        joined = [_Joined(one.column, one.own, _plain(other(one.sheet))) for one in layout.join]
        header += [name for one in joined for name in one.table.header if name not in header]
        rows = [again for row in rows for again in _joined(row, joined)]
        table.left += [cell for one in joined for cell in one.unmatched()]
    table.left += _bare_headings(table, rows)
    if layout.redone:
        rows = _redone(table, rows, layout)
    if layout.tests:
        header, rows = _by_test(table, header, rows, layout)
    _refuse_unknown(table, header, layout)
    unread = [name for name in grid.sheets if name not in (grid.sheet, *(one.sheet for one in layout.join))]
    beside = [f"sheet {one.sheet} is read beside this one, by {one.own}" for one in layout.join]
    places = {name: column for column, name in reversed(list(enumerate(table.names, 1))) if name}
    return Spreadsheet(
        grid.name, tuple(header), tuple(row for row in rows if row.cells),
        (*grid.guesses, *beside, *table.steering.lines(), *_told(table.left, layout)), grid.sheet, places,
        tuple(table.left), _of(table.names, lying.hidden_columns), _of(table.names, _calculated(lying, table)),
        layout.turned, tuple(unread) if grid.sheet else (), table.row_of,
    )  # fmt: skip


def _bare_headings(table: "_Table", rows: Sequence[SheetRow]) -> Iterator[LeftOut]:
    """Yield the headings under which nothing stands, where they are lines of the file: titles between its rows."""
    if table.layout.turned:
        filled = {name for row in rows for name in row.cells}
        for column, name in enumerate(table.names, 1):
            if name and name not in filled:
                yield LeftOut(table.place(table.first, column), name, "a heading with nothing beside it")


def _plain(grid: Grid) -> Spreadsheet:
    return shaped(grid, Layout(), lambda _name: grid)


def _of(names: Sequence[str], columns: Iterable[int]) -> frozenset[str]:
    return frozenset(names[column - 1] for column in columns if column <= len(names) and names[column - 1])


def _calculated(grid: Grid, table: "_Table") -> set[int]:
    """Return the columns in which most cells below the headings are calculated."""
    counts = Counter(column for row, column in grid.formulas if row > table.first)
    filled = Counter(
        column for line in table.body for column, cell in enumerate(line.cells, 1) if isinstance(cell, Decimal)
    )
    return {column for column, times in counts.items() if 2 * times > filled[column]}


class _Table:
    """The rows of one sheet below its headings."""

    def __init__(self, grid: Grid, layout: Layout) -> None:
        self.grid = grid
        self.layout = layout
        self.problems: list[Problem] = []
        self.left: list[LeftOut] = []
        self.steering = Steering()
        start = layout.header_line
        below = [line for line in grid.lines if start is None or line.number >= start]
        if not below or (start is not None and below[0].number != start):
            raise bad(at(self._where, start or 1), "", "a header that names the columns")
        self.heads = below[: layout.header_lines]
        self.body = below[layout.header_lines :]
        self.first = self.heads[-1].number
        self._month = ""
        self.row_of = {line.number: line.row for line in grid.lines if line.row not in (0, line.number)}
        self.pinned: dict[int, list[tuple[int, str]]] = {}
        for (row, column), text in grid.comments.items():
            self.pinned.setdefault(row, []).append((column, one_line(text)))
        names, blocks = _names(self.heads, layout)
        bare = [""] * (max((len(line.cells) for line in self.body), default=0) - len(names))
        self.names, self.blocks = [*names, *bare], [*blocks, *bare]
        self.problems += _header_problems(at(self._where, below[0].number), self.names, self.blocks)
        for line in takewhile(lambda line: line.number < below[0].number, grid.lines):
            self.leave(line, "it stands above the headings")

    @property
    def _where(self) -> str:
        return f"{self.grid.name}, sheet {self.grid.sheet}" if self.grid.sheet else self.grid.name

    def place(self, row: int, column: int) -> Place:
        """Return where a cell stands in the file."""
        number = self.row_of.get(row, row)
        spot = (column, number) if self.layout.turned else (number, column)
        return (self.grid.sheet or "", *spot)

    def leave(self, line: GridLine, why: str, columns: Iterable[int] | None = None) -> None:
        """Note that cells of a line, all of them if no `columns` are named, are no facts."""
        wanted = range(1, len(line.cells) + 1) if columns is None else columns
        self.left += [
            LeftOut(self.place(line.number, column), str(line.cells[column - 1]), why)
            for column in wanted
            if line.cells[column - 1] != ""
        ]
        if columns is None:
            self.left += [
                LeftOut(self.place(row, column), f"colour {fill}", why)
                for (row, column), fill in self.grid.fills.items()
                if row == line.number and _nth(line.cells, column - 1) == ""
            ]

    def rows(self) -> Iterator[SheetRow]:
        """Yield the rows of the table; what is none is noted in `left`, what cannot be read in `problems`."""
        for line in (*self.heads, *self.body):
            for cell in line.cells:
                if isinstance(cell, str):
                    self.steering.note(cell, at(self._where, line.number))
        painted = self._painted()
        above: dict[int, Cell] = {}
        for line in self.body:
            why = self._no_row(line) or self._month_line(line)
            if why:
                self.leave(line, why)
                continue
            cells = self._cells(line, painted)
            for column, name in (
                enumerate(self.names, 1) if self.layout.fill_down or self.layout.same_as_above else ()
            ):
                self._from_above(column, name, cells, above)
            self._of_month(cells)
            yield from self._made(line, cells)

    def _no_row(self, line: GridLine) -> str:
        """Return why a line is no row of the table, or nothing."""
        if line.number in self.grid.hidden_rows and not self.layout.hidden:
            return "the row is hidden"
        if self._repeats(line):
            return "the headings again"
        for name, patterns in self.layout.skip.items():
            found = _text(self._cell(line, name))
            like = next((pattern for pattern in patterns if _like(found, pattern)), None)
            if like is not None:
                return f"{name} is {shorten(like, _SHOWN) or 'empty'}"
        return ""

    def _month_line(self, line: GridLine) -> str:
        """Take up the month that a line with nothing else names, and return why it is no row, or nothing."""
        name = self.layout.month_above
        filled = [column for column, cell in enumerate(line.cells) if cell != ""]
        if (
            name is None
            or len(filled) != 1
            or _nth(self.names, filled[0]) != name
            or not is_month(line.cells[filled[0]])
        ):
            return ""
        self._month = _text(line.cells[filled[0]])
        return "it says of which month the days below it are"

    def _of_month(self, cells: dict[int, Cell]) -> None:
        """Let a day that names no month be one of the month above it."""
        if self._month and self.layout.month_above in self.names:
            column = self.names.index(self.layout.month_above) + 1
            if column in cells:
                cells[column] = of_month(cells[column], self._month)

    def _repeats(self, line: GridLine) -> bool:
        start = next((cell for cell in line.cells if cell != ""), "")
        if not isinstance(start, str) or not any(start in head.cells for head in self.heads):
            return False
        filled = [(place, _text(cell)) for place, cell in enumerate(line.cells) if cell != ""]
        return any(
            filled and len(filled) == sum(cell != "" for cell in head.cells)
            and all(text == _text(_nth(head.cells, place)) for place, text in filled)
            for head in self.heads
        )  # fmt: skip

    def _cell(self, line: GridLine, name: str) -> Cell:
        return _nth(line.cells, self.names.index(name)) if name in self.names else ""

    def _painted(self) -> frozenset[int]:
        """Return the columns whose marks are colours: most of their coloured cells hold nothing else."""
        by_number = {line.number: line.cells for line in self.body}
        empty: Counter[int] = Counter()
        for row, column in self.grid.fills:
            if row in by_number:
                empty[column] += 1 if _nth(by_number[row], column - 1) == "" else -1
        return frozenset(column for column, more in empty.items() if more > 0)

    def _cells(self, line: GridLine, painted: frozenset[int]) -> dict[int, Cell]:
        """Return the filled cells of a line by column; of a column marked by colours, what each is called."""
        cells: dict[int, Cell] = {}
        for column in range(1, len(self.names) + 1):
            cell = _nth(line.cells, column - 1)
            fill = self.grid.fills.get((line.number, column), "").casefold()
            if column in painted and fill:
                if cell != "":
                    self.leave(line, f"beside the colour, which counts ({fill})", [column])
                cell = self.layout.colours.get(fill, f"colour {fill}")
            if isinstance(cell, str):
                cell = clean(cell)
            if cell == "":
                continue
            if not _nth(self.names, column - 1):
                problem = Problem(
                    at(self._where, line.number), f"'{cell}' under no header", "a header over each column"
                )
                self.problems.append(problem)
            cells[column] = cell
        return cells

    def _from_above(self, column: int, name: str, cells: dict[int, Cell], above: dict[int, Cell]) -> None:
        cell = cells.get(column)
        marked = cell is not None and _text(cell).casefold() in self.layout.same_as_above
        if (marked or (cell is None and name in self.layout.fill_down)) and column in above:
            cells[column] = above[column]
        elif cell is not None:
            above[column] = cell

    def _made(self, line: GridLine, cells: Mapping[int, Cell]) -> Iterator[SheetRow]:
        comments = {self.names[column - 1]: text for column, text in self.pinned.get(line.number, ())}
        row = SheetRow(
            line.number,
            {self.names[column - 1]: cell for column, cell in cells.items() if not self.blocks[column - 1]},
            comments=comments,
            unanswered=any(
                any(_like(_text(self._cell(line, name)), pattern) for pattern in patterns)
                for name, patterns in self.layout.untested.items()
            ),
        )
        if not self.layout.blocks:
            yield row
            return
        yield from self._of_blocks(line, row, cells)

    def _of_blocks(self, line: GridLine, row: SheetRow, cells: Mapping[int, Cell]) -> Iterator[SheetRow]:
        for block, fixed in self.layout.blocks.items():
            own = {column: cell for column, cell in cells.items() if self.blocks[column - 1] == block}
            if fixed is None:
                self.leave(line, f"{block} is left out", own)
            elif own:
                places = {self.names[column - 1]: self.place(line.number, column) for column in own}
                told = {self.names[column - 1]: cell for column, cell in own.items()}
                yield replace(row, cells={**row.cells, **told}, fixed=fixed, part=(block,), places=places)


def _nth(found: Sequence[Cell], place: int) -> Cell:
    """Return what stands at a place of a row, or nothing."""
    return found[place] if 0 <= place < len(found) else ""


def _text(cell: Cell) -> str:
    return one_line(str(cell))


def _like(found: str, pattern: str) -> bool:
    return fnmatchcase(found.casefold(), pattern.casefold()) if pattern else not found


def _names(heads: Sequence[GridLine], layout: Layout) -> tuple[list[str], list[str]]:
    """Return the columns' names, and the block each belongs to."""
    names = [_text(cell) for cell in heads[-1].cells]
    if len(heads) == 1:
        return names, [""] * len(names)
    upper = [_text(cell) for cell in heads[0].cells]
    names += [""] * (len(upper) - len(names))
    over, last = [], ""
    for column, name in enumerate(names):
        group = str(_nth(upper, column))
        last = (group or last) if name else group
        over.append(last)
    if layout.blocks:
        return [name or group for name, group in zip(names, over, strict=True)], [
            group if group in layout.blocks else "" for group in over
        ]
    doubled = {name for name, times in Counter(names).items() if times > 1}
    told = [
        one_line(f"{group} {name}") if name in doubled and group else name or group
        for name, group in zip(names, over, strict=True)
    ]
    return told, [""] * len(told)


def _header_problems(where: str, header: Sequence[str], blocks: Sequence[str]) -> Iterator[Problem]:
    named = [(block, name) for block, name in zip(blocks, header, strict=True) if name]
    if len(named) > MAX_COLUMNS:
        yield Problem(where, f"{len(named)} columns", f"at most {MAX_COLUMNS}")
    for _, name in named:
        if len(name) > LONGEST_NAME:
            yield Problem(where, f"a header of {len(name)} characters", f"at most {LONGEST_NAME}")
    for (_, name), times in Counter(named).items():
        if times > 1:
            yield Problem(where, f"{times} columns named '{name}'", "each name once")


def _refuse_unknown(table: _Table, header: Sequence[str], layout: Layout) -> None:
    names = {*header, *table.names}
    absent = [name for name in layout.columns if name not in names]
    if absent:
        where = f"{table.grid.name}, header"
        raise bad(where, f"no column {absent[0]}", "the columns that the map names: " + ", ".join(layout.columns))


def _told(left: Sequence[LeftOut], layout: Layout) -> Iterator[str]:
    """Yield a line for each reason why cells belong to no row of the table."""
    by_why: dict[str, list[LeftOut]] = {}
    for cell in left:
        by_why.setdefault(cell.why, []).append(cell)
    what = "column" if layout.turned else "row"
    for why, cells in by_why.items():
        numbers = list(dict.fromkeys(cell.place[2 if layout.turned else 1] for cell in cells))
        shown = ", ".join(map(str, numbers[:_FEW])) + (f" and {len(numbers) - _FEW} more" * (len(numbers) > _FEW))
        yield f"left out of {what} {shown}: {why} ({len(cells)} cell{'s' * (len(cells) != 1)})"


def _key_of(cell: Cell) -> str:
    """Return the form in which the keys of two sheets are alike: 007 is 7."""
    text = _text(cell).casefold()
    return text.lstrip("0") or "0" if text.isdigit() else text


class _Joined:
    """The rows of another sheet by what they have in common with this one."""

    def __init__(self, column: str, own: str, table: Spreadsheet) -> None:
        self.own = own
        self.table = table
        self._column = column
        if column not in table.header:
            raise bad(f"{table.place}, header", f"no column {column}", ", ".join(table.header))
        self._rows: dict[str, list[SheetRow]] = {}
        for row in table.rows:
            self._rows.setdefault(_key_of(row.cells.get(column, "")), []).append(row)
        self._met: set[str] = set()

    def of(self, row: SheetRow) -> Sequence[SheetRow]:
        """Return the rows that belong to one of this sheet."""
        key = _key_of(row.cells.get(self.own, ""))
        self._met.add(key)
        return self._rows.get(key, ()) if key else ()

    def unmatched(self) -> Iterator[LeftOut]:
        """Yield the cells of rows that belong to none."""
        for key, rows in self._rows.items():
            if key not in self._met:
                for row in rows:
                    for name, cell in row.cells.items():
                        why = f"no row has {self.own} {shorten(str(row.cells.get(self._column, '')), _SHOWN)}"
                        yield LeftOut(self.table.spot(row, name), str(cell), why)


def _joined(row: SheetRow, joined: Sequence[_Joined]) -> Iterator[SheetRow]:
    """Yield a row with what other sheets say of it; once for each of several rows there."""
    if not joined:
        yield row
        return
    one, *rest = joined
    found = one.of(row)
    if not found:
        yield from _joined(row, rest)
    for there in found:
        beside = {name: cell for name, cell in there.cells.items() if name not in row.cells}
        places = {**(row.places or {}), **{name: one.table.spot(there, name) for name in beside}}
        part = (
            (*row.part, *(f"{name}={cell}" for name, cell in sorted(beside.items()))) if len(found) > 1 else row.part
        )
        yield from _joined(replace(row, cells={**row.cells, **beside}, places=places, part=part), rest)


def _by_test(
    table: _Table, header: Sequence[str], rows: Iterable[SheetRow], layout: Layout
) -> tuple[list[str], list[SheetRow]]:
    """Return rows whose result stands under the name of its test."""
    tests = layout.tests
    assert tests is not None  # asked by the caller
    spelled: dict[str, str] = {}
    told: list[SheetRow] = []
    for before in rows:
        row, test = before, _text(before.cells.get(tests.name, ""))
        name = spelled.setdefault(test.casefold(), test)
        cells = {key: cell for key, cell in row.cells.items() if key not in (tests.name, tests.result)}
        if tests.result in row.cells and name:
            cells[name] = row.cells[tests.result]
            comments = {name if key == tests.result else key: text for key, text in row.comments.items()}
            places = {**(row.places or {})}
            own = table.names.index(tests.result) + 1 if tests.result in table.names else 0
            places[name] = places.get(tests.result) or table.place(row.number, own)
            row = replace(row, comments=comments, places=places or None)
        told.append(replace(row, cells=cells))
    kept = [name for name in header if name not in (tests.name, tests.result)]
    return [*kept, *(name for name in spelled.values() if name and name not in kept)], told


def _redone(table: _Table, rows: Sequence[SheetRow], layout: Layout) -> list[SheetRow]:
    """Return the rows that count: a test done again takes the place of the last one of that piece and test."""
    if layout.tests is None:
        raise bad("redone", "a sheet without tests", "tests: {name: COLUMN, result: COLUMN} beside it")
    same_as, result = (*layout.piece, layout.tests.name), layout.tests.result
    last: dict[tuple[str, ...], SheetRow] = {}
    undone: set[int] = set()
    for row in rows:
        key = tuple(_text(row.cells.get(name, "")) for name in same_as)
        told = (
            _like(_text(row.cells.get(name, "")), pattern)
            for name, patterns in layout.redone.items()
            for pattern in patterns
        )
        if any(told) and key in last:
            undone.add(last[key].number)
            line = next(line for line in table.body if line.number == last[key].number)
            table.leave(line, f"done again in row {row.number}", [table.names.index(result) + 1])
        last[key] = row
    return [
        replace(row, cells={name: cell for name, cell in row.cells.items() if name != result})
        if row.number in undone
        else row
        for row in rows
    ]
