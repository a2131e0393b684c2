"""What the columns of somebody else's spreadsheet mean, as a tester writes it down in a small YAML file."""

import dataclasses
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from qcledger.errors import at, bad
from qcledger.exchange.cells import ORDERS
from qcledger.exchange.csvfile import decode, read_bytes
from qcledger.exchange.spreadsheet import DELIMITERS
from qcledger.figures import MARKS
from qcledger.records import LabelVersion, Lot, Maker, Observation, Paint, Parcel, Record, Specimen, Trial
from qcledger.rubric.form import Key, each, flag, number, pairs, refuse, shown, take, text
from qcledger.rubric.strict_yaml import Items, Node, Pairs, Scalar, read
from qcledger.text import one_line
from qcledger.vocab import CURRENCY_DIGITS

FIELDS: Mapping[str, tuple[type[Record], str]] = {
    "maker": (Maker, "name"),
    "paint": (Paint, "name"),
    "number": (Paint, "number"),
    "pigments": (LabelVersion, "index_names"),
    "format": (Specimen, "format"),
    "lot": (Lot, "code"),
    "sticker": (Specimen, "sticker"),
    "source": (Specimen, "source"),
    "bought_on": (Parcel, "bought_on"),
    "seller": (Parcel, "seller"),
    "currency": (Parcel, "currency"),
    "price": (Specimen, "price_minor"),
    "nominal_ml": (Specimen, "nominal_ml"),
    "weight_g": (Specimen, "weight_g"),
    "note": (Specimen, "note"),
    "tested_on": (Trial, "at"),
    "tester": (Observation, "tester"),
    "test_note": (Trial, "note"),
}
"""What a column may hold besides a criterion, and the field of the ledger it becomes."""

LEAVE_OUT = "leave out"
ASK = "?"
"""Stands in a proposed map where the tester has to decide."""

_NO_WORDS: Mapping[str, str] = MappingProxyType({})
DEFAULT_RUBRICS = ("watercolour", "packaging", "label")
"""The rubrics whose criteria a map may name when it names no rubrics."""


@dataclass(frozen=True, slots=True)
class EvenScale:
    """Somebody's scale of numbers, laid evenly over 0 to 5; `reversed` when its low end is the worst."""

    low: float
    high: float
    reversed: bool = False

    def grade(self, mark: float) -> float:
        """Return where `mark` falls between 0 none and 5 worst."""
        share = (mark - self.low) / (self.high - self.low)
        return 5 * (1 - share if self.reversed else share)


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What one column holds.

    Parameters
    ----------
    line
        The line of the map that says so.
    field, criterion
        A key of `FIELDS`, or the key of a criterion; exactly one is set.
    words
        Old word, lower-cased, to ours.
    scale
        Somebody's scale of numbers, for a criterion.
    reading
        Whether the cells are measured values, for a criterion.
    dates
        A key of `cells.ORDERS`.
    currency
        The currency of prices without one.
    """

    line: int
    field: str | None = None
    criterion: str | None = None
    words: Mapping[str, str] = dataclasses.field(default_factory=dict)
    scale: EvenScale | None = None
    reading: bool = False
    dates: str = "year month day"
    currency: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnMap:
    """A whole map; each field is a key of the file.

    Parameters
    ----------
    name
        The map's file name.
    columns
        What each column holds; columns left out have no place here.
    left_out
        The columns the map says to leave out.
    constants
        What a field is in every row, for those without a column.
    rubrics
        Rubric files, or keys of those that come with the program.
    new_makers
        Whether makers the ledger does not know are added.
    row_key
        The columns that tell one row from the others for good; all of them if empty.
    empty
        Cells that say nothing, lower-cased.
    decimal_mark
        What stands before the decimals in this file; as the tester's settings say if None.
    sheet, header_line, delimiter
        Where the table stands in its file; guessed if None.
    called
        What the tester calls the sheet, so that it is the same one next time; its file's name if None.
    """

    name: str
    columns: Mapping[str, Target]
    left_out: frozenset[str] = frozenset()
    constants: Mapping[str, str] = dataclasses.field(default_factory=dict)
    rubrics: tuple[str, ...] = DEFAULT_RUBRICS
    new_makers: bool = False
    row_key: tuple[str, ...] = ()
    empty: frozenset[str] = frozenset()
    decimal_mark: str | None = None
    sheet: str | None = None
    header_line: int | None = None
    delimiter: str | None = None
    called: str | None = None


def load(path: Path) -> ColumnMap:
    """Return the map in a file; raises BadInput with the file's name and line."""
    return parse(decode(read_bytes(path), path.name), path.name)


