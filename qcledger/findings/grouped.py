"""What makes things of two makers peers, as the rubric says: evidence with each row's group told by it."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from qcledger.findings.evidence import Aside, Evidence
from qcledger.rubric import PeerGroup
from qcledger.rubric.model import PIGMENTS


def grouped(evidence: Evidence, by: PeerGroup) -> Evidence:
    """Return evidence whose rows have their group as a rubric's `peers` takes it."""
    if by.part == PIGMENTS.part:
        return evidence
    told = _Groups.among(by, evidence.rows.column("facts"))
    aside = (_regrouped(one, told) for one in evidence.aside)
    return replace(evidence, rows=evidence.rows.told("group", told.of, "facts"), aside=tuple(aside))


@dataclass(frozen=True)
class _Groups:
    """Reads a label's facts: each word of the part that makes peers, in one spelling for all."""

    part: str | None
    spelling: dict[str, str]

    @classmethod
    def among(cls, by: PeerGroup, labels: Iterable[tuple[str, ...]]) -> "_Groups":
        """Return a reader that shows what differs by capitals or blanks alone in the first of its spellings."""
        printed = sorted({word for facts in set(labels) for word in _printed(by.part, facts)}, reverse=True)
        return cls(by.part, {word.casefold(): word for word in printed})

    def of(self, facts: tuple[str, ...]) -> tuple[str, ...]:
        """Return the group of a thing whose label says these facts; empty where they do not tell."""
        return tuple(sorted({self.spelling.get(word.casefold(), word) for word in _printed(self.part, facts)}))


def _printed(part: str | None, facts: Iterable[str]) -> list[str]:
    told = (fact.partition(": ") for fact in facts)
    return [word for what, _, text in told if what == part and (word := " ".join(text.split()))]


def _regrouped(one: Aside, told: _Groups) -> Aside:
    row = one.unit.row
    return one._replace(unit=one.unit._replace(row=replace(row, group=told.of(row.facts))))
