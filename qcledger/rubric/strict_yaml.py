"""A small, safe part of YAML, read into nodes that know their line.

Allowed are mappings with text keys, lists, texts, whole numbers, decimals, ``true``, ``false`` and ``null``. Refused
are aliases, anchors, tags, directives, ``<<``, doubled keys, keys that are not text, characters that steer a
terminal, more than one document, and whatever is too large or too deep. ``NO``, ``012`` and ``1:30`` stay text.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

import yaml

from qcledger.errors import BadInput, at, bad
from qcledger.text import steers

MAX_BYTES = 256 * 1024
MAX_DEPTH = 20
MAX_NODES = 20_000

_WHOLE = re.compile(r"[-+]?(0|[1-9]\d{0,14})", re.ASCII)
_DECIMAL = re.compile(r"[-+]?(0|[1-9]\d{0,14})\.\d{1,15}", re.ASCII)
_CONSTANTS: dict[str, bool | None] = {"true": True, "false": False, "null": None, "": None}

# What PyYAML raises on texts it cannot read; OverflowError comes from an escape such as "\UFFFFFFFF".
_UNREADABLE = (yaml.YAMLError, ValueError, KeyError, IndexError, RecursionError, OverflowError)


@dataclass(frozen=True, slots=True)
class Scalar:
    """One value; `text` is what stands in the file, for messages."""

    line: int
    value: str | int | float | bool | None
    text: str


@dataclass(frozen=True, slots=True)
class Items:
    """A list of nodes."""

    line: int
    items: "tuple[Node, ...]"


@dataclass(frozen=True, slots=True)
class Pairs:
    """A mapping from text keys to nodes, in the order of the file; `lines` says where each key stands."""

    line: int
    items: "dict[str, Node]"
    lines: dict[str, int]


Node = Scalar | Items | Pairs


def _line(event: yaml.Event) -> int:
    """Return the line an event starts on; PyYAML marks every event it parses."""
    assert event.start_mark is not None
    return event.start_mark.line + 1


def read(text: str, where: str) -> Node:
    """Return the one document in `text` as a tree of nodes with lines from 1.

    Parameters
    ----------
    text
        At most 256 KiB as UTF-8.
    where
        The file's name, for messages.

    Raises
    ------
    BadInput
        With file, line, what was found and what is allowed.
    """
    _refuse_raw(text, where)
    try:
        return _Reader(text, where).document()
    except _UNREADABLE as error:
        raise _unreadable(error, text, where) from None


def _refuse_raw(text: str, where: str) -> None:
    """Refuse a text that is too large or holds characters that steer a terminal."""
    place = steers(text)
    if place is not None:
        line = text.count("\n", 0, place) + 1
        raise bad(at(where, line), f"character U+{ord(text[place]):04X}", "printable text, spaces and line ends")
    size = len(text.encode())
    if size > MAX_BYTES:
        raise bad(where, f"{size} bytes", f"at most {MAX_BYTES} bytes of UTF-8")


def _unreadable(error: Exception, text: str, where: str) -> BadInput:
    """Turn what PyYAML raised into one problem with its line."""
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    line = mark.line + 1 if mark else 1
    lines = text.split("\n")
    shown = lines[line - 1].strip() if line <= len(lines) else ""
    problem = getattr(error, "problem", None)
    return bad(at(where, line), shown, f"YAML ({problem})" if problem else "YAML")


def _value(text: str, plain: bool) -> str | int | float | bool | None:
    """Return what a scalar means: quoted ones and everything unlisted stay text."""
    if plain and text in _CONSTANTS:
        return _CONSTANTS[text]
    if plain and _WHOLE.fullmatch(text):
        return int(text)
    if plain and _DECIMAL.fullmatch(text):
        return float(text)
    return text


class _Reader:
    """Builds nodes from PyYAML's events, refusing what is not allowed as soon as it is seen."""

    def __init__(self, text: str, where: str) -> None:
        self._events: Iterator[yaml.Event] = yaml.parse(text, Loader=yaml.SafeLoader)
        self._where = where
        self._count = 0

    def document(self) -> Node:
        """Read the stream's one document."""
        next(self._events)
        start = next(self._events)
        if not isinstance(start, yaml.DocumentStartEvent):
            raise bad(at(self._where, 1), "", "a YAML mapping")
        if start.version or start.tags:
            raise self._bad(start, "a % directive", "plain YAML without directives")
        node = self._node(next(self._events), 1)
        next(self._events)
        more = next(self._events)
        if not isinstance(more, yaml.StreamEndEvent):
            raise self._bad(more, "a second document", "one document a file")
        return node

    def _bad(self, event: yaml.Event, found: str, allowed: str) -> BadInput:
        return bad(at(self._where, _line(event)), found, allowed)

    def _admit(self, event: yaml.Event, depth: int) -> None:
        """Refuse what can hide, repeat or blow up content."""
        self._count += 1
        anchor, tag = getattr(event, "anchor", None), getattr(event, "tag", None)
        if anchor:  # an alias names its anchor too
            raise self._bad(event, f"alias or anchor {anchor}", "values written out in full")
        if tag:
            raise self._bad(event, f"tag {tag}", "values without tags")
        if depth > MAX_DEPTH:
            raise self._bad(event, f"depth {depth}", f"at most {MAX_DEPTH} levels")
        if self._count > MAX_NODES:
            raise self._bad(event, f"more than {MAX_NODES} values", f"at most {MAX_NODES} values a file")

    def _node(self, event: yaml.Event, depth: int) -> Node:
        self._admit(event, depth)
        if isinstance(event, yaml.ScalarEvent):
            return self._scalar(event)
        return self._pairs(event, depth) if isinstance(event, yaml.MappingStartEvent) else self._list(event, depth)

    def _scalar(self, event: yaml.ScalarEvent) -> Scalar:
        text = event.value
        place = steers(text)
        if place is not None:
            raise self._bad(event, f"escape for U+{ord(text[place]):04X}", "printable text, spaces and line ends")
        return Scalar(_line(event), _value(text, plain=event.style is None), text)

    def _list(self, start: yaml.Event, depth: int) -> Items:
        items = []
        while not isinstance(event := next(self._events), yaml.SequenceEndEvent):
            items.append(self._node(event, depth + 1))
        return Items(_line(start), tuple(items))

    def _pairs(self, start: yaml.Event, depth: int) -> Pairs:
        pairs = Pairs(_line(start), {}, {})
        while not isinstance(event := next(self._events), yaml.MappingEndEvent):
            key = self._key(event, depth + 1, pairs)
            pairs.lines[key] = _line(event)
            pairs.items[key] = self._node(next(self._events), depth + 1)
        return pairs

    def _key(self, event: yaml.Event, depth: int, pairs: Pairs) -> str:
        self._admit(event, depth)
        if not isinstance(event, yaml.ScalarEvent):
            raise self._bad(event, "a list or mapping as a key", "a text as a key")
        key = self._scalar(event).text
        if key in ("<<", ""):
            raise self._bad(event, key, "keys that are written out")
        if key in pairs.items:
            raise self._bad(event, f"{key} again (first on line {pairs.lines[key]})", "each key once")
        return key
