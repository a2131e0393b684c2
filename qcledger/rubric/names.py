"""A reference of names: what a word in a paint's name promises, in several languages, by pigment or by chemistry."""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from qcledger.errors import at, bad
from qcledger.rubric.build import read_text, source
from qcledger.rubric.colour_index import base_name, index_name
from qcledger.rubric.form import Key, among, each, key_name, one_of, pairs, refuse, take, text
from qcledger.rubric.strict_yaml import Node, Pairs, read
from qcledger.text import one_line

_LANGUAGE: Final = re.compile(r"[a-z]{2}")
_UMLAUTS: Final = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "ae", "Ö": "oe", "Ü": "ue"})
_TOKEN: Final = re.compile(r"[^\W_]+")


class NameKind(StrEnum):
    """What a traditional name promises."""

    PIGMENT = "pigment"
    """One of its pigments, and no other."""
    EARTH = "earth"
    """An earth or iron oxide by custom; never more than a remark."""
    MIXTURE = "mixture"
    """Nothing, for mixtures are customary; its pigments only where the label says *genuine*."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PigmentFamily:
    """Pigments of one chemistry.

    Parameters
    ----------
    key
        What the family is called.
    words
        Beginnings of words that name it in a paint's name, folded as by `tokens`.
    chemistry
        What names it in a chemical name, folded as by `plain`; may stand within a word.
    pigments
        Its pigments by Colour Index name, beside those whose chemistry in the reference says so.
    is_earth
        Whether its words promise no more than an earth name does.
    source
        Source tag.
    """

    key: str
    words: tuple[str, ...]
    chemistry: tuple[str, ...]
    pigments: frozenset[str]
    is_earth: bool
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelName:
    """A traditional name in its languages.

    Parameters
    ----------
    printed
        The name as the file writes it, in all languages.
    words
        Each as one word without blanks, folded: ``Kobalt-Blau`` and ``Kobaltblau`` are one.
    pigments
        The pigments that are customary under it.
    families
        Families whose other pigments may stand beside those.
    kind
        What it promises.
    source
        Source tag.
    """

    printed: tuple[str, ...]
    words: tuple[str, ...]
    pigments: frozenset[str]
    families: frozenset[str]
    kind: NameKind
    source: str

    @property
    def title(self) -> str:
        """Return the first of its words, for messages."""
        return self.printed[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelNames:
    """The names of one reference file, and the words on labels that change what a name promises.

    Parameters
    ----------
    source
        Source tag of what names none of its own, the families' lists of pigments among it.
    substitutes, substitutes_in_name, endings
        Words that declare a substitute, those that do so only in the name, and endings of words of the name.
    genuine
        Words that promise the traditional pigment itself.
    free_after, free_before
        Words after and before a family's name that say it is not in the paint.
    denials
        Words of a claim by which something genuine is what the paint is not.
    single
        Phrases, without blanks, that claim one pigment.
    declares
        Beginnings of words by which a claim says that the pigments are named on the label.
    hues
        Words for a colour, by the hue letters of the pigments that have it.
    """

    title: str
    about: str
    source: str
    substitutes: frozenset[str]
    substitutes_in_name: frozenset[str]
    endings: tuple[str, ...]
    genuine: frozenset[str]
    free_after: frozenset[str]
    free_before: frozenset[str]
    denials: frozenset[str]
    single: frozenset[str]
    declares: tuple[str, ...]
    hues: Mapping[str, str]
    families: Mapping[str, PigmentFamily]
    names: tuple[LabelName, ...]
    hash: str

    def families_of(self, index_name: str, chemistry: str = "") -> frozenset[str]:
        """Return the families of a pigment: those that list it, and those that its chemistry names."""
        base = base_name(index_name)
        listed = {key for key, family in self.families.items() if base in family.pigments}
        return frozenset(listed) | self.families_in(chemistry)

    def families_in(self, chemical_name: str) -> frozenset[str]:
        """Return the families that a chemical name speaks of; a longer word is read before one within it."""
        left, found = plain(chemical_name), set()
        stems = ((stem, key) for key, family in self.families.items() for stem in family.chemistry)
        for stem, group in _longest_first(stems).items():
            if stem in left:
                left = left.replace(stem, "|")
                found.update(group)
        return frozenset(found)


def _longest_first(stems: Iterable[tuple[str, str]]) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for stem, group in sorted(stems, key=lambda pair: (-len(pair[0]), pair)):
        found.setdefault(stem, set()).add(group)
    return found


def tokens(printed: str) -> tuple[str, ...]:
    """Return the words of a text in small letters and without accents."""
    bare = "".join(char for char in unicodedata.normalize("NFKD", printed) if not unicodedata.combining(char))
    return tuple(_TOKEN.findall(bare.casefold()))


def plain(printed: str) -> str:
    """Return the words of a text as `tokens` does, a blank between them."""
    return " ".join(tokens(printed))


def _spellings(printed: str) -> tuple[str, ...]:
    """Return a word as `plain` does, with its umlauts as one letter and as two."""
    return tuple(dict.fromkeys((plain(printed), plain(printed.translate(_UMLAUTS)))))


def _languages(node: Node, where: str) -> tuple[str, ...]:
    """Read words by language, a two-letter code each; returns all of them as they stand."""
    found = pairs(node, where)
    words: list[str] = []
    for language, item in found.items.items():
        if not _LANGUAGE.fullmatch(language):
            raise bad(at(where, found.lines[language]), f"key {language}", "languages by two letters, as en or de")
        words += each(_word)(item, where)
    if not words:
        raise refuse(node, where, "words of one language at least, as en: [viridian]")
    return tuple(dict.fromkeys(words))


def _word(node: Node, where: str) -> str:
    found = text(60)(node, where)
    if not tokens(found):
        raise refuse(node, where, "a word with letters or digits")
    return found


def _index(node: Node, where: str) -> str:
    name = text(20)(node, where)
    if index_name(name) != name or base_name(name) != name:
        known = index_name(name)
        raise refuse(node, where, f"a Colour Index name such as {base_name(known) if known else 'PG18'}")
    return name


def glued(words: Iterable[str]) -> tuple[str, ...]:
    """Return words folded and without blanks, as `LabelName.words` holds them."""
    return tuple(dict.fromkeys(one.replace(" ", "") for word in words for one in _spellings(word)))


_FAMILY: Final = {
    "words": Key(_languages, default=()),
    "chemistry": Key(each(_word), default=()),
    "pigments": Key(each(_index, most=300), default=()),
    "kind": Key(one_of(NameKind), default=NameKind.PIGMENT),
    "source": Key(source, default=None),
}


def _families(node: Node, where: str) -> Mapping[str, Mapping[str, object]]:
    found = pairs(node, where)
    return {key_name(key, found.lines[key], where): take(item, where, _FAMILY) for key, item in found.items.items()}


def _as_it_stands(node: Node, where: str) -> Node:
    return node


def _hues(node: Node, where: str) -> Mapping[str, str]:
    """Read words for a colour by the hue letters that it stands for, parted by blanks."""
    found = pairs(node, where)
    hues: dict[str, str] = {}
    for word, item in found.items.items():
        row = take(item, where, {"hues": Key(text(20)), "words": Key(_languages)})
        letters = row["hues"].split()
        if not set(letters) <= {"W", "Y", "O", "R", "V", "B", "G", "Br", "Bk"}:
            raise bad(at(where, found.lines[word]), row["hues"], "hue letters of Colour Index names, as Y O R")
        hues |= {one: row["hues"] for printed in row["words"] for one in _spellings(printed)}
    return hues


_FILE: Final = {
    "reference": Key(among(["names"])),
    "title": Key(text(80)),
    "about": Key(text(2000)),
    "source": Key(source),
    "substitutes": Key(_languages),
    "substitutes_in_name": Key(_languages),
    "endings": Key(each(_word)),
    "genuine": Key(_languages),
    "free_after": Key(_languages),
    "free_before": Key(_languages),
    "denials": Key(_languages),
    "single": Key(_languages),
    "declares": Key(_languages),
    "hues": Key(_hues),
    "families": Key(_families),
    "names": Key(_as_it_stands),
}


def _names(node: Node, where: str, families: Iterable[str], usual: str) -> tuple[LabelName, ...]:
    table = {
        "words": Key(_languages),
        "pigments": Key(each(_index, most=300), default=()),
        "families": Key(each(among(families)), default=()),
        "kind": Key(one_of(NameKind), default=NameKind.PIGMENT),
        "source": Key(source, default=usual),
    }

    def one(item: Node, place: str) -> LabelName:
        row = take(item, place, table)
        if row["kind"] is not NameKind.MIXTURE and not (row["pigments"] or row["families"]):
            raise refuse(item, place, "pigments or families, unless its kind is mixture")
        return LabelName(
            printed=row["words"], words=glued(row["words"]), pigments=frozenset(row["pigments"]),
            families=frozenset(row["families"]), kind=row["kind"], source=row["source"],
        )  # fmt: skip

    found = each(one, most=500)(node, where)
    seen: dict[str, str] = {}
    for name in found:
        for word in name.words:
            if word in seen:
                raise bad(at(where, node.line), f"{word} under {seen[word]} and {name.title}", "each name once")
            seen[word] = name.title
    return found


@lru_cache(maxsize=16)  # the same file is asked for at every key in a label
def parse(content: str, where: str) -> LabelNames:
    """Return the names in the text of a reference file; errors as in `qcledger.rubric.parse`."""
    content = content.replace("\r\n", "\n")
    values = take(read(content, where), where, _FILE)
    found: Mapping[str, Mapping[str, object]] = values["families"]
    assert not isinstance(found, Pairs)
    families = {key: _family(key, row, values["source"]) for key, row in found.items()}
    words = {part: frozenset(glued(values[part])) for part in
             ("substitutes", "substitutes_in_name", "genuine", "free_after", "free_before", "denials",
              "single")}  # fmt: skip
    return LabelNames(
        title=values["title"],
        about=values["about"],
        source=values["source"],
        endings=glued(values["endings"]),
        declares=glued(values["declares"]),
        hues=MappingProxyType(dict(values["hues"])),
        families=MappingProxyType(families),
        names=_names(values["names"], where, tuple(families), values["source"]),
        hash=sha256(content.encode()).hexdigest(),
        **words,
    )


def _family(key: str, row: Mapping[str, object], usual: str) -> PigmentFamily:
    values: dict[str, Any] = dict(row)
    return PigmentFamily(
        key=key,
        words=glued(values["words"]),
        chemistry=tuple(one for word in values["chemistry"] for one in _spellings(word)),
        pigments=frozenset(values["pigments"]),
        is_earth=values["kind"] is NameKind.EARTH,
        source=values["source"] or usual,
    )


def load(path: Path) -> LabelNames:
    """Return the names in the reference file at `path`."""
    return parse(read_text(path), one_line(path.name))