def parse(written: str, where: str) -> ColumnMap:
    """Return the map in YAML text; raises BadInput at `where` with the line."""
    values = take(read(written, where), where, _KEYS)
    columns: dict[str, Target | None] = values.pop("columns")
    targets = {name: target for name, target in columns.items() if target}
    left_out = frozenset(columns) - frozenset(targets)
    _refuse_doubled(targets, values["constants"], where)
    return ColumnMap(name=where, columns=targets, left_out=left_out, **values)


def _refuse_doubled(targets: Mapping[str, Target], constants: Mapping[str, str], where: str) -> None:
    seen: dict[str, str] = {}
    for name, target in targets.items():
        what = target.field or target.criterion or ""
        if what in seen or what in constants:
            other = f"column {seen[what]}" if what in seen else "constants"
            raise bad(at(where, target.line), f"column {name} as {what}", f"{what} once; it is already in {other}")
        seen[what] = name


def _scalar(node: Node, where: str, allowed: str) -> str:
    """Read one value as it is written, whether text, number or truth value."""
    if not isinstance(node, Scalar) or not node.text:
        raise refuse(node, where, allowed)
    if node.text == ASK:
        raise refuse(node, where, f"{allowed}: put your decision where the ? stands")
    return one_line(node.text)


def _word(allowed: Collection[str]) -> Any:
    def read_word(node: Node, where: str) -> str:
        if shown(node) not in allowed:
            raise refuse(node, where, ", ".join(allowed))
        return shown(node)

    return read_word


def _words(node: Node, where: str) -> Mapping[str, str]:
    found = pairs(node, where)
    allowed = "one of our words or grades"
    words = {one_line(old).casefold(): _scalar(new, where, allowed) for old, new in found.items.items()}
    if len(words) < len(found.items):
        raise refuse(node, where, "each old word once, whatever its case")
    return words


def _scale(node: Node, where: str) -> EvenScale:
    values = take(node, where, {"from": Key(_ends), "reversed": Key(flag, default=False)})
    low, high = values["from"]
    return EvenScale(low, high, values["reversed"])


def _ends(node: Node, where: str) -> tuple[float, float]:
    allowed = "[low, high], its ends as two numbers"
    if not isinstance(node, Items) or len(node.items) != 2:
        raise refuse(node, where, allowed)
    low, high = (number(item, where) for item in node.items)
    if low >= high:
        raise refuse(node, where, f"{allowed}, the lower one first")
    return low, high


_FIELD_KEYS: Mapping[str, Key] = {
    "field": Key(_word(FIELDS)),
    "words": Key(_words, default=_NO_WORDS),
    "dates": Key(_word(ORDERS), default="year month day"),
    "currency": Key(_word(CURRENCY_DIGITS), default=None),
}
_CRITERION_KEYS: Mapping[str, Key] = {
    "criterion": Key(text(40)),
    "words": Key(_words, default=_NO_WORDS),
    "scale": Key(_scale, default=None),
    "reading": Key(flag, default=False),
}


def _target(node: Node, where: str) -> Target | None:
    if isinstance(node, Pairs):
        keys = _CRITERION_KEYS if "criterion" in node.items else _FIELD_KEYS
        return Target(line=node.line, **take(node, where, keys))
    what = _scalar(node, where, "a field, a criterion or leave out")
    if what == LEAVE_OUT:
        return None
    if what not in FIELDS:
        raise refuse(node, where, f"{', '.join(FIELDS)}, {{criterion: ...}} or {LEAVE_OUT}")
    return Target(line=node.line, field=what)


def _columns(node: Node, where: str) -> dict[str, Target | None]:
    return {one_line(name): _target(item, where) for name, item in pairs(node, where).items.items()}


def _constants(node: Node, where: str) -> Mapping[str, str]:
    found = take(node, where, {name: Key(_constant, default=None) for name in FIELDS})
    return {name: value for name, value in found.items() if value is not None}


def _constant(node: Node, where: str) -> str:
    return _scalar(node, where, "what the field is in every row")


def _line_number(node: Node, where: str) -> int:
    found = number(node, where)
    if found < 1 or found != int(found):
        raise refuse(node, where, "a line of the file, from 1")
    return int(found)


def _empty(node: Node, where: str) -> frozenset[str]:
    return frozenset(word.casefold() for word in each(text(40))(node, where))


_KEYS: Mapping[str, Key] = {
    "columns": Key(_columns),
    "constants": Key(_constants, default=_NO_WORDS),
    "rubrics": Key(each(text(200)), default=DEFAULT_RUBRICS),
    "new_makers": Key(flag, default=False),
    "row_key": Key(each(text(200)), default=()),
    "empty": Key(_empty, default=frozenset()),
    "decimal_mark": Key(_word(MARKS), default=None),
    "sheet": Key(text(200), default=None),
    "header_line": Key(_line_number, default=None),
    "delimiter": Key(_word(DELIMITERS), default=None),
    "called": Key(text(200), default=None),
}
