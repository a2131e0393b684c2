"""Does a paint behave like other makers' paints that declare the same pigments? For the tester alone, never printed.

A reason to look further, and no more: what is in a paint, a laboratory tells. What counts are traits that do not rest
on the other makers beside them. Faults and label facts have findings of their own and are not asked here.
"""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from math import isnan, sqrt
from statistics import fmean, median, median_low
from typing import Final, NamedTuple

import numpy as np

from qcledger.findings.evidence import Evidence
from qcledger.rubric import Criterion
from qcledger.rubric.colour_index import base_name
from qcledger.stats.check import FloatArray
from qcledger.stats.predictive import CLASSES, TraitBits, level, predictive, trait_bits, votes, width_of
from qcledger.vocab import Nature, Occasion

PEERS: Final = 4
"""Makers beside a paint under which there is no baseline."""
ENOUGH: Final = 5
"""Other paints of a sitting, or of a maker, that it takes to say that it grades, or makes, all of them otherwise."""
APART: Final = 2.0
"""Grades by which two paints of one maker and pigment differ where grades of the pigment are known to differ."""

DRIVES: Final = 1.0
"""Bits from which a trait is named among those that drive it."""
LEAST_TRAITS: Final = 2
"""Traits that must drive it: one alone may be one slip, or one property of the medium."""

Declared = tuple[str, ...]
"""Colour Index names that a label declares, without suffix, in order."""


class TraitLook(NamedTuple):
    """One graded specimen: whose, of what, where, and its grade from 0 to 5."""

    criterion: str
    paint: str
    maker: str
    declared: Declared
    format: str
    lot: Hashable
    sitting: Hashable
    grade: float


class BehaviourVerdict(StrEnum):
    """What is said of a paint beside its peers."""

    UNLIKE = "behaves unlike"
    NO_SIGN = "no sign of it"
    NO_BASELINE = "no peer baseline"


class TraitBeside(NamedTuple):
    """A trait of a paint beside its peers, and the bits of it that count: criteria of one cause share theirs."""

    criterion: str
    found: TraitBits
    counted: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BesidePeers:
    """One paint beside its peers.

    Parameters
    ----------
    paint, maker, declared
        Whose, and what its label declares.
    lots
        Lots that were graded on a trait.
    peers
        Other makers that declare the same and were graded on a trait.
    traits
        Those with a baseline, the most telling first.
    level
        Bits from which it is called unlike, among so many paints that were looked at.
    differs_within
        Criteria left out because two paints of one maker that declare the same differ in them.
    near
        Other declared pigments by how much better than its peers they predict what drives it, in bits, the nearest
        first; none where fewer than two traits do.
    """

    paint: str
    maker: str
    declared: Declared
    lots: int
    peers: int
    traits: tuple[TraitBeside, ...] = ()
    level: float = 0.0
    differs_within: tuple[str, ...] = ()
    near: tuple[tuple[Declared, float], ...] = ()

    @property
    def bits(self) -> float:
        """How much better all others predict it than its peers do."""
        return sum(trait.counted for trait in self.traits)

    @property
    def verdict(self) -> BehaviourVerdict:
        """What is said of it."""
        if not self.traits:
            return BehaviourVerdict.NO_BASELINE
        several = sum(trait.counted >= DRIVES for trait in self.traits) >= LEAST_TRAITS
        return BehaviourVerdict.UNLIKE if several and self.bits >= self.level else BehaviourVerdict.NO_SIGN


def counts(criterion: Criterion) -> bool:
    """Say whether a criterion tells how a paint behaves: a graded trait of the sheet, not one beside other makers."""
    beside = any("other makers" in condition for condition in criterion.conditions)
    graded = bool(criterion.anchors) and criterion.seen_at is Occasion.BENCH and criterion.label_fact is None
    return graded and not beside and criterion.nature is not Nature.FAULT


def looks(evidence: Evidence) -> list[TraitLook]:
    """Return what counts of a ledger: each specimen once on each criterion that `counts`."""
    wanted = {key for key, one in evidence.criteria.items() if counts(one)}
    names = ("criterion", "paint", "maker", "pigments", "format", "lot", "parcel", "session", "sitting")
    return [
        TraitLook(key, paint, maker, declared(pigments), str(format_), lot or parcel, session or sitting, grade)
        for (key, paint, maker, pigments, format_, lot, parcel, session, sitting), grade in zip(
            evidence.rows.together(*names), evidence.grades.tolist(), strict=True
        )
        if key in wanted and not isnan(grade)
    ]


def declared(pigments: Iterable[str]) -> Declared:
    """Return Colour Index names without suffix, each once, in order: PB15 and PB15:3 behave alike."""
    return tuple(sorted({base_name(name) for name in pigments}))


Told = Callable[[str, Sequence[tuple[str, Declared]]], Iterable[tuple[str, Declared]]]
"""Yields paints with what their labels declare, telling somebody how far it is."""


