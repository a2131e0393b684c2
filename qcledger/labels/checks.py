"""Checks of a label that need no statistics: forms of index names, names against numbers, missing information.

Each check returns words to stand beside a field. References disagree, so a number that is not ours "differs from our
reference", with the tag of its source.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from qcledger.records import LabelVersion
from qcledger.rubric.colour_index import base_name, cas_is_valid, family, index_name, is_near
from qcledger.rubric.pigments import Pigment, Pigments

HUE: Final = "hue"
"""The word that marks a substitute for the pigment of a traditional name (standard from memory)."""
BLOCK_WORDS: Final[Mapping[str, str]] = {
    "phthalo": "phthalocyanine", "quinacridone": "indigoid", "perylene": "anthraquinone",
    "indanthrone": "anthraquinone", "dioxazine": "oxazine", "cobalt": "inorganic", "cadmium": "inorganic",
    "chromium": "inorganic", "chrome": "inorganic", "iron": "inorganic", "manganese": "inorganic",
    "ultramarine": "inorganic", "titan": "inorganic",
}  # fmt: skip
"""Beginning of a chemical word to the block of constitution numbers it stands for; the first that fits counts.

Chemical blocks as in `rubric.colour_index.BLOCKS`; perylenes and indanthrone lie in the anthraquinone block, and
quinacridones in the indigoid one (from memory).
"""
NO_FORM: Final = "no form of a Colour Index name"
"""Said of a printed name that is neither use, hue and number nor a spelling of them."""
_CAS_FORM: Final = re.compile(r"\d{2,7}-\d\d-\d", re.ASCII)


class What(StrEnum):
    """What a remark is about, for whoever draws a grade from it."""

    FORM = "form"
    DIFFERS = "differs"
    CONTRADICTS = "contradicts"
    NO_HUE = "no hue"
    CLAIM = "claim"


@dataclass(frozen=True, slots=True)
class Said:
    """Words about one field of a label."""

    field: str
    what: What
    words: str


def about(label: LabelVersion, paint_name: str, pigments: Pigments) -> tuple[Said, ...]:
    """Return everything there is to say about a label, field by field.

    Parameters
    ----------
    label
        What the label declares, as printed.
    paint_name
        The paint's name on it.
    pigments
        The reference.
    """
    declared = known(label, pigments)
    return (
        *_name(paint_name, label, pigments),
        *_index_names(label.index_names, pigments),
        *_numbers(label.constitution_numbers, declared),
        *_chemistry(label.chemical_names, declared),
        *_cas(label.cas_numbers, declared),
        *_claims(label),
    )


def known(label: LabelVersion, pigments: Pigments) -> tuple[Pigment, ...]:
    """Return the pigments of the reference that a label declares, each once."""
    return tuple({one.name: one for name in label.index_names if (one := pigments.find(name))}.values())


def missing(label: LabelVersion, pigments: Pigments) -> tuple[str, ...]:
    """Return what was not found on the label, each in a few words."""
    declared = known(label, pigments)
    wanted = {
        "Colour Index names": bool(label.index_names),
        "constitution numbers or chemical names": bool(label.constitution_numbers or label.chemical_names),
        "hazard words, though our reference expects some": bool(label.warnings)
        or not any(pigment.label_expected for pigment in declared),
    }
    return tuple(what for what, found in wanted.items() if not found)


def traditional(paint_name: str, pigments: Pigments) -> tuple[str, frozenset[str]] | None:
    """Return the longest traditional pigment name in a paint's name, and the pigments it stands for."""
    words = f" {_plain(paint_name)} "
    named: dict[str, set[str]] = {}
    for pigment in pigments.values():
        for name in pigment.names:
            named.setdefault(name, set()).add(pigment.name)
    found = [name for name in named if f" {_plain(name)} " in words]
    best = max(found, key=len, default=None)
    return (best, frozenset(named[best])) if best else None


def _plain(text: str) -> str:
    return " ".join(re.findall(r"\w+", text.casefold()))


