"""From the text of a rubric file to a `Rubric`; whatever is wrong is refused with its line."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from types import MappingProxyType
from typing import Any

from qcledger.errors import at, bad
from qcledger.files import open_plain
from qcledger.rubric.declared import bought, formats, label, peers, stages, with_words
from qcledger.rubric.form import (
    Key,
    among,
    each,
    flag,
    key,
    key_name,
    number,
    one_of,
    pairs,
    refuse,
    take,
    text,
)
from qcledger.rubric.model import (
    LETTERS,
    PIGMENTS,
    SOURCE_TAGS,
    USUAL_LABEL,
    USUAL_STAGES,
    ClaimedGrades,
    Criterion,
    LabelPart,
    PeerGroup,
    Reading,
    Remark,
    Rubric,
    RubricStage,
)
from qcledger.rubric.strict_yaml import MAX_BYTES, Node, Pairs, Scalar, read
from qcledger.rubric.working import READERS, AskedCondition, Pouring
from qcledger.text import one_line
from qcledger.thing import Thing
from qcledger.vocab import BoughtAs, Kind, LabelFactKind, Nature, Occasion, ProposedFrom, Severity, SoundIf

_LINE = text(200)
_CHOICE = text(24)
_PROSE = text(2000)
MOST_MINUTES = 240
"""More than one specimen takes in a test."""
_WHOLE_GRADES = {"0": 0.0, "1": 1.0, "2": 2.0, "3": 3.0, "4": 4.0, "5": 5.0}


def source(node: Node, where: str) -> str:
    """Read a source tag, alone or followed by a colon and a detail."""
    found = _LINE(node, where)
    if found.partition(": ")[0] not in SOURCE_TAGS:
        raise refuse(node, where, "; ".join(SOURCE_TAGS))
    return found


def _remark(node: Node, where: str) -> Remark:
    values = take(node, where, {"say": Key(text(400)), "source": Key(source)})
    return Remark(values["say"], values["source"])


REMARKS = Key(each(_remark), default=())


def _anchors(node: Node, where: str) -> Mapping[float, str]:
    """Read grade to sentence, rising from 0."""
    found = pairs(node, where)
    for name, line in found.lines.items():
        if name not in _WHOLE_GRADES:
            raise bad(at(where, line), f"grade {name}", "0, 1, 2, 3, 4, 5")
    grades = [_WHOLE_GRADES[name] for name in found.items]
    if len(grades) < 2 or grades != sorted(grades) or grades[0] != 0:
        raise bad(at(where, found.line), f"grades {', '.join(found.items)}", "0 and at least one more, rising")
    return MappingProxyType({_WHOLE_GRADES[name]: _LINE(item, where) for name, item in found.items.items()})


def _choices(node: Node, where: str) -> Mapping[str, str]:
    found = pairs(node, where)
    if len(found.items) < 2:
        raise refuse(node, where, "two choices or more")
    for name, line in found.lines.items():
        _CHOICE(Scalar(line, name, name), where)
    return MappingProxyType({name: _LINE(item, where) for name, item in found.items.items()})


def _seen_at(node: Node, where: str) -> Occasion:
    found = one_of(Occasion)(node, where)
    if found is Occasion.OLDER_NOTES:
        raise refuse(node, where, f"{Occasion.BENCH}, {Occasion.UNPACKING}")
    return found


def _measure(node: Node, where: str) -> float:
    """Read a number from 0 up, as every reading is."""
    found = number(node, where)
    if found < 0:
        raise refuse(node, where, "a number from 0 up")
    return found


_LIMITS = Key(each(_measure, most=5), default=())
_READING = {"unit": Key(text(60)), "up_to": _LIMITS, "at_least": _LIMITS, "stop_at": Key(_measure, default=None)}


def _reading(node: Node, where: str) -> Reading:
    values = take(node, where, _READING)
    up, down = values["up_to"], values["at_least"]
    if up and down:
        raise refuse(node, where, "either up_to or at_least")
    if list(up) != sorted(up) or list(down) != sorted(down, reverse=True):
        raise refuse(node, where, "up_to rising, at_least falling")
    stop = values["stop_at"]
    if stop is not None and stop < max(up or down, default=0):
        raise bad(at(where, node.line), f"stop_at {stop:g}", "a stop no earlier than the last limit")
    return Reading(values["unit"], up or down, not down, stop)


_FAULT_LINE = {"grade": Key(number), "severity": Key(one_of(Severity)), "source": Key(source)}


def _fault_line(node: Node, where: str) -> dict[str, Any]:
    values = take(node, where, _FAULT_LINE)
    return {"fault_line": values["grade"], "severity": values["severity"], "fault_source": values["source"]}


_CLAIMED = {"words": Key(each(text(60))), "from": Key(number, default=0.0), "to": Key(number, default=5.0)}


def _claimed(node: Node, where: str) -> ClaimedGrades:
    """Read words of a label with the grades that are as they say: `from` one on, or up `to` one, or both."""
    values = take(node, where, _CLAIMED)
    lowest, highest = values["from"], values["to"]
    if not 0 <= lowest <= highest <= 5 or highest - lowest == 5:
        raise refuse(node, where, "from or to a grade between 0 and 5, from no higher than to")
    return ClaimedGrades(values["words"], lowest, highest)


_NO_FAULT_LINE = {"fault_line": None, "severity": None, "fault_source": None}


def _minutes(node: Node, where: str) -> float:
    found = number(node, where)
    if not 0 < found <= MOST_MINUTES:
        raise refuse(node, where, f"minutes over 0, at most {MOST_MINUTES}")
    return found


def _letter(node: Node, where: str) -> str:
    """Read the letter of a criterion at unpacking."""
    found = text(1)(node, where)
    if found not in LETTERS:
        raise refuse(node, where, f"one of {' '.join(LETTERS)}")
    return found


def _terms(node: Node, where: str) -> Mapping[str, str]:
    """Read words with what each means."""
    found = pairs(node, where)
    for name, line in found.lines.items():
        _CHOICE(Scalar(line, name, name), where)
    return MappingProxyType({name: text(400)(item, where) for name, item in found.items.items()})


_CRITERION = {
    "title": Key(text(60)),
    "how": Key(_PROSE, default=""),
    "kind": Key(one_of(Kind)),
    "nature": Key(one_of(Nature)),
    "seen_at": Key(_seen_at),
    "stage": Key(text(40), default=None),  # of these two the file itself says which words there are
    "formats": Key(each(text(40)), default=()),
    "reading": Key(_reading, default=None),
    "anchors": Key(_anchors, default=MappingProxyType({})),
    "on_the_piece": Key(flag, default=None),
    "label_fact": Key(one_of(LabelFactKind), default=None),
    "names_in_view": Key(flag, default=False),
    "label_claims": Key(each(_claimed), default=()),
    "half_steps": Key(flag, default=False),
    "choices": Key(_choices, default=MappingProxyType({})),
    "source": Key(source),
    "fault_line": Key(_fault_line, default=_NO_FAULT_LINE),
    "conditions": Key(each(_LINE), default=()),
    "hints": REMARKS,
    "cautions": REMARKS,
    "put_down": Key(each(text(400), most=12), default=()),
    "look": Key(text(1200), default=""),
    "minutes": Key(_minutes, default=None),
    "tools": Key(each(text(80), most=20), default=()),
    "excuses": Key(each(text(60), most=9), default=()),
    "continues": Key(key, default=None),
    "shares_cause": Key(text(40), default=""),
    "proposed_from": Key(one_of(ProposedFrom), default=None),
    "letter": Key(_letter, default=""),
    "sound": Key(text(60), default=None),
    "sound_if": Key(one_of(SoundIf), default=None),
    "unopened": Key(flag, default=False),
    "column_words": Key(each(text(60)), default=()),
}


def _criterion(name: str, found: Pairs, where: str, head: Mapping[str, Any]) -> Criterion:
    """Build one criterion with the words its file declares, then check what its keys must say together."""
    key_name(name, found.lines[name], where)
    words = {
        "stage": Key(among(stage.name for stage in head["stages"]), default=None),
        "formats": Key(each(among(head["formats"])), default=head["formats"]),
    }
    values = take(found.items[name], where, {**_CRITERION, **words})
    values |= values.pop("fault_line")
    told = values["how"], values["look"]
    if all(told) or not any(told):
        found_both = "how and look" if all(told) else "neither how nor look"
        raise bad(
            at(where, found.lines[name]), f"{name}: {found_both}", "one of them: how alone, or put_down and look"
        )
    values["how"] = values["how"] or " ".join((*values["put_down"], values["look"]))
    built = Criterion(
        key=name,
        terms=_used(head["terms"], values["how"]),
        peers=_peers(head["peers"], values["seen_at"]),
        bought=head["bought"],
        **values,
    )
    for wrong, what, allowed in (*_contradictions(built), *_misplaced(built)):
        if wrong:
            raise bad(at(where, found.lines[name]), f"{name}: {what}", allowed)
    return built


def _peers(said: PeerGroup | None, seen_at: Occasion) -> PeerGroup:
    """Return what makes peers of what a criterion grades, where the file may not say.

    What is seen at unpacking hardly depends on a pigment, and parcels hold things of every medium: there even labels
    that name none are compared, by their format.
    """
    return said or replace(PIGMENTS, silent=seen_at is Occasion.UNPACKING)


def _used(terms: Mapping[str, str], how: str) -> Mapping[str, str]:
    """Return the terms that a text uses, and those that their own words use."""
    told = how.lower()
    found = {word: means for word, means in terms.items() if word.lower() in told}
    told += " ".join(found.values()).lower()
    return MappingProxyType({word: means for word, means in terms.items() if word.lower() in told})


def _misplaced(built: Criterion) -> list[tuple[bool, str, str]]:
    """Return the rules of what belongs to the bench alone, as `_contradictions` returns its own."""
    at_bench = built.seen_at is Occasion.BENCH
    return [
        (bool(built.put_down) and not built.look, "put_down without look", "look beside put_down"),
        (bool(built.put_down) and not at_bench, "put_down at unpacking", "put_down on the bench only"),
        (bool(built.proposed_from) and at_bench, "proposed_from on the bench", "proposed_from at unpacking only"),
        (built.names_in_view and not at_bench, "names_in_view at unpacking", "names_in_view on the bench only"),
        *_at_unpacking_only(built),
    ]


def _at_unpacking_only(built: Criterion) -> list[tuple[bool, str, str]]:
    """Return the rules of what belongs to unpacking alone."""
    at_bench, offered = built.seen_at is Occasion.BENCH, (*built.choices, *built.excuses)
    said = [
        (bool(built.letter), f"letter {built.letter}", "letter"),
        (built.sound is not None, f"sound {built.sound}", "sound"),
        (built.sound_if is not None, f"sound_if {built.sound_if}", "sound_if"),
        (built.unopened, "unopened true", "unopened"),
    ]
    return [
        *((at_bench and there, f"{what} on the bench", f"{key} at unpacking only") for there, what, key in said),
        (
            built.sound is not None and built.sound not in offered,
            f"sound {built.sound}",
            f"one of {', '.join(offered)}" if offered else "sound only beside choices or excuses; grade 0 is sound",
        ),
    ]


def _contradictions(built: Criterion) -> list[tuple[bool, str, str]]:
    """Return the rules between keys: whether each is broken, what was found, what is allowed."""
    choice, reading, line = built.kind is Kind.CHOICE, built.reading, built.fault_line
    steps, grades = len(built.anchors) - 1, tuple(built.anchors)
    measured = built.kind in (Kind.COUNT, Kind.READING)
    return [
        (choice != bool(built.choices), f"kind {built.kind}", "choices for kind choice and for no other"),
        (choice == bool(built.anchors), f"kind {built.kind}", "anchors for every kind but choice"),
        (choice and built.nature is not Nature.TRAIT, f"nature {built.nature}", "nature trait for a choice"),
        (measured and reading is None, f"kind {built.kind} without reading", "reading with its unit"),
        (choice and reading is not None, "a reading", "no reading for a choice"),
        (
            reading is not None and len(reading.limits) not in (0, steps),
            f"{len(reading.limits) if reading else 0} limits for {steps + 1} grades",
            f"{steps} limits, one less than grades",
        ),
        (
            built.half_steps and grades != tuple(range(len(grades))),
            "half_steps with a gap between grades",
            "half_steps only where every whole grade is offered",
        ),
        (
            (built.nature is Nature.TRAIT) != (line is None),
            f"nature {built.nature}, fault_line {line}",
            "a fault_line for a fault or fault or trait, none for a trait",
        ),
        (
            line is not None and (line == 0 or line not in built.grades),
            f"fault_line {line}",
            "an offered grade over 0",
        ),
        ((built.seen_at is Occasion.BENCH) != (built.stage is not None), "stage", "a stage on the bench, none else"),
        (
            built.label_fact is not None and built.seen_at is not Occasion.UNPACKING,
            f"label_fact {built.label_fact}",
            "a label fact seen at unpacking, none else",
        ),
    ]


_RUBRIC = {
    "rubric": Key(key),
    "title": Key(text(80)),
    "about": Key(_PROSE),
    "formats": Key(formats),
    "stages": Key(stages, default=USUAL_STAGES),
    "label": Key(label, default=USUAL_LABEL),
    "peers": Key(peers, default=None),
    "terms": Key(_terms, default=MappingProxyType({})),
    **READERS,
    "cautions": REMARKS,
    "criteria": Key(pairs),
}


def _check_beside(one: Criterion, criteria: Mapping[str, Criterion], where: str) -> None:
    """Refuse what a criterion says of others and the file does not bear out."""
    if one.continues in criteria:
        raise bad(where, f"{one.key}: continues {one.continues}", "a key that the file no longer has")
    if one.letter and (other := next(key for key, two in criteria.items() if two.letter == one.letter)) != one.key:
        raise bad(where, f"{one.key}: letter {one.letter}, which {other} has", "each letter once in a file")
    cause = one.shares_cause
    if cause and not any(other.shares_cause == cause for other in criteria.values() if other is not one):
        raise bad(where, f"{one.key}: shares_cause {cause}", "a cause that another criterion of the file names too")


@lru_cache(maxsize=16)  # the same few files are asked for on every page
def parse(content: str, where: str) -> Rubric:
    """Return the rubric in `content`; `where` is the file's name for messages.

    Line ends are made LF before hashing, so that a file keeps its version on every system.

    Raises
    ------
    BadInput
        With file, line, what was found and what is allowed.
    """
    content = content.replace("\r\n", "\n")
    tree = pairs(read(content, where), where)
    values = take(tree, where, _RUBRIC)
    found: Pairs = values.pop("criteria")
    if not found.items:
        raise bad(at(where, found.line), "no criteria", "at least one criterion")
    values["bought"] = bought(tree.items["formats"], where)
    if values["peers"] is not None:
        values["peers"] = with_words(values["peers"], values["label"], at(where, tree.lines["peers"]))
    criteria = {name: _criterion(name, found, where, values) for name in found.items}
    values["peers"] = values["peers"] or PIGMENTS
    for name, one in criteria.items():
        _check_beside(one, criteria, at(where, found.lines[name]))
    return Rubric(
        key=values.pop("rubric"),
        criteria=MappingProxyType(criteria),
        text=content,
        hash=sha256(content.encode()).hexdigest(),
        **values,
    )


@dataclass(frozen=True, slots=True)
class Declared:
    """The words that a rubric file declares, as `Rubric` has them."""

    formats: tuple[str, ...]
    stages: tuple[RubricStage, ...]
    label: tuple[LabelPart, ...]
    key: str = ""
    tested: Thing | None = None
    conditions: tuple[AskedCondition, ...] | None = None
    preparation: Pouring | None = None
    bought: Mapping[str, BoughtAs] = field(default_factory=dict)


_DECLARED = {
    "rubric": Key(key, default=""),
    "formats": Key(formats),
    **{name: _RUBRIC[name] for name in ("stages", "label", *READERS)},
}
_CRITERIA_LAST = re.compile(r"\A(?P<head>(?s:.*?)^)criteria:(?!(?s:.*)^[^\s#])", re.MULTILINE)


def declared(content: str, where: str) -> Declared:
    """Return what a rubric's text declares; its criteria, most of the text, are not read where they come last.

    Raises
    ------
    BadInput
        As `parse` does, but not for what is wrong with the criteria.
    """
    content = content.replace("\r\n", "\n")
    head = _CRITERIA_LAST.match(content)
    found = pairs(read(head["head"] if head else content, where), where)
    kept = {name: node for name, node in found.items.items() if name in _DECLARED}
    values = take(Pairs(found.line, kept, found.lines), where, _DECLARED)
    return Declared(key=values.pop("rubric"), bought=bought(kept["formats"], where), **values)


def read_text(path: Path) -> str:
    """Return the text of a YAML file of at most 256 KiB, without a byte order mark.

    Raises
    ------
    BadInput
        If there is no such file, it is too large, or it is not UTF-8.
    """
    with open_plain(path, "a file that can be read") as file:
        raw = file.read(MAX_BYTES + 4)
    if len(raw) > MAX_BYTES:
        raise bad(one_line(path.name), f"more than {MAX_BYTES} bytes", f"at most {MAX_BYTES} bytes of UTF-8")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise bad(at(one_line(path.name), line), f"byte {raw[error.start]:#04x}", "UTF-8 text") from None


def load(path: Path) -> Rubric:
    """Return the rubric in the file at `path`; errors as in `parse` and `read_text`."""
    return parse(read_text(path), one_line(path.name))
