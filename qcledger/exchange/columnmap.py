"""What the columns of somebody else's spreadsheet mean, as a tester writes it down in a small YAML file."""

import dataclasses
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from qcledger.errors import at, bad
from qcledger.exchange.cells import EITHER
from qcledger.exchange.csvfile import decode, read_bytes
from qcledger.exchange.days import ORDERS
from qcledger.exchange.layout import LAYOUT_KEYS, LEAVE_OUT, PLAIN, Layout, layout_of
from qcledger.exchange.mapparts import parts_of
from qcledger.exchange.scales import Scale, scale_of
from qcledger.exchange.wholepiece import EXAMPLE, WHOLE
from qcledger.figures import MARKS
from qcledger.records import LabelVersion, Lot, Maker, Observation, Paint, Parcel, Record, Specimen, Trial
from qcledger.rubric.form import Key, each, flag, pairs, refuse, shown, take, text
from qcledger.rubric.strict_yaml import Node, Pairs, Scalar, read
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

ASK = "?"
"""Stands in a proposed map where the tester has to decide."""

TEXTS = ("note", "test_note")
"""Fields that several columns may add to."""
_WORDED = ("maker", "paint", "format", "source", "seller", "currency", "tester", "lot")
"""Fields whose cells `words` may turn into ours."""
_NO_WORDS: Mapping[str, str] = MappingProxyType({})
DEFAULT_RUBRICS = ("watercolour", "packaging", "label")
"""The rubrics whose criteria a map may name when it names no rubrics."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What one column holds.

    Parameters
    ----------
    line
        The line of the map that says so.
    field, criterion
        A key of `FIELDS`, or the key of a criterion; neither where `split` or `faults` is set.
    words
        Old word, lower-cased, to ours; an empty one is what an empty cell means.
    scale
        Somebody's scale of numbers, for a criterion.
    reading
        Whether the cells are measured values, for a criterion.
    dates
        A key of `cells.ORDERS`.
    also
        A second field that the same day is.
    currency, currencies
        The currency of prices without one, and by the seller's name, in small letters.
    split
        Two fields of which the first is the cell's first word and the second the rest; or `wholepiece.WHOLE`.
    keeps_others
        Whether a text that is no result of the criterion is kept in words, as an older note; else it is refused.
    faults
        Words of a cell that may hold several, in small letters, and the criteria and grades each stands for.
    """

    line: int
    field: str | None = None
    criterion: str | None = None
    words: Mapping[str, str] = dataclasses.field(default_factory=dict)
    scale: Scale | None = None
    reading: bool = False
    dates: str = "year month day"
    also: str | None = None
    currency: str | None = None
    currencies: Mapping[str, str] = dataclasses.field(default_factory=dict)
    split: tuple[str, ...] = ()
    keeps_others: bool = False
    faults: Mapping[str, Mapping[str, str]] = dataclasses.field(default_factory=dict)

    @property
    def criteria(self) -> tuple[str, ...]:
        """The criteria whose results stand in the column."""
        if self.criterion:
            return (self.criterion,)
        return tuple(dict.fromkeys(key for found in self.faults.values() for key in found))

    @property
    def fields(self) -> tuple[str, ...]:
        """The fields that stand in the column."""
        return (*([self.field] if self.field else []), *([self.also] if self.also else []), *self.split)


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
    year
        The year of days that are written without one.
    testers
        Who looked at a cell to which a comment is pinned, by the comment in small letters.
    layout
        Where the table stands in its file, and what its rows are.
    called
        What the tester calls the sheet, so that it is the same one next time; its file's name if None.
    others
        The maps of further sheets of the file.
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
    year: int | None = None
    testers: Mapping[str, str] = dataclasses.field(default_factory=dict)
    layout: Layout = PLAIN
    called: str | None = None
    others: tuple["ColumnMap", ...] = ()

    @property
    def parts(self) -> tuple["ColumnMap", ...]:
        """The map of each sheet that is read."""
        return (dataclasses.replace(self, others=()), *self.others)

    @property
    def sheet(self) -> str | None:
        """The sheet that is read; the first one if None."""
        return self.layout.sheet


def load(path: Path) -> ColumnMap:
    """Return the map in a file; raises BadInput with the file's name and line."""
    return parse(decode(read_bytes(path), path.name), path.name)


def parse(written: str, where: str) -> ColumnMap:
    """Return the map in YAML text; raises BadInput at `where` with the line."""
    first, *others = (_one_map(part, where) for part in parts_of(read(written, where), where))
    return dataclasses.replace(first, others=tuple(others))


def _one_map(node: Node, where: str) -> ColumnMap:
    values = take(node, where, _KEYS)
    columns: dict[str, Target | None] = values.pop("columns")
    targets = {name: target for name, target in columns.items() if target}
    left_out = frozenset(columns) - frozenset(targets)
    _refuse_doubled(targets, values["constants"], where)
    return ColumnMap(name=where, columns=targets, left_out=left_out, layout=layout_of(values), **values)