def beside_peers(
    seen: Iterable[TraitLook], criteria: Mapping[str, Criterion], progress: Told = lambda _, items: items
) -> tuple[BesidePeers, ...]:
    """Return every paint that declares pigments beside its peers, those most unlike first.

    Parameters
    ----------
    seen
        What was graded, in any order.
    criteria
        By key, at least those of `seen`.
    progress
        Told which paint is at work; what it raises ends the work.

    Notes
    -----
    Each specimen is moved by what its sitting, and each paint by what its maker's other paints, differ from their
    kinds in the median; then lots are taken together, and makers have a vote each (`stats.predictive`).
    """
    field = _TraitField(_levelled(list(seen)), criteria)
    paints = [(paint, names) for paint, names in field.paints if names]
    found = [field.paint(paint, names) for paint, names in progress("Paints beside peers", paints)]
    looked_at = sum(bool(one.traits) for one in found)
    line = level(max(looked_at, PEERS + 1))
    whole = (replace(one, level=line) for one in found)
    return tuple(sorted(whole, key=lambda one: (not one.traits, -one.bits, one.declared, one.paint)))


class _Asked(NamedTuple):
    """What a trait was held against: grades of the paint's lots, its peers' votes, the predictives of others."""

    ours: list[float]
    peers: list[FloatArray]
    elsewhere: dict[Declared, FloatArray]
    near: float


class _TraitField:
    """Everything that was graded, by criterion and declared pigments."""

    def __init__(self, seen: Sequence[TraitLook], criteria: Mapping[str, Criterion]) -> None:
        self._criteria = criteria
        self._lots: dict[tuple[str, Declared], dict[tuple[str, str], dict[tuple[str, Hashable], list[float]]]]
        self._lots = defaultdict(lambda: defaultdict(lambda: defaultdict(list)))
        for one in seen:
            by_paint = self._lots[one.criterion, one.declared]
            by_paint[one.maker, one.paint][one.format, one.lot].append(one.grade)
        self._near = {key: self._width(key) for key in {key for key, _ in self._lots}}
        self._predictives: dict[tuple[str, str | None, Declared], FloatArray] = {}

    @cached_property
    def paints(self) -> list[tuple[str, Declared]]:
        """Each paint with what its label declares; one whose label changed stands there once for each."""
        return sorted({(paint, names) for (_, names), some in self._lots.items() for _, paint in some})

    @cached_property
    def _kinds(self) -> dict[str, list[Declared]]:
        """What was declared by what was graded, by criterion."""
        found = defaultdict(list)
        for key, names in self._lots:
            if names:
                found[key].append(names)
        return found

    def paint(self, paint: str, names: Declared) -> BesidePeers:
        """Return one paint beside its peers, the level still open."""
        maker, lots, peers = "", set[tuple[str, Hashable]](), set[str]()
        found_traits: list[TraitBeside] = []
        differs: list[str] = []
        asked: dict[str, _Asked] = {}
        for key in (key for key, those in self._lots if those == names):
            mine = next((some for (_, one), some in self._lots[key, names].items() if one == paint), None)
            if mine is None:
                continue
            maker = next(whose for whose, one in self._lots[key, names] if one == paint)
            lots |= mine.keys()
            format_ = self._format(key, names, maker, mine)
            others_of = self._makers(key, names, format_, without=maker)
            peers |= others_of.keys()
            if self._differs_within(key, names, format_):
                differs.append(key)
                continue
            elsewhere = self._elsewhere(key, names, format_)
            if len(others_of) < PEERS or len(elsewhere) < 2:
                continue
            ours = _lot_grades(mine, format_)
            found = trait_bits(ours, list(others_of.values()), list(elsewhere.values()), self._near[key])
            found_traits.append(TraitBeside(key, found, found.bits))
            asked[key] = _Asked(ours, list(others_of.values()), elsewhere, self._near[key])
        traits = self._shared(found_traits)
        return BesidePeers(
            paint=paint,
            maker=maker,
            declared=names,
            lots=len(lots),
            peers=len(peers),
            traits=traits,
            differs_within=tuple(sorted(differs)),
            near=_nearest([asked[one.criterion] for one in traits if one.counted >= DRIVES]),
        )

    def _width(self, key: str) -> float:
        """Return the kernel's deviation for a trait, from how far makers of the same declarations lie apart here."""
        return width_of(_apart(some) for (one, _), some in self._lots.items() if one == key)

    def _format(
        self, key: str, names: Declared, maker: str, mine: Mapping[tuple[str, Hashable], Sequence[float]]
    ) -> str | None:
        """Return the format to keep to where a trait may be the piece's: that with the most peers; None for any."""
        if self._criteria[key].nature is Nature.TRAIT:
            return None
        own = sorted({format_ for format_, _ in mine})
        return max(own, key=lambda one: len(self._makers(key, names, one, without=maker)))

    def _makers(self, key: str, names: Declared, format_: str | None, without: str = "") -> dict[str, FloatArray]:
        """Return the vote of each maker that declares this, but one."""
        grades = defaultdict[str, list[float]](list)
        for (maker, _), some in self._lots[key, names].items():
            if maker != without:
                grades[maker] += _lot_grades(some, format_)
        return {maker: votes(some) for maker, some in grades.items() if some}

    def _elsewhere(self, key: str, names: Declared, format_: str | None) -> dict[Declared, FloatArray]:
        """Return the predictive of each declaration that shares no pigment with this one."""
        found = {}
        for kind in self._kinds[key]:
            if not set(kind) & set(names):
                place = key, format_, kind
                if place not in self._predictives:
                    some = self._makers(key, kind, format_)
                    self._predictives[place] = (
                        predictive(list(some.values()), self._near[key]) if some else np.empty(0)
                    )
                if len(self._predictives[place]):
                    found[kind] = self._predictives[place]
        return found

    def _differs_within(self, key: str, names: Declared, format_: str | None) -> bool:
        """Say whether two paints of one maker that declare the same lie apart: then grades of the pigment do."""
        middles = defaultdict(list)
        for (maker, _), some in self._lots[key, names].items():
            if grades := _lot_grades(some, format_):
                middles[maker].append(median(grades))
        return any(max(some) - min(some) >= APART for some in middles.values())

    def _shared(self, traits: Iterable[TraitBeside]) -> tuple[TraitBeside, ...]:
        """Return traits, the most telling first, with what counts: those with one cause count together as one."""
        by_cause = defaultdict(list)
        for one in traits:
            by_cause[self._criteria[one.criterion].shares_cause or one.criterion].append(one)
        shared = (one._replace(counted=one.found.bits / len(some)) for some in by_cause.values() for one in some)
        return tuple(sorted(shared, key=lambda one: (-one.counted, one.criterion)))


