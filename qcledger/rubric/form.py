"""Takes checked values out of YAML nodes: a table says which keys a mapping may have and how each is read.

A reader takes a node and the file's name and returns the value, or refuses it with line, found and allowed.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, TypeVar

from qcledger.errors import BadInput, at, bad
from qcledger.rubric.strict_yaml import Items, Node, Pairs, Scalar

T = TypeVar("T")
E = TypeVar("E", bound=StrEnum)
Reader = Callable[[Node, str], T]

_REQUIRED = object()
_KEY = re.compile(r"[a-z][a-z0-9_]{0,39}")
_NAMES = {Items: "a list", Pairs: "a mapping"}


@dataclass(frozen=True, slots=True)
class Key:
    """How one key of a mapping is read, and what stands in for it when it is left out."""

    read: Reader[Any]
    default: Any = _REQUIRED


def shown(node: Node) -> str:
    """Return what a node is, for a message."""
    return node.text if isinstance(node, Scalar) else _NAMES[type(node)]


def refuse(node: Node, where: str, allowed: str) -> BadInput:
    """Return the refusal of a node."""
    return bad(at(where, node.line), shown(node), allowed)


def pairs(node: Node, where: str) -> Pairs:
    """Read a mapping."""
    if not isinstance(node, Pairs):
        raise refuse(node, where, "a mapping of keys to values")
    return node


def take(node: Node, where: str, table: Mapping[str, Key]) -> dict[str, Any]:
    """Read a mapping by a table of its keys: unknown and missing keys are refused."""
    found = pairs(node, where)
    for key in found.items:
        if key not in table:
            raise bad(at(where, found.lines[key]), f"key {key}", ", ".join(table))
    return {key: _one(found, key, rule, where) for key, rule in table.items()}


def _one(found: Pairs, key: str, rule: Key, where: str) -> Any:
    if key in found.items:
        return rule.read(found.items[key], where)
    if rule.default is _REQUIRED:
        raise bad(at(where, found.line), f"no key {key}", f"a mapping with {key}")
    return rule.default


def text(longest: int) -> Reader[str]:
    """Return a reader of a text of 1 to `longest` characters, its line ends turned into spaces."""

    def read(node: Node, where: str) -> str:
        if not isinstance(node, Scalar) or not isinstance(node.value, str):
            raise refuse(node, where, "text (quote it if it looks like a number, true, false or null)")
        line = " ".join(node.value.split())
        if not 0 < len(line) <= longest:
            raise refuse(node, where, f"text of 1 to {longest} characters")
        return line

    return read


def key(node: Node, where: str) -> str:
    """Read a key such as ``lay_down``: small letters, digits and underscores."""
    found = text(40)(node, where)
    if not _KEY.fullmatch(found):
        raise refuse(node, where, "small letters, digits and _, a letter first, at most 40 characters")
    return found


def key_name(name: str, line: int, where: str) -> str:
    """Check a key of a mapping as `key` checks a value."""
    return key(Scalar(line, name, name), where)


def flag(node: Node, where: str) -> bool:
    """Read true or false."""
    if not isinstance(node, Scalar) or not isinstance(node.value, bool):
        raise refuse(node, where, "true or false")
    return node.value


def number(node: Node, where: str) -> float:
    """Read a whole or decimal number."""
    if not isinstance(node, Scalar) or isinstance(node.value, bool) or not isinstance(node.value, int | float):
        raise refuse(node, where, "a number such as 5 or 0.5")
    return float(node.value)


def one_of(values: type[E]) -> Reader[E]:
    """Return a reader of one word of a closed list."""
    words = ", ".join(values)

    def read(node: Node, where: str) -> E:
        if not isinstance(node, Scalar) or node.text not in list(values):
            raise refuse(node, where, words)
        return values(node.text)

    return read


def among(words: Iterable[str]) -> Reader[str]:
    """Return a reader of one of these words."""
    known = {str(word): word for word in words}

    def read(node: Node, where: str) -> str:
        if not isinstance(node, Scalar) or node.text not in known:
            raise refuse(node, where, ", ".join(known))
        return known[node.text]

    return read


def each(read_one: Reader[T], least: int = 1, most: int = 100) -> Reader[tuple[T, ...]]:
    """Return a reader of a list of `least` to `most` values without doubles."""

    def read(node: Node, where: str) -> tuple[T, ...]:
        if not isinstance(node, Items) or not least <= len(node.items) <= most:
            raise refuse(node, where, f"a list of {least} to {most}")
        values = tuple(read_one(item, where) for item in node.items)
        for place, value in enumerate(values):
            if value in values[:place]:
                raise refuse(node.items[place], where, "each value once")
        return values

    return read
