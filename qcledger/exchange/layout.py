"""How a table lies in its file, as a map says it: where it begins, which rows are none, what each stands for."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Final

from qcledger.errors import at, bad
from qcledger.exchange.grid import DELIMITERS
from qcledger.exchange.textcode import ENCODINGS
from qcledger.rubric.form import Key, among, each, flag, number, pairs, refuse, take, text
from qcledger.rubric.strict_yaml import Node, Pairs, Scalar
from qcledger.text import one_line

LEAVE_OUT: Final = "leave out"
READ: Final = "read"
_NONE: Final[Mapping[str, Any]] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Tests:
    """The columns of a sheet with one line a test: what was looked at, and what was found."""

    name: str
    result: str


@dataclass(frozen=True, slots=True)
class Join:
    """Another sheet of the file: its `column` holds what `own` holds here."""

    sheet: str
    column: str
    own: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Where a table stands and how its rows are read; each field is a key of the map.

    Parameters
    ----------
    delimiter, sheet, header_line, encoding
        Where and how it is written; guessed if None. `header_line` counts columns where the sheet is `turned`.
    header_lines
        How many rows of headings there are, 1 or 2.
    turned
        Whether each column, not each row, is about one piece.
    fill_down
        Columns in which an empty cell means what stands above it.
    same_as_above
        Marks that mean so, in any column.
    month_above
        The column of days in which a line with a month alone says of which month the days below it are.
    skip
        Patterns by column: a row is no row of the table where its cell is like one of them; ``""`` is an empty cell.
    hidden
        Whether hidden rows are read.
    colours
        What fill colours are called, in columns that are marked by colours.
    blocks
        What the first row of headings says over columns that are repeated: fields of each block, or None for one that
        is left out.
    tests
        Where each line is one test.
    join
        Other sheets of the file.
    piece
        Columns that together say which piece a row is about; rows that have them alike are tests of one piece.
    untested
        Patterns by column: in such rows an empty cell is no answer.
    redone
        Patterns by column: such a row takes the place of an earlier one about the same piece and test.
    """

    delimiter: str | None = None
    sheet: str | None = None
    header_line: int | None = None
    encoding: str | None = None
    header_lines: int = 1
    turned: bool = False
    fill_down: tuple[str, ...] = ()
    same_as_above: frozenset[str] = frozenset()
    month_above: str | None = None
    skip: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    hidden: bool = True
    colours: Mapping[str, str] = field(default_factory=dict)
    blocks: Mapping[str, Mapping[str, str] | None] = field(default_factory=dict)
    tests: Tests | None = None
    join: tuple[Join, ...] = ()
    piece: tuple[str, ...] = ()
    untested: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    redone: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def columns(self) -> tuple[str, ...]:
        """The columns of the sheet that are named here."""
        own = [join.own for join in self.join]
        months = [self.month_above] if self.month_above else []
        return (*self.fill_down, *months, *self.skip, *self.piece, *own, *self.untested, *self.redone)


PLAIN: Final = Layout()


def layout_of(values: dict[str, Any]) -> Layout:
    """Take what belongs to a layout out of the values of a map."""
    return Layout(**{name: values.pop(name) for name in LAYOUT_KEYS})


def _whole(most: int, allowed: str) -> Any:
    def read_whole(node: Node, where: str) -> int:
        found = number(node, where)
        if not 1 <= found <= most or found != int(found):
            raise refuse(node, where, allowed)
        return int(found)

    return read_whole


def _plain(node: Node, where: str) -> str:
    if not isinstance(node, Scalar) or node.text == "?":
        raise refuse(node, where, "a text: put your decision where a ? stands")
    return one_line(node.text)


def _patterns(node: Node, where: str) -> Mapping[str, tuple[str, ...]]:
    found = pairs(node, where)
    return {one_line(name): _some_patterns(item, where) for name, item in found.items.items()}


def _some_patterns(node: Node, where: str) -> tuple[str, ...]:
    return (_plain(node, where),) if isinstance(node, Scalar) else each(_plain)(node, where)


def _words(node: Node, where: str) -> Mapping[str, str]:
    return {one_line(old).casefold(): _plain(new, where) for old, new in pairs(node, where).items.items()}


def _marks(node: Node, where: str) -> frozenset[str]:
    return frozenset(word.casefold() for word in each(text(40))(node, where))


def _blocks(node: Node, where: str) -> Mapping[str, Mapping[str, str] | None]:
    return {one_line(name): _block(item, where) for name, item in pairs(node, where).items.items()}


def _block(node: Node, where: str) -> Mapping[str, str] | None:
    if isinstance(node, Pairs):
        return {name: _plain(item, where) for name, item in node.items.items()}
    if _plain(node, where) != LEAVE_OUT:
        raise refuse(node, where, f"{{format: tube}} and the like, or {LEAVE_OUT}")
    return None


def _tests(node: Node, where: str) -> Tests:
    return Tests(**take(node, where, {"name": Key(text(200)), "result": Key(text(200))}))


def _join(node: Node, where: str) -> tuple[Join, ...]:
    return tuple(
        _one_join(one_line(sheet), item, where, node.line) for sheet, item in pairs(node, where).items.items()
    )


def _one_join(sheet: str, node: Node, where: str, line: int) -> Join:
    named = list(pairs(node, where).items.items())
    if len(named) != 1:
        raise bad(at(where, line), f"{len(named)} columns", "one: {its column: the column here}")
    return Join(sheet, one_line(named[0][0]), _plain(named[0][1], where))


def _hidden(node: Node, where: str) -> bool:
    return among((READ, LEAVE_OUT))(node, where) == READ


LAYOUT_KEYS: Final[Mapping[str, Key]] = {
    "delimiter": Key(among(DELIMITERS), default=None),
    "sheet": Key(text(200), default=None),
    "header_line": Key(_whole(10**6, "a line of the file, from 1"), default=None),
    "encoding": Key(among(ENCODINGS), default=None),
    "header_lines": Key(_whole(2, "1 or 2"), default=1),
    "turned": Key(flag, default=False),
    "fill_down": Key(each(text(200)), default=()),
    "same_as_above": Key(_marks, default=frozenset()),
    "month_above": Key(text(200), default=None),
    "skip": Key(_patterns, default=_NONE),
    "hidden": Key(_hidden, default=True),
    "colours": Key(_words, default=_NONE),
    "blocks": Key(_blocks, default=_NONE),
    "tests": Key(_tests, default=None),
    "join": Key(_join, default=()),
    "piece": Key(each(text(200)), default=()),
    "untested": Key(_patterns, default=_NONE),
    "redone": Key(_patterns, default=_NONE),
}
