"""A paint's name held against the pigments its label declares."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from qcledger.labels.declared import DeclaredPigments
from qcledger.labels.promises import Promise, Read
from qcledger.labels.said import LabelRemark, Ours, Trust, founded, remark
from qcledger.rubric.names import NameKind
from qcledger.vocab import SaidLevel

NEXT: Final = frozenset(map(frozenset, (("Y", "O"), ("O", "R"), ("R", "V"), ("V", "B"))))
"""Hue letters of index names that one pigment may be sold between; blue and green are kept apart."""


class Fits(StrEnum):
    """How a name and the pigments fit."""

    ALL = "all"
    """Everything declared belongs to the name."""
    SUBSTITUTE = "substitute"
    """The label declares a substitute."""
    FANCY = "fancy"
    """The name promises no pigment."""
    OPEN = "open"
    """Not to be told: nothing declared, something unknown, or an earth's name."""
    NOT = "not"
    """Something declared does not belong."""


@dataclass(frozen=True, slots=True)
class Named:
    """A name held against what is declared: how it fits, why, and what is said about it."""

    fits: Fits
    because: str
    said: tuple[LabelRemark, ...] = ()


def named(read: Read, declared: DeclaredPigments, trust: Trust) -> Named:
    """Return how a name fits the pigments declared."""
    promises = [
        one for one in read.promises if one.kind is not NameKind.MIXTURE or (read.is_genuine and one.pigments)
    ]
    if not declared.names:
        return Named(Fits.OPEN, "no index name is read on this label")
    if read.is_substitute:
        return Named(Fits.SUBSTITUTE, "the label declares a substitute")
    if not promises:
        return Named(Fits.FANCY, "the name promises no pigment")
    return _held(promises, read, declared, trust)


def _held(every: list[Promise], read: Read, declared: DeclaredPigments, trust: Trust) -> Named:
    # A word of a chemistry says more than an earth's name: "Cadmium Light Red" is a cadmium, and no light red.
    promises = [one for one in every if one.kind is not NameKind.EARTH] or every
    foreign = [base for base in declared.bases if not _belongs(base, promises, declared)]
    title = " and ".join(f'"{one.title}"' for one in promises)
    usually = "; ".join(one.usually for one in promises)
    because = f"{title} is usually {usually}; declared {declared.shown}"
    strange = [base for base in foreign if base in declared.strangers]
    if strange or declared.unread:
        return _strange(because, strange, promises, declared, trust)
    if any(one.kind is NameKind.EARTH for one in promises):
        return _open(because, "custom is wide for the names of earths") if foreign else Named(Fits.OPEN, because)
    if not foreign:
        return _of_its_chemistry(because, promises, read, declared, trust)
    ours = (*map(_entry, promises), *(declared.chemistry(base) for base in foreign))
    if len(foreign) == len(declared.bases):
        return _not(f'{because}, no "hue" in the name', ours, trust)
    beside = f"{because}; {', '.join(foreign)} beside it is not of it"
    if all(base.startswith("PW") for base in foreign) or _is_mixture(promises, read):
        return Named(Fits.OPEN, because, (remark("name", beside),))
    return _not(f'{beside}, no "hue" in the name', ours, trust)


def _of_its_chemistry(
    because: str, promises: list[Promise], read: Read, declared: DeclaredPigments, trust: Trust
) -> Named:
    """Tell what is of the right chemistry: also of the right colour, or another pigment of the family."""
    listed = frozenset().union(*(one.pigments for one in promises))
    if not listed.isdisjoint(declared.bases):
        return Named(Fits.ALL, because)
    if read.hues and not any(hue_of(base) in read.hues for base in declared.bases):
        return _not(f"{because}, whose index name is of another colour", tuple(map(_entry, promises)), trust)
    return _open(because, "another pigment of that chemistry") if listed else Named(Fits.ALL, because)


def _strange(
    because: str, strange: list[str], promises: list[Promise], declared: DeclaredPigments, trust: Trust
) -> Named:
    """Tell what our reference does not hold: nothing but the hue in its index name can be held against the name."""
    usual = {hue_of(base) for one in promises for base in one.pigments}
    near = usual.union(*(pair for pair in NEXT if pair & usual))
    all_far = usual and not declared.unread and not any(hue_of(base) in near for base in declared.bases)
    if all_far and not any(one.kind is NameKind.EARTH for one in promises):
        return _not(f"{because}, whose index name is of another colour", tuple(map(_entry, promises)), trust)
    return _open(because, f"{', '.join((*strange, *declared.unread))} is not in our reference")


def _open(because: str, why: str) -> Named:
    return Named(Fits.OPEN, f"{because}; {why}", (remark("name", f"{because}; {why}"),))


def _not(statement: str, ours: tuple[Ours, ...], trust: Trust) -> Named:
    said = founded("name", SaidLevel.DIFFERS, statement, ours, trust)
    return Named(Fits.OPEN if said.held_back else Fits.NOT, said.words, (said,))


def _entry(promise: Promise) -> Ours:
    return Ours(promise.title, "names", promise.usually, promise.source)


def _belongs(base: str, promises: list[Promise], declared: DeclaredPigments) -> bool:
    return any(base in one.pigments or declared.families[base] & one.families for one in promises)


def _is_mixture(promises: list[Promise], read: Read) -> bool:
    """Say whether a name that is kept in part speaks of a mixture: a family's word, or another colour beside it."""
    own = {hue_of(base) for one in promises for base in one.pigments}
    return not all(one.is_whole for one in promises) or not read.beside <= own


def hue_of(base: str) -> str:
    """Return the hue letters of an index name: ``B`` of ``PB15``, ``Bk`` of ``PBk7``."""
    return base[1:].rstrip("0123456789")
