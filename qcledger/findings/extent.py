"""How far a fault reaches: the rules, widest first, and the one decision made from them.

What holds for a pigment or a format at several makers is taken out before a maker is looked at, so it is never
charged to one. A claim that stands explains its faults; narrower rules look at what is left, except that a bad lot
is named even within a wider extent, because it stands out from sound lots of the same paint. A specimen that points
to something wider, settled or not, is not said to be a single one.

"Our own session" is not among the rules: a session that the control shows to have moved is voided by a decision, and
its observations are then no evidence at all.
"""

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from qcledger.findings import checks, free, maker, narrow, wide
from qcledger.findings.checks import at_least, percent
from qcledger.findings.field import CriterionField
from qcledger.findings.finding import Check, CheckName, Claim, FreeOf
from qcledger.findings.leaning import likeliest_first
from qcledger.findings.lots import TestedLot, faulty_specimens, sums
from qcledger.findings.pooled import Pooled
from qcledger.findings.strength import StrengthCheck
from qcledger.vocab import Extent, Standing


@dataclass(eq=False)
class Scorecard:
    """The cases of a scorecard; they are filled in once each of them is there."""

    cases: "tuple[Case, ...]" = ()

    @cached_property
    def common(self) -> int:
        """On how many criteria something is settled to be common to most makers, 1 at least.

        Only beside that is anybody praised, and where it is settled others' faults decide: so the level is shared
        over these.
        """
        return max(sum(free.may_share(case.field) and case.settled > 0 for case in self.cases), 1)


@dataclass(frozen=True)
class Case:
    """One criterion's field with what is already known of it across makers.

    Parameters
    ----------
    field
        Every lot.
    strength
        What says whether a maker's excess is beyond chance.
    criteria
        On how many criteria of the scorecard somebody may be accused.
    narrow
        On how many of them a paint, a parcel or a lot may be named.
    scorecard
        Every case of the scorecard, this one among them; None where this is the only one.
    """

    field: CriterionField
    strength: StrengthCheck
    criteria: int = 1
    narrow: int = 1
    scorecard: Scorecard | None = None

    @property
    def level(self) -> float:
        """The level at which it may name a paint, a parcel, or a lot by itself."""
        return checks.share_of(self.narrow)

    @cached_property
    def common(self) -> tuple[tuple[Claim, ...], tuple[Claim, ...]]:
        """Pigments, and formats apart from those pigments, that are like that at several makers, or may be."""
        pigments = tuple(_shown(self.field, wide.pigments(self.field)))
        return pigments, tuple(_shown(self.field, wide.formats(self.field.without(_held(pigments)))))

    @property
    def settled(self) -> int:
        """How many pigments and formats are settled to be like that."""
        return sum(claim.standing is Standing.SETTLED for claims in self.common for claim in claims)

    @cached_property
    def pigments(self) -> tuple[Claim, ...]:
        """Pigments that are like that at several makers, or may be, and who is free of it."""
        return self._with_free(self.common[0])

    @cached_property
    def formats(self) -> tuple[Claim, ...]:
        """The same of formats, apart from those pigments."""
        return self._with_free(self.common[1])

    def _with_free(self, claims: tuple[Claim, ...]) -> tuple[Claim, ...]:
        """Return claims, those that are settled with the makers that show nothing of it."""
        if not any(claim.standing is Standing.SETTLED for claim in claims):
            return claims
        level = free.level_of(self.scorecard.common if self.scorecard else 1) / self.settled
        return tuple(
            replace(claim, free=free.free_makers(self.field, claim, level))
            if claim.standing is Standing.SETTLED
            else claim
            for claim in claims
        )

    def free_of(self, maker_id: str, format_: str) -> tuple[FreeOf, ...]:
        """Return what is common to most makers and this maker is free of in a format, as far as that may be said."""
        return tuple(
            FreeOf(claim, one)
            for claim in (*self.pigments, *self.formats)
            for one in claim.free
            if one.earned and one.maker == maker_id and any(lot.row.format == format_ for lot in one.lots)
        )

    @cached_property
    def explained(self) -> frozenset[Hashable]:
        """The keys of the lots that a pigment or a format explains."""
        return _held((*self.pigments, *self.formats))

    @cached_property
    def rest(self) -> CriterionField:
        """The lots that neither a pigment nor a format explains."""
        return self.field.without(self.explained)

    @cached_property
    def held(self) -> CriterionField:
        """The lots that a pigment or a format explains."""
        return replace(self.field, shown=self.field.shown & ~self.rest.shown)

    @cached_property
    def accusations(self) -> tuple[Claim, ...]:
        """What is held against makers and their formats."""
        return tuple(_shown(self.field, maker.claims(self.rest, self.strength, self.criteria)))

    @cached_property
    def may_settle(self) -> list[bool]:
        """For each cell of the shelf, whether anything could be said of its faults; no rule need look elsewhere."""
        lots = narrow.may_settle(self.field, self.rest)
        for claim in (*self.pigments, *self.formats, *self.accusations):
            if claim.standing is not Standing.OPEN:
                lots[[self.field.shelf.key.number[lot.key] for lot in claim.lots]] = True
        cell, found = self.field.shelf.cell, lots & (self.field.faulty > 0)
        settles: list[bool] = (np.bincount(cell.of_lot[found], minlength=len(cell.names)) > 0).tolist()
        return settles


