"""A reference of pigments by Colour Index name: what they are, how they usually behave, what to mind."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from qcledger.rubric.build import REMARKS, read_text, source
from qcledger.rubric.colour_index import base_name, cas_is_valid, family, index_name
from qcledger.rubric.form import Key, Reader, each, key_name, one_of, pairs, refuse, take, text
from qcledger.rubric.model import Remark, is_published
from qcledger.rubric.strict_yaml import Items, Node, Pairs, Scalar, read
from qcledger.text import one_line
from qcledger.vocab import Amount, Cover, Rewet, Strength

T = TypeVar("T")

FACTS = ("names", "chemistry", "numbers", "cas", "traits")
"""What a source tag is kept for."""
TRAITS = ("grain", "cover", "stain", "strength", "rewet")
"""How a pigment behaves on the sheet."""


@dataclass(frozen=True, slots=True)
class TellingPair:
    """Pigments that labels confuse, and what tells them apart on the sheet."""

    pigments: tuple[str, ...]
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Expected:
    """What a label is expected to say, why, and where that was published."""

    text: str
    reason: str
    source: str

    def __str__(self) -> str:
        """Return what is expected and why, with its source in brackets."""
        return f"{self.text} {self.reason} [{self.source}]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pigment:
    """One pigment; traits are common practice, hints and never verdicts.

    Parameters
    ----------
    name
        Colour Index generic name in normal form, such as ``PG18``.
    names
        Names that traditionally stand for it.
    chemistry
        What it is, in words.
    numbers, families
        Its constitution numbers, and the chemical blocks they lie in; empty where we are not sure of one.
    cas_numbers, cas
        CAS numbers in use, the usual one first, and that first one; none where we are not sure of one. The source of
        ``cas`` is that of the first.
    grain, cover, stain, strength, rewet
        Usual behaviour; more than one word where grades of it differ, none where practice does not tell.
    bench_reminder
        What to mind at the bench. Reminders, not classifications: label, safety data sheet and local law win.
    label_expected
        What a label is expected to say; empty unless a reason for it was published. A bench reminder is none.
    hints
        What else to know when a label is read.
    pairs
        What it is confused with.
    sources
        Source tag of each of `FACTS`.
    """

    name: str
    names: tuple[str, ...]
    chemistry: str
    numbers: tuple[str, ...]
    cas_numbers: tuple[str, ...]
    grain: tuple[Amount, ...]
    cover: tuple[Cover, ...]
    stain: tuple[Amount, ...]
    strength: tuple[Strength, ...]
    rewet: tuple[Rewet, ...]
    bench_reminder: tuple[Remark, ...]
    label_expected: tuple[Expected, ...]
    hints: tuple[Remark, ...]
    pairs: tuple[TellingPair, ...]
    sources: Mapping[str, str]

    @property
    def families(self) -> tuple[str, ...]:
        """Return the chemical blocks of its numbers, each once."""
        return tuple(dict.fromkeys(block for number in self.numbers if (block := family(number))))

    @property
    def cas(self) -> str | None:
        """Return the usual CAS number; None where we are not sure of one."""
        return next(iter(self.cas_numbers), None)


def certain(pigment: Pigment, field: str) -> bool:
    """Say whether something is known of a field, and from a published source that is named.

    Parameters
    ----------
    pigment
        A pigment of the reference.
    field
        One of `FACTS`; ``cas`` is the usual CAS number, and ``traits`` are certain if any is known.

    Raises
    ------
    KeyError
        For a field that is none of `FACTS`.
    """
    source_of = pigment.sources[field]
    known = any(getattr(pigment, trait) for trait in TRAITS) if field == "traits" else bool(getattr(pigment, field))
    return known and is_published(source_of)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pigments(Mapping[str, Pigment]):
    """The pigments of one reference file by name; `cautions` go beside every bench reminder."""

    title: str
    about: str
    cautions: tuple[Remark, ...]
    pairs: tuple[TellingPair, ...]
    by_name: Mapping[str, Pigment]
    hash: str

    def __getitem__(self, name: str) -> Pigment:
        return self.by_name[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self.by_name)

    def __len__(self) -> int:
        return len(self.by_name)

    def find(self, printed: str) -> Pigment | None:
        """Return the pigment whose Colour Index name a label prints, with or without a colon suffix."""
        name = index_name(printed)
        return self.by_name.get(name) or self.by_name.get(base_name(name)) if name else None


def _index(node: Node, where: str) -> str:
    """Read a Colour Index name in its normal form."""
    name = text(20)(node, where)
    if index_name(name) != name:
        raise refuse(node, where, f"a Colour Index name such as {index_name(name) or 'PG18'}")
    return name


def _number(node: Node, where: str) -> str:
    """Read a constitution number, which may stand without quotes."""
    if not isinstance(node, Scalar) or not (node.text.isascii() and node.text.isdigit() and len(node.text) in (5, 6)):
        raise refuse(node, where, "a constitution number of 5 or 6 digits")
    return node.text


def _cas(node: Node, where: str) -> str:
    number = text(12)(node, where)
    if not cas_is_valid(number):
        raise refuse(node, where, "a CAS number with a right check digit, such as 13463-67-7")
    return number


def _sources(node: Node, where: str) -> Mapping[str, str]:
    values = take(node, where, {fact: Key(source, default=None) for fact in FACTS})
    return {fact: tag for fact, tag in values.items() if tag is not None}


def _pair_of(known: Pairs) -> Reader[TellingPair]:
    """Return a reader of telling pairs among the pigments in `known`."""

    def among(node: Node, where: str) -> str:
        name = _index(node, where)
        if name not in known.items:
            raise refuse(node, where, "pigments of this file")
        return name

    def read_pair(node: Node, where: str) -> TellingPair:
        table = {"pigments": Key(each(among, least=2, most=4)), "say": Key(text(400)), "source": Key(source)}
        values = take(node, where, table)
        return TellingPair(values["pigments"], values["say"], values["source"])

    return read_pair


def _by_index_name(node: Node, where: str) -> Pairs:
    """Read a mapping whose keys are Colour Index names, its values still nodes."""
    found = pairs(node, where)
    for name, line in found.lines.items():
        _index(Scalar(line, name, name), where)
    return found


def _as_it_stands(node: Node, where: str) -> Node:
    return node


def _published(node: Node, where: str) -> str:
    """Read a source tag that says where something was published."""
    found = source(node, where)
    if not is_published(found):
        raise refuse(node, where, "what was published, with its title or address: seen in a public page: ...")
    return found


def _by_word(table: Mapping[str, Key], make: Callable[..., T]) -> Reader[Mapping[str, T]]:
    """Return a reader of what pigments name by a word; `make` takes the values of `table` in their order."""

    def read_words(node: Node, where: str) -> Mapping[str, T]:
        found = pairs(node, where)
        made = {}
        for word, item in found.items.items():
            made[key_name(word, found.lines[word], where)] = make(*take(item, where, table).values())
        return made

    return read_words


_REMINDERS = _by_word({"say": Key(text(400)), "source": Key(source)}, Remark)
_EXPECTATIONS = _by_word({"say": Key(text(400)), "because": Key(text(400)), "source": Key(_published)}, Expected)


def _words_of(known: Mapping[str, T]) -> Reader[T]:
    def read_word(node: Node, where: str) -> T:
        if not isinstance(node, Scalar) or node.text not in known:
            raise refuse(node, where, ", ".join(known) or "no word, for the file explains none")
        return known[node.text]

    return read_word


def _pigment_keys(reminders: Mapping[str, Remark], expectations: Mapping[str, Expected]) -> dict[str, Key]:
    return {
        "names": Key(each(text(60)), default=()),
        "chemistry": Key(text(80)),
        "numbers": Key(each(_number), default=()),
        "cas": Key(each(_cas), default=()),
        "grain": Key(each(one_of(Amount)), default=()),
        "cover": Key(each(one_of(Cover)), default=()),
        "stain": Key(each(one_of(Amount)), default=()),
        "strength": Key(each(one_of(Strength)), default=()),
        "rewet": Key(each(one_of(Rewet)), default=()),
        "bench_reminder": Key(each(_words_of(reminders)), default=()),
        "label_expected": Key(each(_words_of(expectations)), default=()),
        "hints": REMARKS,
        "sources": Key(_sources, default={}),
    }


def _whole_sources(node: Node, where: str) -> Mapping[str, str]:
    """Read the file's own source tags, one for each kind of fact."""
    return take(node, where, {fact: Key(source) for fact in FACTS})


