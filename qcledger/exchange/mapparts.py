"""A map of several sheets of one file: what is the same for all of them, and of each its own part."""

from typing import Final

from qcledger.errors import at, bad
from qcledger.rubric.form import pairs, refuse
from qcledger.rubric.strict_yaml import Items, Node, Pairs, Scalar
from qcledger.text import one_line

SHEETS, SHEET, COLUMNS = "sheets", "sheet", "columns"
NOT_THERE: Final = "not there"
"""Says of a column that a sheet does not have it, though the map has it for the others."""


def parts_of(node: Node, where: str) -> list[Pairs]:
    """Return the map of each sheet that a map names; the map itself where it names no `sheets`.

    A key of a sheet's part takes the place of the same key of the map; its columns stand beside those of the map.

    Raises
    ------
    BadInput
        At `where` with the line, for parts that are none.
    """
    found = pairs(node, where)
    if SHEETS not in found.items:
        return [found]
    if SHEET in found.items:
        raise bad(at(where, found.lines[SHEET]), SHEET, f"either {SHEET} or {SHEETS}")
    base = _without(found, SHEETS)
    return [_part(base, name, own, where) for name, own in _named(found.items[SHEETS], where)]


def _named(node: Node, where: str) -> list[tuple[str, Pairs]]:
    """Return the parts by the names of their sheets; a list of names has parts that say nothing of their own."""
    if isinstance(node, Items):
        names = [_name(item, where) for item in node.items]
        if len(set(names)) < len(names):
            raise refuse(node, where, "each sheet once")
        told = [(name, Pairs(node.line, {}, {})) for name in names]
    else:
        told = [(one_line(name), pairs(part, where)) for name, part in pairs(node, where).items.items()]
    if not told:
        raise refuse(node, where, "the names of sheets, or a part for each")
    return told


def _name(node: Node, where: str) -> str:
    if not isinstance(node, Scalar) or not node.text.strip():
        raise refuse(node, where, "the name of a sheet")
    return one_line(node.text)


def _part(base: Pairs, name: str, own: Pairs, where: str) -> Pairs:
    for key in (SHEET, SHEETS):
        if key in own.items:
            raise bad(at(where, own.lines[key]), key, f"keys of a map; the sheet is {name} already")
    both = Pairs(
        own.line,
        {**base.items, **own.items, SHEET: Scalar(own.line, name, name)},
        {**base.lines, **own.lines, SHEET: own.line},
    )
    if COLUMNS in base.items and COLUMNS in own.items:
        both.items[COLUMNS] = _beside(pairs(base.items[COLUMNS], where), pairs(own.items[COLUMNS], where))
    return both


def _beside(base: Pairs, own: Pairs) -> Pairs:
    """Return the columns of a map and those of a part, without those that are not there."""
    whole = Pairs(own.line, {**base.items, **own.items}, {**base.lines, **own.lines})
    return _without(whole, *(name for name, item in own.items.items() if _is_not_there(item)))


def _is_not_there(node: Node) -> bool:
    return isinstance(node, Scalar) and node.text == NOT_THERE


def _without(found: Pairs, *names: str) -> Pairs:
    items = {name: item for name, item in found.items.items() if name not in names}
    return Pairs(found.line, items, {name: found.lines[name] for name in items})