class Outcome(NamedTuple):
    """What was decided for one cell; see `Finding`."""

    standing: Standing
    claim: Claim | None
    exceptions: tuple[Claim, ...]
    checks: tuple[Check, ...]
    clears: bool = False


_WIDE, _MAKERS = (Extent.PIGMENT, Extent.FORMAT), (Extent.MAKER, Extent.MAKER_FORMAT)
Rule = Callable[[Case, Sequence[TestedLot]], Iterator[Claim]]
"""Yields the claims about a cell, from the lots of it that hold a faulty specimen."""


def _of_field(name: str) -> Rule:
    """Return a rule that takes from the case's claims over the field what concerns a cell."""

    def rule(case: Case, bad: Sequence[TestedLot]) -> Iterator[Claim]:
        claims: tuple[Claim, ...] = getattr(case, name)
        faulty = faulty_specimens(bad) if claims else frozenset()
        for claim in claims:
            if concerned := claim.explained & faulty:
                yield replace(claim, explained=concerned)

    return rule


def _of_rest(rule: Callable[[CriterionField, Sequence[TestedLot]], Iterator[Claim]]) -> Rule:
    """Return a rule that looks only at lots which neither a pigment nor a format explains."""
    return lambda case, bad: _shown(
        case.field, rule(case.rest, [lot for lot in bad if lot.key not in case.explained])
    )


def paints(case: Case, bad: Sequence[TestedLot]) -> Iterator[Claim]:
    """Yield the paints behind the faults of a cell: where nothing wider explains them, and beyond what does."""
    rest = [lot for lot in bad if lot.key not in case.explained]
    explained = [lot for lot in bad if lot.key in case.explained]
    yield from _shown(case.field, narrow.paints(case.rest, rest, case.level))
    yield from _shown(case.field, narrow.paints_beyond(case.field, case.held, explained, case.level))


def parcels(case: Case, bad: Sequence[TestedLot]) -> Iterator[Claim]:
    """Yield what goes no further than one purchase, where nothing wider explains it."""
    rest = [lot for lot in bad if lot.key not in case.explained]
    yield from _shown(case.field, narrow.parcels(case.rest, rest, case.level))


def lots(case: Case, bad: Sequence[TestedLot]) -> Iterator[Claim]:
    """Yield the bad lots, also within what is wider."""
    yield from _shown(case.field, narrow.lots(case.field, bad, case.level))


def _of_all(rule: Callable[[CriterionField, Sequence[TestedLot]], Iterator[Claim]]) -> Rule:
    """Return a rule that looks at every lot."""
    return lambda case, bad: _shown(case.field, rule(case.field, bad))


