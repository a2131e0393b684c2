"""What labels are held against: the reference of pigments and that of names, side by side."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from qcledger.rubric import names, pigments
from qcledger.rubric.colour_index import base_name
from qcledger.rubric.names import LabelName, LabelNames, glued
from qcledger.rubric.pigments import Pigments


@dataclass(frozen=True, slots=True)
class Reference:
    """The two references of one installation."""

    pigments: Pigments
    names: LabelNames

    def families_of(self, index_name: str) -> frozenset[str]:
        """Return the families of chemistry a pigment belongs to; none for one that neither reference knows."""
        pigment = self.pigments.find(index_name)
        return self.names.families_of(base_name(index_name), pigment.chemistry if pigment else "")


def load(files: Mapping[str, Path]) -> Reference:
    """Return the references in the files ``pigments`` and ``names``; a pigment's own names count in both."""
    ours = pigments.load(files["pigments"])
    return Reference(ours, _with_pigments(names.load(files["names"]), ours))


@lru_cache(maxsize=4)
def _united(
    entries: tuple[LabelName, ...], printed: tuple[tuple[str, tuple[str, ...]], ...]
) -> tuple[LabelName, ...]:
    """Return the names with every pigment that says itself that it goes under one of them."""
    sold: dict[str, set[str]] = {}
    for pigment, words in printed:
        for word in glued(words):
            sold.setdefault(word, set()).add(base_name(pigment))
    return tuple(
        replace(entry, pigments=entry.pigments.union(*(sold.get(word, ()) for word in entry.words)))
        if entry.pigments
        else entry
        for entry in entries
    )


def _with_pigments(found: LabelNames, ours: Pigments) -> LabelNames:
    printed = tuple((name, pigment.names) for name, pigment in ours.items() if pigment.names)
    return replace(found, names=_united(found.names, printed))
