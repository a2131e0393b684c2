"""What a paint's name promises: whole traditional names first, the longest of them, then words of a chemistry."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from qcledger.rubric.names import LabelName, LabelNames, NameKind, PigmentFamily, tokens

WIDEST: Final = 6
"""Words of the longest name that is looked for."""
SHORT: Final = 4
"""Letters up to which a family's word must be a whole word: *azo* is none in *Azores*."""


@dataclass(frozen=True, slots=True)
class Promise:
    """One promise of a name.

    Parameters
    ----------
    title
        The name or the family, for messages.
    pigments, families
        What keeps it: one of these pigments or, where there are none, any of these families.
    kind
        What the name promises.
    is_whole
        Whether it is a traditional name, not a word of a chemistry.
    source
        Source tag of the entry.
    """

    title: str
    pigments: frozenset[str]
    families: frozenset[str]
    kind: NameKind
    is_whole: bool
    source: str

    @property
    def usually(self) -> str:
        """Return what keeps the promise, in words."""
        families = " or ".join(sorted(family.replace("_", " ") for family in self.families))
        return ", ".join(sorted(self.pigments)) or f"a pigment of {families}"


@dataclass(frozen=True, slots=True)
class Read:
    """A name as it was read.

    Parameters
    ----------
    promises
        What it promises.
    rest
        The words that promise nothing.
    is_substitute, is_genuine
        Whether it, or a word beside it, declares a substitute, or the traditional pigment itself.
    free_of_name
        Families that the name itself says are not in the paint.
    hues
        Hue letters of pigments that have a colour the name speaks of; empty where it speaks of none.
    beside
        The nearest hue letter of each colour among the words that promise nothing: *turquoise* in *Cobalt Blue
        Turquoise*.
    """

    promises: tuple[Promise, ...]
    rest: tuple[str, ...]
    is_substitute: bool
    is_genuine: bool
    free_of_name: frozenset[str]
    hues: frozenset[str]
    beside: frozenset[str]


def read_name(name: str, beside: Iterable[str], names: LabelNames) -> Read:
    """Return what a paint's name promises, with the words that stand beside it on the label."""
    words, other = tokens(name), tuple(tokens(text) for text in beside)
    whole, rest = _whole_names(words, names)
    families = [family for family in names.families.values() if _speaks_of(rest, family)]
    free_of_name = free(words, names)
    free_of = free_of_name.union(*(free(text, names) for text in other))
    promises = [*map(_of_name, whole), *map(_of_family, families)]
    return Read(
        promises=tuple(one for one in promises if not one.families & free_of or one.is_whole),
        rest=rest,
        is_substitute=bool(free_of)
        or _is_substitute(words, names)
        or any(_says(text, names.substitutes) for text in other),
        is_genuine=_says(words, names.genuine) or any(_promises_itself(text, words, names) for text in other),
        free_of_name=free_of_name,
        hues=frozenset(letter for word in words for letters in _letters(word, names) for letter in letters),
        beside=frozenset(letters[0] for word in rest for letters in _letters(word, names)),
    )


def _of_name(name: LabelName) -> Promise:
    return Promise(name.title, name.pigments, name.families, name.kind, True, name.source)


def _of_family(family: PigmentFamily) -> Promise:
    kind = NameKind.EARTH if family.is_earth else NameKind.PIGMENT
    return Promise(family.key.replace("_", " "), frozenset(), frozenset({family.key}), kind, False, family.source)


def _whole_names(words: Sequence[str], names: LabelNames) -> tuple[list[LabelName], tuple[str, ...]]:
    """Return the traditional names in these words, the longest first, and the words that are left."""
    known = {word: name for name in names.names for word in name.words}
    count = len(words)
    windows = ((start, end) for start in range(count) for end in range(start + 1, min(start + WIDEST, count) + 1))
    hits = [(start, end) for start, end in windows if "".join(words[start:end]) in known]
    taken: set[int] = set()
    found = []
    for start, end in sorted(hits, key=lambda hit: (-len("".join(words[hit[0] : hit[1]])), hit)):
        if taken.isdisjoint(range(start, end)):
            taken.update(range(start, end))
            found.append(known["".join(words[start:end])])
    return found, tuple(word for at, word in enumerate(words) if at not in taken)


def _begins(words: Sequence[str], at: int, family: PigmentFamily) -> bool:
    """Say whether a family's name begins at a word."""
    glued = "".join(words[at : at + WIDEST])
    return any(words[at] == start if len(start) <= SHORT else glued.startswith(start) for start in family.words)


def _speaks_of(words: Sequence[str], family: PigmentFamily) -> bool:
    return any(_begins(words, at, family) for at in range(len(words)))


def free(words: Sequence[str], names: LabelNames) -> frozenset[str]:
    """Return the families that a text says are not in the paint, as in *cadmium-free*."""
    return frozenset(
        key
        for key, family in names.families.items()
        for at in range(len(words))
        if _begins(words, at, family) and _is_denied(words, at, names)
    )


def _is_denied(words: Sequence[str], at: int, names: LabelNames) -> bool:
    denied = names.free_before | names.free_after
    before, after = set(words[:at][-2:]), set(words[at + 1 : at + 2])
    is_compound = words[at].endswith(tuple(names.free_after)) and words[at] not in names.free_after
    return is_compound or not (after.isdisjoint(names.free_after) and before.isdisjoint(denied))


def _says(words: Sequence[str], wanted: Iterable[str]) -> bool:
    return not set(words).isdisjoint(wanted)


def _is_substitute(words: Sequence[str], names: LabelNames) -> bool:
    return (
        _says(words, names.substitutes)
        or _says(words, names.substitutes_in_name)
        or any(_stem_is_known(word, names) for word in words)
    )


def _stem_is_known(word: str, names: LabelNames) -> bool:
    """Say whether a word is a name with one of the endings that declare a substitute, as *Kobaltblauton*."""
    stems = [word.removesuffix(ending).removesuffix("s") for ending in names.endings if word.endswith(ending)]
    known = {one for name in names.names for one in name.words}
    return any(stem in known for stem in stems)


def _promises_itself(claim: Sequence[str], words: Sequence[str], names: LabelNames) -> bool:
    """Say whether a claim calls the pigment genuine: nothing else stands in it but that and words of the name."""
    usual = {"pigment", "pigments", "pigmente", "pigmenti", "colour", "color"}
    return _says(claim, names.genuine) and set(claim) <= usual | set(words) | names.genuine


def _letters(word: str, names: LabelNames) -> Iterator[tuple[str, ...]]:
    """Yield the hue letters of a word for a colour, or of a compound that ends in one, as *Kadmiumgelb*."""
    for colour, letters in names.hues.items():
        if word == colour or (len(word) > len(colour) + SHORT and word.endswith(colour)):
            yield tuple(letters.split())