def _refuse_doubled(targets: Mapping[str, Target], constants: Mapping[str, str], where: str) -> None:
    seen: dict[str, str] = {}
    for name, target in targets.items():
        for what in (*target.fields, *target.criteria):
            if what in seen or what in constants:
                other = f"column {seen[what]}" if what in seen else "constants"
                raise bad(
                    at(where, target.line), f"column {name} as {what}", f"{what} once; it is already in {other}"
                )
            if what not in TEXTS:
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


def _currency(node: Node, where: str) -> str | Mapping[str, str]:
    """Read the currency of prices without one, or such currencies by seller."""
    code = _word(CURRENCY_DIGITS)
    if not isinstance(node, Pairs):
        return str(code(node, where))
    return {one_line(seller).casefold(): code(item, where) for seller, item in node.items.items()}


def _answer(node: Node, where: str) -> str:
    return _scalar(node, where, "what an empty cell means: one of our words or grades")


def _split(node: Node, where: str) -> tuple[str, ...]:
    found = each(_word(FIELDS), 2, len(WHOLE))(node, where)
    if len(found) > 2 and found != WHOLE:
        raise refuse(node, where, f"two fields, or [{', '.join(WHOLE)}] for cells such as {EXAMPLE}")
    return found


def _faults(node: Node, where: str) -> Mapping[str, Mapping[str, str]]:
    """Read what words stand for: grades by criterion; a bare 0 stands for 0 of each criterion that is named."""
    found = {one_line(word).casefold(): item for word, item in pairs(node, where).items.items()}
    told = {word: _grades(item, where) for word, item in found.items() if isinstance(item, Pairs)}
    every = dict.fromkeys((key for grades in told.values() for key in grades), "0")
    for word, item in found.items():
        if word not in told:
            if shown(item) not in ("0", LEAVE_OUT):
                raise refuse(item, where, f"{{criterion: grade}}, 0 where nothing was found, or {LEAVE_OUT}")
            told[word] = every if shown(item) == "0" else {}
    return told


def _grades(node: Node, where: str) -> Mapping[str, str]:
    return {key: _scalar(item, where, "a grade") for key, item in pairs(node, where).items.items()}


def _year(node: Node, where: str) -> int:
    found = shown(node)
    if not (found.isdigit() and len(found) == 4):
        raise refuse(node, where, "a year of four digits")
    return int(found)


_FIELD_KEYS: Mapping[str, Key] = {
    "field": Key(_word(FIELDS)),
    "words": Key(_words, default=_NO_WORDS),
    "dates": Key(_word(ORDERS), default="year month day"),
    "also": Key(_word(("bought_on", "tested_on")), default=None),
    "currency": Key(_currency, default=None),
}
_CRITERION_KEYS: Mapping[str, Key] = {
    "criterion": Key(text(40)),
    "words": Key(_words, default=_NO_WORDS),
    "scale": Key(scale_of, default=None),
    "reading": Key(flag, default=False),
    "blank": Key(_answer, default=None),
    "others": Key(_word(("note",)), default=None),
}
_SPLIT_KEYS: Mapping[str, Key] = {"split": Key(_split), "words": Key(_words, default=_NO_WORDS)}
_FAULT_KEYS: Mapping[str, Key] = {"faults": Key(_faults)}


def _target(node: Node, where: str) -> Target | None:
    if isinstance(node, Pairs):
        kinds = {"criterion": _CRITERION_KEYS, "split": _SPLIT_KEYS, "faults": _FAULT_KEYS}
        keys = next((table for key, table in kinds.items() if key in node.items), _FIELD_KEYS)
        values = take(node, where, keys)
        blank = values.pop("blank", None)
        if "others" in values:
            values["keeps_others"] = values.pop("others") is not None
        if blank is not None:
            values["words"] = {**values["words"], "": blank}
        turned = any(word != LEAVE_OUT for word in values.get("words", {}).values())
        if turned and keys is _FIELD_KEYS and values["field"] not in _WORDED:
            raise bad(at(where, node.line), f"words for {values['field']}", "words for " + ", ".join(_WORDED))
        if isinstance(values.get("currency"), Mapping):
            values |= {"currency": None, "currencies": values["currency"]}
        return Target(line=node.line, **values)
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


def _empty(node: Node, where: str) -> frozenset[str]:
    return frozenset(word.casefold() for word in each(text(40))(node, where))


_KEYS: Mapping[str, Key] = {
    "columns": Key(_columns),
    "constants": Key(_constants, default=_NO_WORDS),
    "rubrics": Key(each(text(200)), default=DEFAULT_RUBRICS),
    "new_makers": Key(flag, default=False),
    "row_key": Key(each(text(200)), default=()),
    "empty": Key(_empty, default=frozenset()),
    "decimal_mark": Key(_word((*MARKS, EITHER)), default=None),
    "year": Key(_year, default=None),
    "testers": Key(_words, default=_NO_WORDS),
    "called": Key(text(200), default=None),
    **LAYOUT_KEYS,
}