_FILE = {
    "reference": Key(text(40)),
    "title": Key(text(80)),
    "about": Key(text(2000)),
    "sources": Key(_whole_sources),
    "cautions": REMARKS,
    "bench_reminders": Key(_REMINDERS),
    "label_expectations": Key(_EXPECTATIONS, default={}),
    "telling_pairs": Key(_as_it_stands, default=Items(0, ())),
    "pigments": Key(_by_index_name),
}


@lru_cache(maxsize=16)  # the same few files are asked for on every page
def parse(content: str, where: str) -> Pigments:
    """Return the pigments in the text of a reference file; errors as in `qcledger.rubric.parse`."""
    content = content.replace("\r\n", "\n")
    values = take(read(content, where), where, _FILE)
    found: Pairs = values["pigments"]
    telling = each(_pair_of(found), least=0)(values["telling_pairs"], where)
    keys = _pigment_keys(values["bench_reminders"], values["label_expectations"])
    by_name = {}
    for name, node in found.items.items():
        row = take(node, where, keys)
        row["cas_numbers"] = row.pop("cas")
        row["sources"] = MappingProxyType({**values["sources"], **row["sources"]})
        mine = tuple(pair for pair in telling if name in pair.pigments)
        by_name[name] = Pigment(name=name, pairs=mine, **row)
    return Pigments(
        title=values["title"],
        about=values["about"],
        cautions=values["cautions"],
        pairs=telling,
        by_name=MappingProxyType(by_name),
        hash=sha256(content.encode()).hexdigest(),
    )


def load(path: Path) -> Pigments:
    """Return the pigments in the reference file at `path`."""
    return parse(read_text(path), one_line(path.name))
