"""Somebody else's spreadsheet as named columns of cells that keep what the file says of them."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from qcledger.exchange.grid import Cell

Place = tuple[str, int, int]
"""Sheet (empty where a file has one), row and column of a cell, from 1."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A cell that is no fact: where it stands, what it says, and why it is left out."""

    place: Place
    value: str
    why: str


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row: the line it begins on and its filled cells by column.

    Parameters
    ----------
    number
        The line.
    cells
        What stands in it.
    fixed
        Fields that hold for the block of columns it was made of.
    comments
        What is pinned to its cells, by column.
    about
        What tells its piece from others, where that is not the row itself.
    part
        What tells it from others about the same piece.
    unanswered
        Whether its empty cells are no answers.
    places
        Where its cells stand, where that does not follow from line and column.
    """

    number: int
    cells: Mapping[str, Cell]
    fixed: Mapping[str, str] = field(default_factory=dict)
    comments: Mapping[str, str] = field(default_factory=dict)
    about: tuple[str, ...] = ()
    part: tuple[str, ...] = ()
    unanswered: bool = False
    places: Mapping[str, Place] | None = None


@dataclass(frozen=True, slots=True)
class Spreadsheet:
    """A table with a header.

    Parameters
    ----------
    name
        The file's name.
    header
        The columns' names, each once.
    rows
        The rows that are not empty.
    guesses
        What had to be guessed to read it, a line each.
    sheet
        Which of the file's sheets it is, where there are several.
    places
        The number of each column, from 1.
    left
        Cells that belong to no row of the table.
    hidden, formulas
        Columns that the file does not show, or that it calculates.
    turned
        Whether its rows are the columns of the file.
    unread
        The other sheets of the file of which nothing is read.
    row_of
        Which row of the file begins on a line, where cells of several lines make that another number.
    """

    name: str
    header: tuple[str, ...]
    rows: tuple[SheetRow, ...]
    guesses: tuple[str, ...]
    sheet: str | None = None
    places: Mapping[str, int] = field(default_factory=dict)
    left: tuple[LeftOut, ...] = ()
    hidden: frozenset[str] = frozenset()
    formulas: frozenset[str] = frozenset()
    turned: bool = False
    unread: tuple[str, ...] = ()
    row_of: Mapping[int, int] = field(default_factory=dict)

    @property
    def place(self) -> str:
        """The file, and the sheet of it where there are several, for messages."""
        return _place(self.name, self.sheet)

    def spot(self, row: SheetRow, column: str) -> Place:
        """Return where a cell stands in the file."""
        if row.places is not None and column in row.places:
            return row.places[column]
        spot = (self.row_of.get(row.number, row.number), self.places.get(column, 0))
        return (self.sheet or "", *(spot[::-1] if self.turned else spot))


def unread_line(name: str, unread: Iterable[str]) -> Iterator[str]:
    """Yield a line that names the sheets of a file of which nothing is read, where there are any."""
    if names := ", ".join(unread):
        yield f"{name}: not read: sheet {names}"


def _place(name: str, sheet: str | None) -> str:
    return f"{name}, sheet {sheet}" if sheet else name
