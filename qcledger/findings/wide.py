"""What holds across makers: a pigment that is like that, a format that is like that. It accuses nobody.

Where a rubric takes something else to make peers, that stands in the place of the pigment.

Counts and an exact test decide, which anyone can redo, over all pigments (formats) that enough makers have. The
calibration of the guide measures these very rules.
"""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from qcledger.findings import checks
from qcledger.findings.checks import at_least, beyond_chance, percent, together
from qcledger.findings.columns import Ints, LotFact
from qcledger.findings.field import CriterionField
from qcledger.findings.finding import Check, CheckName, Claim, Need
from qcledger.findings.lots import TestedLot, faulty_specimens, units_of
from qcledger.findings.strength import exchange_p
from qcledger.stats.check import FloatArray
from qcledger.stats.multiple import holm
from qcledger.vocab import Extent


@dataclass(frozen=True, slots=True)
class _Reading:
    """How a kind of group is read: its extent, and what must be equal to compare fairly."""

    extent: Extent
    beside: Callable[[TestedLot], Hashable]


_PIGMENT = _Reading(Extent.PIGMENT, lambda lot: (lot.row.maker, lot.row.format))
_FORMAT = _Reading(Extent.FORMAT, lambda lot: (lot.row.maker, lot.group or lot.row.paint))


def pigments(field: CriterionField) -> tuple[Claim, ...]:
    """Return what is laid to a pigment: more makers show it with that pigment than are free of it, and few others."""
    return _claims(_PIGMENT, field, field.shelf.group, field.shelf.group.names)


def formats(field: CriterionField) -> tuple[Claim, ...]:
    """Return what is laid to a format: more makers show it in that format than are free of it, in others few do."""
    column = field.shelf.format
    return _claims(_FORMAT, field, column, [(str(name),) for name in column.names])


def _claims(
    reading: _Reading, field: CriterionField, groups: LotFact, subjects: Sequence[tuple[str, ...]]
) -> tuple[Claim, ...]:
    """Return a claim for each group whose pattern is there; one without a name, as of no pigment, is passed over."""
    faulty, tested = _by_maker(field, groups, field.faulty), _by_maker(field, groups, field.tested)
    outside = _Makers(*(np.where(tested > 0, one.sum(axis=0) - one, 0) for one in (faulty, tested)))
    sides, likely = _Sides(_Makers(faulty, tested), outside), {}
    worth_it = sides.most_show & (sides.inside.rate - outside.rate > checks.DELTA)
    for number in np.flatnonzero(worth_it).tolist():
        if pattern := subjects[number] and checks.if_pattern(_pattern(sides.of(number, tested[number] > 0))):
            lots = field.some(groups.lots[number])
            others = _others(field, lots)
            side_by_side = tuple(together(units_of(lots), units_of(others)))
            likely[subjects[number]] = (lots, (*pattern, *side_by_side), exchange_p(lots, others, reading.beside))
    raw = [p for *_, p in likely.values()]
    # Whoever picks the pigments that look bad has looked at all of them, so all of them are corrected over.
    widely = np.count_nonzero(tested, axis=1) >= checks.MIN_FIELD_MAKERS
    among = max(sum(bool(subject) for subject, wide in zip(subjects, widely, strict=True) if wide), len(raw))
    corrected = holm([*raw, *[1.0] * (among - len(raw))]).tolist()
    return tuple(
        replace(
            _claim(
                reading.extent, subject, lots, (*pattern, beyond_chance(p, after, "Holm", among, checks.WIDE_LEVEL))
            ),
            group=field.criterion.peers,
        )
        for (subject, (lots, pattern, p)), after in zip(likely.items(), corrected, strict=False)
    )


def _claim(extent: Extent, subject: tuple[str, ...], lots: tuple[TestedLot, ...], asked: tuple[Check, ...]) -> Claim:
    showing = next(int(check.found) for check in asked if check.name is CheckName.MAKERS_SHOWING)
    found = (*asked, at_least(CheckName.MAKERS, showing, checks.MIN_FIELD_MAKERS))
    standing = checks.standing_of(found)
    assert standing is not None  # every check of the pattern is met
    return Claim(extent, subject, lots, faulty_specimens(lots), found, standing)


def _by_maker(field: CriterionField, groups: LotFact, values: Ints) -> Ints:
    """Return the sums of `values`, a row for each group and a column for each maker."""
    maker = field.shelf.maker
    shape = len(groups.names), len(maker.names)
    flat = np.bincount(groups.of_lot * shape[1] + maker.of_lot, values, shape[0] * shape[1])
    return flat.reshape(shape).astype(np.intp)


def _others(field: CriterionField, inside: Sequence[TestedLot]) -> list[TestedLot]:
    """Return the other lots of the makers that have some inside."""
    makers, keys = dict.fromkeys(lot.row.maker for lot in inside), {lot.key for lot in inside}
    return [lot for maker in makers for lot in field.of(field.shelf.maker, maker) if lot.key not in keys]