def _nearest(asked: Sequence[_Asked]) -> tuple[tuple[Declared, float], ...]:
    """Return declarations by how well they predict the traits that drive, those graded on each, nearest first."""
    if len(asked) < LEAST_TRAITS:
        return ()
    kinds = set.intersection(*(set(one.elsewhere) for one in asked))
    near = {
        kind: sum(trait_bits(one.ours, one.peers, [one.elsewhere[kind]], one.near).bits for one in asked)
        for kind in kinds
    }
    return tuple(sorted(near.items(), key=lambda one: (-one[1], one[0])))


def _lot_grades(lots: Mapping[tuple[str, Hashable], Sequence[float]], format_: str | None) -> list[float]:
    """Return the middle grade of each lot in a format; None for any."""
    return [median_low(grades) for (in_format, _), grades in lots.items() if format_ in (None, in_format)]


def _apart(paints: Mapping[tuple[str, str], Mapping[tuple[str, Hashable], Sequence[float]]]) -> Iterator[float]:
    """Yield for each maker how far its lots lie from the others' middle, in grades, their root mean square.

    Nothing where there are not two others.
    """
    by_maker = defaultdict[str, list[float]](list)
    for (maker, _), some in paints.items():
        by_maker[maker] += _lot_grades(some, None)
    for maker, grades in by_maker.items():
        rest = [median(some) for other, some in by_maker.items() if other != maker]
        if len(rest) > 1:
            yield sqrt(fmean((grade - median(rest)) ** 2 for grade in grades))


def _levelled(seen: Sequence[TraitLook]) -> list[TraitLook]:
    """Return what was graded, without what a sitting and then a maker does to all of its paints alike."""
    for side in ("sitting", "maker"):
        seen = list(_moved(seen, side))
    return list(seen)


def _moved(seen: Sequence[TraitLook], side: str) -> Iterator[TraitLook]:
    """Move each grade by how far the other paints of its sitting, or maker, lie from their kinds in the median."""
    middles, apart = (
        _middles(seen),
        defaultdict[tuple[str, Hashable], dict[str, list[float]]](lambda: defaultdict(list)),
    )
    for one in seen:
        distance = one.grade - middles[one.criterion, one.declared]
        apart[one.criterion, getattr(one, side)][one.paint].append(distance)
    by_paint = {place: {paint: median(some) for paint, some in of.items()} for place, of in apart.items()}
    moves: dict[tuple[str, Hashable, str], float] = {}
    for one in seen:
        place = one.criterion, getattr(one, side), one.paint
        if place not in moves:
            rest = [some for paint, some in by_paint[place[:2]].items() if paint != one.paint]
            moves[place] = round(median(rest) * 2) / 2 if len(rest) >= ENOUGH else 0.0
        yield one._replace(grade=min(max(one.grade - moves[place], 0.0), (CLASSES - 1) / 2))


def _middles(seen: Iterable[TraitLook]) -> dict[tuple[str, Declared], float]:
    """Return the middle of makers' middle grades, for each criterion and declaration."""
    grades: dict[tuple[str, Declared], dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for one in seen:
        grades[one.criterion, one.declared][one.maker].append(one.grade)
    return {place: median(map(median, of.values())) for place, of in grades.items()}
