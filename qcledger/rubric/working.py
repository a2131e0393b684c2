"""What a rubric file says of the work: what its things are called, under what they are tested, how made ready."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from qcledger.errors import at, bad
from qcledger.rubric.form import Key, among, each, take, text
from qcledger.rubric.strict_yaml import Items, Node
from qcledger.thing import Thing

FIELDS: Final[Mapping[str, str]] = {
    "liquid": "water",
    "tool": "brush",
    "lamp": "lamp",
    "temperature": "temperature_c",
    "humidity": "humidity_pct",
}
"""The conditions that a rubric may ask for, and the field of a stage's record that holds each."""


@dataclass(frozen=True, slots=True)
class AskedCondition:
    """A condition that is asked at each stage: one of `FIELDS`, what people call it, and what to type, in words."""

    key: str
    title: str
    words: str = ""

    @property
    def field(self) -> str:
        """The field of a stage's record that holds it."""
        return FIELDS[self.key]


@dataclass(frozen=True, slots=True)
class Pouring:
    """How what is bought moist is made ready to be tested beside what is bought dry: words for sentences.

    `moist` and `dry` name the two (tubes, pans), `done` says what is done to the first (poured into pans), `parts`
    how one piece is parted for two codes; empty where the file does not say.
    """

    moist: str
    dry: str
    done: str
    parts: str = ""


USUAL: Final = (
    AskedCondition("lamp", "lamp"),
    AskedCondition("temperature", "temperature", "C"),
    AskedCondition("humidity", "humidity", "%"),
)
"""What is asked where a file does not say: the light and the air."""

_WORD = text(30)
_THING = {"one": Key(_WORD), "many": Key(_WORD)}
_CONDITION = {"key": Key(among(FIELDS)), "title": Key(_WORD), "words": Key(text(80), default="")}
_POURING = {"moist": Key(_WORD), "dry": Key(_WORD), "done": Key(text(60)), "parts": Key(text(120), default="")}


def thing(node: Node, where: str) -> Thing:
    """Read what one of the things and many of them are called, in small letters."""
    found = Thing(**take(node, where, _THING))
    for word in (found.one, found.many):
        if word != word.lower():
            raise bad(at(where, node.line), word, "a word in small letters")
    return found


def _condition(node: Node, where: str) -> AskedCondition:
    return AskedCondition(**take(node, where, _CONDITION))


def conditions(node: Node, where: str) -> tuple[AskedCondition, ...]:
    """Read which conditions are asked, each key and each title once."""
    found = each(_condition, most=len(FIELDS))(node, where)
    assert isinstance(node, Items)
    for place, one in enumerate(found):
        before = found[:place]
        if one.key in {other.key for other in before} or one.title in {other.title for other in before}:
            raise bad(at(where, node.items[place].line), f"{one.key}, {one.title}", "each key and title once")
    return found


def pouring(node: Node, where: str) -> Pouring:
    """Read how things are made ready."""
    return Pouring(**take(node, where, _POURING))


READERS: Final[Mapping[str, Key]] = {
    "tested": Key(thing, default=None),
    "conditions": Key(conditions, default=None),
    "preparation": Key(pouring, default=None),
}
"""How each of these keys at the top of a file is read; None for what a file does not say."""
