"""Claims of a label held against what it declares: one pigment, how many, none of a kind."""

import re
from collections.abc import Iterator
from typing import Final

from qcledger.labels.declared import DeclaredPigments
from qcledger.labels.promises import Read, free, read_name
from qcledger.labels.said import LabelRemark, Trust, fact, founded
from qcledger.records import LabelVersion
from qcledger.rubric.names import NameKind, plain, tokens
from qcledger.rubric.reference import Reference
from qcledger.vocab import SaidLevel

_COUNTED: Final = re.compile(
    r"\b(?P<count>[2-9]|two|three|four|five|zwei|drei|vier|deux|trois|due|tre|dos|tres) pigment"
)
_COUNTS: Final = {
    "two": 2, "three": 3, "four": 4, "five": 5, "zwei": 2, "drei": 3, "vier": 4, "deux": 2, "trois": 3, "due": 2,
    "tre": 3, "dos": 2, "tres": 3,
}  # fmt: skip


def of_claims(
    label: LabelVersion, name: Read, declared: DeclaredPigments, reference: Reference, trust: Trust
) -> Iterator[LabelRemark]:
    """Say which claims do not go with what the label declares; colon suffixes make no second pigment."""
    if not (label.index_names or label.constitution_numbers or label.chemical_names):
        yield from _named_nowhere(label, reference)
    if not declared.names:
        return
    for claim in label.claims:
        yield from _counted(claim, declared, reference)
        yield from _genuine(claim, declared, reference, trust)
        yield from _absent("claims", claim, free(tokens(claim), reference.names), declared, trust)
    yield from _absent("name", "the name", name.free_of_name, declared, trust)


def _named_nowhere(label: LabelVersion, reference: Reference) -> Iterator[LabelRemark]:
    """Hold a claim that the pigments are named on the label against a label that names none."""
    for claim in label.claims:
        words = tokens(claim)
        says = any(word.startswith(reference.names.declares) for word in words)
        if says and any(word.startswith("pigment") for word in words):
            yield LabelRemark("claims", SaidLevel.DIFFERS, f'"{claim}", but none is found on this label')


def _counted(claim: str, declared: DeclaredPigments, reference: Reference) -> Iterator[LabelRemark]:
    """Hold a number of pigments against how many are declared."""
    glued, count = plain(claim).replace(" ", ""), len(declared.bases)
    is_single = any(phrase in glued for phrase in reference.names.single)
    if is_single and count > 1:
        yield LabelRemark("claims", SaidLevel.CONTRADICTS, f'"{claim}", but {count} declared: {declared.shown}')
    many = _COUNTED.search(plain(claim))
    said = int(_COUNTS.get(many["count"], 0) or many["count"]) if many else 0
    if many and not declared.unread and said not in (count, len(declared.names)):
        yield LabelRemark("claims", SaidLevel.DIFFERS, f'"{claim}", but {count} declared: {declared.shown}')


def _genuine(claim: str, declared: DeclaredPigments, reference: Reference, trust: Trust) -> Iterator[LabelRemark]:
    """Hold a claim of something genuine, by its name or its chemistry, against the chemistry of what is declared."""
    names, words = reference.names, set(tokens(claim))
    denied = names.denials | names.substitutes | names.free_before | names.free_after
    if words.isdisjoint(names.genuine) or not words.isdisjoint(denied) or declared.unread or declared.strangers:
        return
    promises = [one for one in read_name(claim, (), names).promises if one.kind is not NameKind.EARTH]
    pigments = frozenset().union(*(one.pigments for one in promises))
    families = names.families_in(claim).union(*(one.families for one in promises))
    is_kept = any(base in pigments or declared.families[base] & families for base in declared.bases)
    if not is_kept and (pigments or families - {"iron_oxide", "silicate"}):
        ours = tuple(declared.chemistry(base) for base in declared.bases)
        yield founded("claims", SaidLevel.DIFFERS, f'"{claim}", but declared {declared.shown}', ours, trust)


def _absent(
    field: str, claim: str, families: frozenset[str], declared: DeclaredPigments, trust: Trust
) -> Iterator[LabelRemark]:
    """Hold what is said not to be in the paint against the chemistry of what is declared."""
    for base, pigment in declared.pigments.items():
        if found := declared.families[base] & families:
            said = f'"{claim}", but {base} is {" and ".join(sorted(found))}'
            yield founded(field, SaidLevel.CONTRADICTS, said, (fact(pigment, "chemistry"),), trust)