def _name(paint_name: str, label: LabelVersion, pigments: Pigments) -> Iterator[Said]:
    """Hold a traditional name against the pigments declared."""
    named = traditional(paint_name, pigments)
    if named is None or not label.index_names or HUE in _plain(paint_name).split():
        return
    declared = {base_name(name) for text in label.index_names if (name := index_name(text))}
    if declared and not declared & named[1]:
        stands, shown = " or ".join(sorted(named[1])), ", ".join(sorted(declared))
        yield Said("name", What.NO_HUE, f'"{named[0]}" is usually {stands}; declared {shown}, no "hue" in the name')


def _index_names(printed: Iterable[str], pigments: Pigments) -> Iterator[Said]:
    for text in printed:
        name = index_name(text)
        if name is None:
            yield Said("index_names", What.FORM, f"{text}: {NO_FORM}")
            continue
        read = "" if name == text.strip() else f"{text} read as {name}"
        unknown = "" if pigments.find(name) else f"{name} is not in our reference"
        if read or unknown:
            yield Said("index_names", What.FORM, ", ".join(part for part in (read, unknown) if part))


def _numbers(printed: Iterable[str], declared: tuple[Pigment, ...]) -> Iterator[Said]:
    for text in printed:
        number = base_name(text.strip())
        if not re.fullmatch(r"\d{5,6}", number, re.ASCII):
            yield Said("constitution_numbers", What.FORM, f"{text}: not 5 or 6 digits")
        elif declared and not any(number in one.numbers or not one.numbers for one in declared):
            yield _other_number(number, declared)


def _other_number(number: str, declared: tuple[Pigment, ...]) -> Said:
    """Tell a number that no declared pigment has: a misprint, another reference, or another family."""
    block = family(number)
    families = {mine for pigment in declared for mine in pigment.families}
    ours = "; ".join(
        f"{pigment.name} {', '.join(pigment.numbers)}, {pigment.sources['numbers']}" for pigment in declared
    )
    words = f"{number} differs from our reference ({ours})"
    if any(is_near(number, mine) for pigment in declared for mine in pigment.numbers):
        return Said("constitution_numbers", What.DIFFERS, f"{words}; a digit or two apart, read it again")
    if block and families and block not in families:
        said = f"{words}; {number[:2]} is {block}, not {' or '.join(sorted(families))}"
        return Said("constitution_numbers", What.CONTRADICTS, said)
    return Said("constitution_numbers", What.DIFFERS, words)


def _chemistry(printed: Iterable[str], declared: tuple[Pigment, ...]) -> Iterator[Said]:
    families = {mine for pigment in declared for mine in pigment.families}
    for text in printed:
        words = _plain(text).split()
        named = next(((start, block) for start, block in BLOCK_WORDS.items() if _begins(words, start)), None)
        if named and families and named[1] not in families:
            names = ", ".join(pigment.name for pigment in declared)
            said = f'"{text}" says {named[1]}, {names} is {" or ".join(sorted(families))}'
            yield Said("chemical_names", What.CONTRADICTS, said)


def _begins(words: Iterable[str], start: str) -> bool:
    return any(word.startswith(start) for word in words)


def _cas(printed: Iterable[str], declared: tuple[Pigment, ...]) -> Iterator[Said]:
    ours = {number: pigment for pigment in declared for number in pigment.cas_numbers}
    for text in (text.strip() for text in printed):
        if not _CAS_FORM.fullmatch(text):
            yield Said("cas_numbers", What.FORM, f"{text}: not of the form 1308-38-9")
        elif not cas_is_valid(text):
            yield Said("cas_numbers", What.FORM, f"{text}: the check digit does not fit, read it again")
        elif ours and text not in ours:
            listed = "; ".join(f"{one.name} {cas}, {one.sources['cas']}" for cas, one in ours.items())
            yield Said("cas_numbers", What.DIFFERS, f"{text} differs from our reference ({listed})")


def _claims(label: LabelVersion) -> Iterator[Said]:
    single = [claim for claim in label.claims if {"single", "pigment"} <= set(_plain(claim).split())]
    if single and len(label.index_names) > 1:
        yield Said("claims", What.CLAIM, f'"{single[0]}", but {len(label.index_names)} declared')
