"""What a rubric file declares at its top: its formats, its stages with their times, and what a label carries."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from qcledger.errors import at, bad
from qcledger.rubric.form import Key, Reader, among, each, key, one_of, refuse, take, text
from qcledger.rubric.model import BY_FORMAT, PIGMENTS, USUAL_LABEL, LabelPart, PeerGroup, RubricStage
from qcledger.rubric.strict_yaml import Items, Node, Pairs, Scalar
from qcledger.vocab import STAGE_HOURS, BoughtAs, Format, StageName

LONGEST = 40
"""Letters of a format's or stage's name, as the tables hold them."""
_HOURS = {"min": 1 / 60, "h": 1.0, "d": 24.0}
_TIME = re.compile(r"(?P<number>\d{1,5})\s?(?P<unit>min|h|d)", re.ASCII)
_NAME = re.compile(r"[^\W_][^,;:]*")
_TIMES = "a time after the sheet began, such as 20 min, 4 h or 7 d"


def _bare(word: str) -> str:
    """Return a name as those compare it who would take two for one: letters and digits alone, and the singular."""
    return "".join(char for char in word.casefold() if char.isalnum()).removesuffix("s")


def _name(known: Iterable[str]) -> Reader[str]:
    """Return a reader of a name in small letters; another spelling of a known one is taken for a slip."""
    usual = {_bare(word): word for word in known}

    def read(node: Node, where: str) -> str:
        found = text(LONGEST)(node, where)
        meant = usual.get(_bare(found), found)
        if meant != found:
            raise refuse(node, where, meant)
        if found != found.lower() or not _NAME.fullmatch(found):
            raise refuse(node, where, "a name in small letters without comma, semicolon and colon")
        return meant

    return read


def formats(node: Node, where: str) -> tuple[str, ...]:
    """Read the formats a file applies to: those every ledger knows, and names of its own."""
    return tuple(name for name, _ in _formats(node, where))


def bought(node: Node, where: str) -> Mapping[str, BoughtAs]:
    """Read from the list of formats how they are bought, of those that say it."""
    return MappingProxyType({name: how for name, how in _formats(node, where) if how is not None})


_FORMAT = {"name": Key(_name(Format)), "bought": Key(one_of(BoughtAs))}


def _format(node: Node, where: str) -> tuple[str, BoughtAs | None]:
    """Read a format: its name alone, or with how it is bought."""
    if isinstance(node, Scalar):
        return _name(Format)(node, where), None
    values = take(node, where, _FORMAT)
    return values["name"], values["bought"]


def _formats(node: Node, where: str) -> tuple[tuple[str, BoughtAs | None], ...]:
    found = each(_format)(node, where)
    assert isinstance(node, Items)
    names = [name for name, _ in found]
    for place, name in enumerate(names):
        if name in names[:place]:
            raise bad(at(where, node.items[place].line), name, "each value once")
    return found


def _hours(node: Node, where: str) -> float:
    found = _TIME.fullmatch(text(20)(node, where))
    if found is None:
        raise refuse(node, where, _TIMES)
    return int(found["number"]) * _HOURS[found["unit"]]


_STAGE = {"name": Key(_name(StageName)), "after": Key(_hours)}


def _stage(node: Node, where: str) -> RubricStage:
    """Read a stage: its name alone, or with the time after which it is due."""
    if isinstance(node, Scalar):
        name = _name(StageName)(node, where)
        return RubricStage(name, STAGE_HOURS.get(name))
    values = take(node, where, _STAGE)
    return RubricStage(values["name"], values["after"])


def stages(node: Node, where: str) -> tuple[RubricStage, ...]:
    """Read the stages of a sheet in their order: each name once, none due before the one in front of it."""
    found = each(_stage, most=20)(node, where)
    assert isinstance(node, Items)
    latest = 0.0
    for place, stage in enumerate(found):
        if stage.name in {before.name for before in found[:place]}:
            raise bad(at(where, node.items[place].line), stage.name, "each stage once")
        if stage.hours is not None and stage.hours < latest:
            due = f"{stage.name} after {stage.hours:g} h"
            raise bad(at(where, node.items[place].line), due, f"{latest:g} h or later, as the stage before it")
        latest = max(latest, stage.hours or 0.0)
    return found


_PART = {"key": Key(key), "title": Key(text(60)), "words": Key(text(200), default="")}


def _part(node: Node, where: str) -> LabelPart:
    values = take(node, where, _PART)
    return LabelPart(values["key"], values["title"], values["words"])


def label(node: Node, where: str) -> tuple[LabelPart, ...]:
    """Read what a label carries: each key once."""
    found = each(_part, most=40)(node, where)
    assert isinstance(node, Items)
    for place, part in enumerate(found):
        if part.key in {before.key for before in found[:place]}:
            raise bad(at(where, node.items[place].line), part.key, "each key once")
    return found


_ALONE = {"pigments": PIGMENTS, "format": BY_FORMAT}
_GROUP = {"one": Key(text(LONGEST), default=""), "many": Key(text(LONGEST), default="")}


def peers(node: Node, where: str) -> PeerGroup:
    """Read what makes peers: a word, or the key of a part of the label with what its groups are called."""
    if isinstance(node, Pairs):
        values = take(node, where, {"key": Key(key), **_GROUP})
        return PeerGroup(values["key"], values["one"], values["many"])
    return _ALONE[among(_ALONE)(node, where)]


def with_words(by: PeerGroup, parts: Iterable[LabelPart], where: str) -> PeerGroup:
    """Return peers with the words for a group: those given, else from the title of the label's part.

    Raises
    ------
    BadInput
        For a part that no label of the file has of its own, with those it has.
    """
    own = {part.key: part.title for part in parts if part not in USUAL_LABEL}
    if by in _ALONE.values():
        return by
    if by.part not in own:
        allowed = f"one of {', '.join(own)}" if own else "a part of `label` of the file's own, which has none"
        raise bad(where, f"peers by {by.part}", allowed)
    one = by.one or own[by.part]
    return replace(by, one=one, many=by.many or f"{one}{'es' if one.endswith('s') else 's'}")
