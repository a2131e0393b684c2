"""A reference of pigments by Colour Index name: what they are, how they usually behave, what to mind."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from types import MappingProxyType

from qcledger.rubric.build import REMARKS, read_text, source
from qcledger.rubric.colour_index import base_name, cas_is_valid, family, index_name
from qcledger.rubric.form import Key, Reader, each, key_name, one_of, pairs, refuse, take, text
from qcledger.rubric.model import Remark
from qcledger.rubric.strict_yaml import Items, Node, Pairs, Scalar, read
from qcledger.text import one_line
from qcledger.vocab import Amount, Cover, Rewet, Strength

FACTS = ("names", "chemistry", "numbers", "cas", "traits")
"""What a source tag is kept for."""


@dataclass(frozen=True, slots=True)
class TellingPair:
    """Pigments that labels confuse, and what tells them apart on the sheet."""

    pigments: tuple[str, ...]
    text: str
    source: str


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
        Its constitution numbers, and the chemical blocks they lie in.
    cas
        CAS number; None where we are not sure of one.
    grain, cover, stain, strength, rewet
        Usual behaviour; more than one word where grades of it differ.
    hazards
        Reminders, not classifications: label, safety data sheet and local law win.
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
    cas: str | None
    grain: tuple[Amount, ...]
    cover: tuple[Cover, ...]
    stain: tuple[Amount, ...]
    strength: tuple[Strength, ...]
    rewet: tuple[Rewet, ...]
    hazards: tuple[Remark, ...]
    hints: tuple[Remark, ...]
    pairs: tuple[TellingPair, ...]
    sources: Mapping[str, str]

    @property
    def families(self) -> tuple[str, ...]:
        """Return the chemical blocks of its numbers, each once."""
        return tuple(dict.fromkeys(block for number in self.numbers if (block := family(number))))


@dataclass(frozen=True, slots=True, kw_only=True)
class Pigments(Mapping[str, Pigment]):
    """The pigments of one reference file by name; `cautions` go beside every hazard reminder."""

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


def _remarks_by_word(node: Node, where: str) -> Mapping[str, Remark]:
    """Read the words that pigments name their reminders by."""
    found = pairs(node, where)
    table = {"say": Key(text(400)), "source": Key(source)}
    rows = {key_name(word, found.lines[word], where): take(item, where, table) for word, item in found.items.items()}
    return {word: Remark(row["say"], row["source"]) for word, row in rows.items()}


def _words_of(known: Mapping[str, Remark]) -> Reader[Remark]:
    def read_word(node: Node, where: str) -> Remark:
        if not isinstance(node, Scalar) or node.text not in known:
            raise refuse(node, where, ", ".join(known))
        return known[node.text]

    return read_word


def _pigment_keys(hazards: Mapping[str, Remark]) -> dict[str, Key]:
    return {
        "names": Key(each(text(60)), default=()),
        "chemistry": Key(text(80)),
        "numbers": Key(each(_number)),
        "cas": Key(_cas, default=None),
        "grain": Key(each(one_of(Amount))),
        "cover": Key(each(one_of(Cover))),
        "stain": Key(each(one_of(Amount))),
        "strength": Key(each(one_of(Strength))),
        "rewet": Key(each(one_of(Rewet))),
        "hazards": Key(each(_words_of(hazards)), default=()),
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
    "hazards": Key(_remarks_by_word),
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
    keys = _pigment_keys(values["hazards"])
    by_name = {}
    for name, node in found.items.items():
        row = take(node, where, keys)
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