def _shown(field: CriterionField, claims: Iterable[Claim]) -> Iterator[Claim]:
    """Yield claims, not settled where the grades behind them only compare paints with other makers'."""
    if not field.criterion.by_comparison:
        yield from claims
        return
    worst = max(field.criterion.grades)
    for claim in claims:
        faulty = [unit for lot in claim.lots for unit in lot.units if unit.row.specimen in claim.explained]
        at_worst = sum((unit.grade or 0) >= worst for unit in faulty)
        found, needed = f"{at_worst} of {len(faulty)} at grade {worst:g}", f"each at grade {worst:g}"
        check = Check(CheckName.SHOWN, at_worst == len(faulty), found, needed, missing=len(faulty) - at_worst)
        asked = (*claim.checks, check)
        yield replace(claim, checks=asked, standing=checks.standing_of(asked) or claim.standing)


RULES: tuple[Rule, ...] = (
    _of_field("pigments"),
    _of_field("formats"),
    _of_field("accusations"),
    paints,
    parcels,
    lots,
    _of_rest(narrow.specimens),
    _of_all(narrow.critical),
)
"""What may explain a fault, in the order in which it is asked."""


def decide(case: Case, maker_id: str, format_: str, upper_limit: float, pooled: Pooled | None = None) -> Outcome:
    """Return how far the faults of one cell reach, and how firmly that may be said.

    Parameters
    ----------
    case
        The criterion's case.
    maker_id, format_
        The cell, of which nothing need have been tested.
    upper_limit
        Highest rate that its lots still allow, one-sided 95 %, lot-aware.
    pooled
        What the pooled model says on the criterion, to tell which of two open explanations is the likelier.

    Notes
    -----
    A cell is led by the claim that explains most of its faults, the widest of those that explain as many. A pigment
    or a format leads only where what it leaves over is no more than the peers show: else one bad pigment would clear
    a maker whose other paints are bad.
    """
    cell = case.field.shelf.cell.number.get((maker_id, format_))
    none_found = tuple(_none_found(case, maker_id, cell, upper_limit))
    if praised := [one.maker for one in case.free_of(maker_id, format_) if one.maker.extent is Extent.FORMAT]:
        none_found = praised[0].checks  # whatever is usual elsewhere, it is far below what its format shows
    low = all(check.met for check in none_found)
    later = list(_shown(case.field, narrow.seen_later(case.field, maker_id, format_)))
    if low and not later and not (cell is not None and case.may_settle[cell]):
        return Outcome(Standing.NONE_FOUND, None, (), none_found)
    reached, pointed, open_ = _explain(case, cell)
    reached += later
    if reached:
        unsettled = likeliest_first(pointed, open_, (maker_id, format_), pooled)
        return _led(case, cell, reached, unsettled, none_found)
    if low:
        return Outcome(Standing.NONE_FOUND, None, (), none_found)
    return _open(likeliest_first(pointed, open_, (maker_id, format_), pooled), (), none_found)


def _led(
    case: Case, cell: int | None, reached: list[Claim], unsettled: Sequence[Claim], none_found: tuple[Check, ...]
) -> Outcome:
    """Return the outcome of a cell with claims that stand; the rest of its faults points to `unsettled`."""
    bad = faulty_specimens(_faulty_lots(case.field, cell))
    reached.sort(key=lambda claim: -len(claim.explained & bad))
    if reached[0].standing is not Standing.SETTLED:  # what may concern health does not wait for it
        reached.sort(key=lambda claim: not claim.critical)
    first, *others = reached
    left = bad.difference(*(claim.explained for claim in reached))
    clears = not any(claim.extent in _MAKERS for claim in reached) and _is_usual(case, cell, reached, left)
    if first.extent in _WIDE and not _is_usual(case, cell, reached, left):
        return _open(unsettled, tuple(reached), none_found)
    return Outcome(first.standing, first, (*others, *unsettled), first.checks, clears)