@dataclass(frozen=True, slots=True)
class _Makers:
    """Faulty and tested specimens of each maker: of one group, shape (M,), or of each group, shape (G, M)."""

    faulty: Ints
    tested: Ints

    def of(self, group: int, makers: NDArray[np.bool_]) -> "_Makers":
        """Return those of one group, of some makers only."""
        return _Makers(self.faulty[group][makers], self.tested[group][makers])

    @property
    def rate(self) -> FloatArray:
        """Share of faulty specimens; not a number where nothing was tested."""
        faulty, tested = self.faulty.sum(axis=-1), self.tested.sum(axis=-1)
        return np.where(tested > 0, faulty / np.maximum(tested, 1), np.nan)

    @property
    def mostly(self) -> Ints:
        """How many makers show it in half of their specimens or more."""
        return _number((self.tested > 0) & (self.faulty >= checks.MOST * self.tested))

    def without(self, gone: Ints) -> FloatArray:
        """Return one group's rate without some makers, shape (N, how many); not a number where nothing is left."""
        faulty, tested = (some.sum() - some[gone].sum(axis=1) for some in (self.faulty, self.tested))
        return np.where(tested > 0, faulty / np.maximum(tested, 1), np.nan)

    @property
    def each(self) -> FloatArray:
        """Share of each maker's specimens that are faulty; not a number where nothing was tested."""
        return np.where(self.tested > 0, self.faulty / np.maximum(self.tested, 1), np.nan)


class _Sides(NamedTuple):
    """The same makers inside a group, or each group, and outside it."""

    inside: _Makers
    outside: _Makers

    def of(self, group: int, makers: NDArray[np.bool_]) -> "_Sides":
        """Return those of one group, of some makers only."""
        return _Sides(self.inside.of(group, makers), self.outside.of(group, makers))

    @property
    def show(self) -> NDArray[np.bool_]:
        """Which makers show it: a rate inside well above their own outside, for a bad maker is bad everywhere."""
        above: NDArray[np.bool_] = self.inside.each - self.outside.each > checks.DELTA  # never where one is not known
        return above

    @property
    def showing(self) -> Ints:
        """How many makers show it."""
        return _number(self.show)

    @property
    def free(self) -> Ints:
        """How many makers do not; of those with too few specimens to tell, so many specimens are one maker."""
        others = (self.outside.tested > 0) & ~self.show
        often = self.inside.tested >= checks.MIN_TO_CLEAR
        few: Ints = np.where(others & ~often, self.inside.tested, 0).sum(axis=-1)
        return _number(often & others) + few // checks.MIN_TO_CLEAR

    @property
    def most_show(self) -> NDArray[np.bool_]:
        """Whether more makers show it than are free of it, and two at least."""
        return self.showing > np.maximum(self.free, 1)


def _number(makers: NDArray[np.bool_]) -> Ints:
    """Return how many of the makers along the last axis are meant."""
    number: Ints = makers.sum(axis=-1)
    return number


def _pattern(sides: _Sides) -> tuple[Check, Check, Check]:
    """Return whether more makers show it inside than not, whether few do outside, and whether no two carry it."""
    needed = f"2 or more, and more than the {sides.free} that are free of it"
    showing = Check(CheckName.MAKERS_SHOWING, bool(sides.most_show), str(sides.showing), needed, Need.PATTERN)
    return showing, _contrast(*sides), _whoever_is_left_out(*sides)


def _contrast(inside: _Makers, outside: _Makers) -> Check:
    rate, rest = float(inside.rate), float(outside.rate)
    far = rate - rest > checks.DELTA and bool(outside.mostly <= checks.MOST * len(inside.tested))
    found = "nothing beside it" if np.isnan(rest) else f"{percent(rate)} beside {percent(rest)}"
    return Check(CheckName.CONTRAST, far, found, f"more than {percent(checks.DELTA)} above the rest", Need.PATTERN)


def _whoever_is_left_out(inside: _Makers, outside: _Makers) -> Check:
    """Return whether half of the contrast is left without any two makers: two bad makers are not the format.

    Of fewer makers than a claim needs one is left out, to tell whether more would be worth buying.
    """
    makers = len(inside.tested)
    enough = makers >= checks.MIN_FIELD_MAKERS
    gone = np.stack(np.triu_indices(makers, 1), axis=1) if enough else np.c_[:makers]
    least = float(np.min(inside.without(gone) - outside.without(gone), initial=1.0))
    found = "nobody else" if np.isnan(least) else f"{percent(least)} above"
    whoever = "two makers are" if enough else "maker is"
    needed = f"more than {percent(checks.DELTA / 2)} above, whichever {whoever} left out"
    return Check(CheckName.ANY_MAKERS_OUT, least > checks.DELTA / 2, found, needed, Need.PATTERN)
