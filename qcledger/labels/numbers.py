"""Constitution numbers, CAS numbers and chemical names held against the pigments a label declares."""

import re
from collections.abc import Callable, Iterable, Iterator
from typing import Final

from qcledger.labels.declared import DeclaredPigments
from qcledger.labels.naming import NEXT, hue_of
from qcledger.labels.said import LabelRemark, Ours, Trust, fact, founded, remark
from qcledger.rubric.colour_index import BLOCKS_SOURCE, base_name, cas_is_valid, family, is_near, printed
from qcledger.rubric.pigments import Pigment
from qcledger.rubric.reference import Reference
from qcledger.vocab import SaidLevel

_CAS: Final = re.compile(r"(?<![\d-])\d{2,7}-\d\d-\d(?![\d-])", re.ASCII)
_WIDE: Final = {"disazo": "monoazo", "natural": None}
"""Blocks that are told apart from no other, or only together with one: natural dyes are of many chemistries."""


def of_numbers(
    entries: Iterable[str], declared: DeclaredPigments, reference: Reference, trust: Trust
) -> Iterator[LabelRemark]:
    """Say what there is to say about constitution numbers, as printed."""
    numbers = list(declared.numbers)
    for entry in entries:
        read = printed(entry)
        if read is None or not read.numbers:
            yield remark("constitution_numbers", f"{entry}: not 5 or 6 digits")
        else:
            numbers += read.numbers
    for number in dict.fromkeys(map(base_name, numbers)):
        mine = {one for pigment in declared.pigments.values() for one in pigment.numbers}
        if declared.names and number not in mine:
            yield _other_number(number, declared, reference, trust)


def _other_number(number: str, declared: DeclaredPigments, reference: Reference, trust: Trust) -> LabelRemark:
    """Tell a number that no declared pigment has: a misprint, another reference's, or another pigment's."""
    field, pigments = "constitution_numbers", tuple(declared.pigments.values())
    ours = tuple(fact(pigment, "numbers") for pigment in pigments)
    statement = f"{number} differs from our reference"
    if not declared.is_known:
        return remark(field, f"{statement}, which does not hold {_not_held(declared)}", *ours)
    if not all(pigment.numbers for pigment in pigments):
        return remark(field, f"{statement}, which is not sure of every number", *ours)
    others = _others(declared, reference, lambda pigment: number in pigment.numbers)
    if not others and any(is_near(number, one) for pigment in pigments for one in pigment.numbers):
        return remark(field, f"{statement}; a digit or two apart, read it again", *ours)
    mine = [one for pigment in pigments for one in pigment.numbers]
    block, blocks = _block(number), set(map(_block, mine))
    if block and None not in blocks and block not in blocks:
        said = f"{statement}; {number[:2]} is {family(number)}, not {_or(map(family, mine))}"
        tells = Ours(number[:2], "block of constitution numbers", str(family(number)), BLOCKS_SOURCE)
        return founded(field, SaidLevel.CONTRADICTS, said, (*ours, tells), trust)
    if others:
        told = tuple(fact(other, "numbers") for other in others)
        return founded(
            field, SaidLevel.DIFFERS, f"{statement}; it is that of {_names(others)}", (*ours, *told), trust
        )
    return remark(field, statement, *ours)


def _block(number: str) -> str | None:
    found = family(number)
    return _WIDE.get(found, found) if found else None


def _others(declared: DeclaredPigments, reference: Reference, has: Callable[[Pigment], bool]) -> tuple[Pigment, ...]:
    """Return the pigments that have a fact, where none of them is near to what is declared.

    Near is a pigment of the same chemistry and of the same or a neighbouring hue: references give those each other's
    numbers.
    """
    found = tuple(pigment for pigment in reference.pigments.values() if has(pigment))
    near = any(_is_kin(one.name, base, declared, reference) for one in found for base in declared.bases)
    return () if near else found


def _is_kin(other: str, base: str, declared: DeclaredPigments, reference: Reference) -> bool:
    hues = frozenset((hue_of(other), hue_of(base)))
    beside = len(hues) == 1 or hues in NEXT or bool(hues & {"Br", "Bk"})
    return beside and bool(reference.families_of(other) & declared.families[base])


def of_chemistry(
    entries: Iterable[str], declared: DeclaredPigments, reference: Reference, trust: Trust
) -> Iterator[LabelRemark]:
    """Say which chemical names speak of another chemistry than that of what is declared."""
    for entry in (*entries, *declared.words):
        families = reference.names.families_in(entry)
        if not declared.names or not families or families & declared.all_families:
            continue
        said = f'"{entry}" is {_or(families)}'
        ours = tuple(declared.chemistry(base) for base in declared.bases if declared.families[base])
        if declared.unread or declared.strangers:
            unknown = ", ".join((*declared.strangers, *declared.unread))
            yield remark("chemical_names", f"{said}; our reference does not hold {unknown}", *ours)
        elif all(declared.families.values()):
            against = f"{said}, {declared.shown} is {_or(declared.all_families)}"
            yield founded("chemical_names", _how_far(families, declared, reference), against, ours, trust)


def _how_far(families: frozenset[str], declared: DeclaredPigments, reference: Reference) -> SaidLevel:
    """Return how far a chemistry of another family goes: two blocks of the Colour Index contradict each other."""
    theirs = {block for one in reference.pigments.values() if reference.families_of(one.name) & families
              for number in one.numbers if (block := _block(number))}  # fmt: skip
    pigments = declared.pigments.values()
    mine = {_block(number) for pigment in pigments for number in pigment.numbers or ("",)}
    is_apart = declared.is_known and theirs and None not in mine and theirs.isdisjoint(mine)
    return SaidLevel.CONTRADICTS if is_apart else SaidLevel.DIFFERS


def of_cas(
    entries: Iterable[str], declared: DeclaredPigments, reference: Reference, trust: Trust
) -> Iterator[LabelRemark]:
    """Say which CAS numbers cannot be right, and which are another pigment's."""
    for entry in (entry.strip() for entry in entries):
        numbers = _CAS.findall(entry)
        if not numbers:
            yield remark("cas_numbers", f"{entry}: not of the form 1308-38-9")
        for number in numbers:
            if not cas_is_valid(number):
                said = f"{number}: the check digit does not fit, read it again"
                yield LabelRemark("cas_numbers", SaidLevel.DIFFERS, said)
            elif declared.pigments and not any(number in one.cas_numbers for one in declared.pigments.values()):
                yield _other_cas(number, declared, reference, trust)


def _other_cas(number: str, declared: DeclaredPigments, reference: Reference, trust: Trust) -> LabelRemark:
    ours = tuple(fact(one, "cas") for one in declared.pigments.values() if one.cas)
    statement = f"{number} differs from our reference"
    others = _others(declared, reference, lambda pigment: number in pigment.cas_numbers)
    if others and declared.is_known:
        told = (*ours, *(fact(other, "cas") for other in others))
        return founded("cas_numbers", SaidLevel.DIFFERS, f"{statement}; it is that of {_names(others)}", told, trust)
    return remark("cas_numbers", f"{statement}; a pigment may have several", *ours)


def _names(pigments: Iterable[Pigment]) -> str:
    return " and ".join(pigment.name for pigment in pigments)


def _not_held(declared: DeclaredPigments) -> str:
    return ", ".join((*declared.unknown, *declared.unread))


def _or(words: Iterable[str | None]) -> str:
    return " or ".join(sorted({word.replace("_", " ") for word in words if word}))