def _open(leaning: Sequence[Claim], beside: tuple[Claim, ...], none_found: tuple[Check, ...]) -> Outcome:
    """Return the outcome of a cell that stays open: what it points to first, then what is said beside that."""
    if leaning:
        return Outcome(Standing.OPEN, leaning[0], (*beside, *leaning[1:]), leaning[0].checks)
    return Outcome(Standing.OPEN, None, beside, none_found)


def _is_usual(case: Case, cell: int | None, reached: Sequence[Claim], left: frozenset[str]) -> bool:
    """Say whether the faults that no claim explains are no more than the other makers show, or a stray one."""
    if not left or cell is None:
        return True
    spoken = {lot.key for claim in reached for lot in claim.lots}
    rest = [
        lot
        for lot in case.field.some(case.field.shelf.cell.lots[cell])
        if lot.key not in spoken or faulty_specimens([lot]) & left
    ]
    tested, maker_id = sums(rest)[1], rest[0].row.maker
    usual = min(case.rest.rate_without(maker_id) or 0.0, checks.FIELD_CAP)
    is_stray = len(left) == 1 and tested > checks.MIN_SOUND_IN_LOT
    return is_stray or len(left) / tested - usual <= checks.DELTA


def _explain(case: Case, cell: int | None) -> tuple[list[Claim], list[Claim], frozenset[str]]:
    """Return the claims that stand, those that are only pointed to, and the faulty specimens left unexplained."""
    bad = _faulty_lots(case.field, cell)
    open_ = faulty_specimens(bad)
    reached: list[Claim] = []
    pointed: list[Claim] = []
    rules = RULES if open_ else ()
    for claim in (claim for rule in rules for claim in rule(case, bad)):
        if claim.standing is Standing.OPEN:
            if claim.explained & open_:
                pointed.append(claim)
        elif _is_one_of_more(claim, pointed):
            continue
        elif claim.explained & open_ or _is_exception(case, claim):
            reached.append(claim)
            open_ -= claim.explained
    return reached, pointed, open_


def _is_exception(case: Case, claim: Claim) -> bool:
    """Say whether a claim was tested beyond whatever wider one explains it, or is said in any case."""
    beyond = claim.extent is Extent.PAINT and claim.lots[0].key in case.explained
    return beyond or claim.critical or claim.extent is Extent.LOT


def _is_one_of_more(claim: Claim, pointed: Sequence[Claim]) -> bool:
    """Say whether a specimen is one of several that point to something wider: then it is not said to be single."""
    single = claim.extent is Extent.SPECIMEN and not claim.critical
    return single and any(claim.explained & wider.explained for wider in pointed)


def _faulty_lots(field: CriterionField, cell: int | None) -> tuple[TestedLot, ...]:
    """Return the lots of a cell that hold a faulty specimen."""
    if cell is None:
        return ()
    numbers = field.shelf.cell.lots[cell]
    return field.some(numbers[field.faulty[numbers] > 0])


def _held(claims: Sequence[Claim]) -> frozenset[Hashable]:
    """Return the keys of the lots that a settled claim speaks of."""
    return frozenset(lot.key for claim in claims if claim.standing is Standing.SETTLED for lot in claim.lots)


def _none_found(case: Case, maker_id: str, cell: int | None, upper_limit: float) -> Iterator[Check]:
    """Yield what "none found" needs: the cell's own specimens and lots, and a low enough limit from them alone."""
    counts = case.field.cells
    tested, lots = (0, 0) if cell is None else (int(counts.tested[cell]), int(counts.lots[cell]))
    yield at_least(CheckName.SPECIMENS, tested, checks.MIN_NONE_SPECIMENS)
    yield at_least(CheckName.LOTS, lots, checks.MIN_NONE_LOTS)
    limit = checks.sound_below(case.rest.rate_without(maker_id) or 0.0)
    yield Check(
        CheckName.UPPER_LIMIT, upper_limit < limit, f"up to {percent(upper_limit)}", f"below {percent(limit)}"
    )
