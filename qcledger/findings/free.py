"""Free of what most others show: praise, as hard to earn as an accusation, and said only beside what is common.

A pigment or a format is named because most makers that can tell show a fault in it. A maker none of whose specimens
in it shows the fault, at whatever look, may be free of it, or lucky. It is said to be free only where exchanging lots
with its peers would hardly ever leave it so, at a level shared over everybody who could be praised on any criterion;
and where that does not hang on one lot, one parcel, one seller, one session, or two other makers.

It is never a list of its own: where nothing is common to most makers, more sound specimens praise nobody.
"""

from collections.abc import Callable, Iterator, Sequence
from typing import Final

import numpy as np

from qcledger.findings import checks
from qcledger.findings.checks import at_least, beyond_chance, chance
from qcledger.findings.columns import Ints
from qcledger.findings.evidence import CellKey, SetAside, Unit, side_by_side, sitting_of
from qcledger.findings.field import CriterionField
from qcledger.findings.finding import Check, CheckName, Claim, FreeMaker, Need
from qcledger.findings.lots import TestedLot, kind_of, lot_key, lot_of, units_of
from qcledger.findings.strength import exchange_p
from qcledger.vocab import Extent, WhyBought

PRAISE: Final = 0.02
"""Chance that a scorecard praises anybody who is no better than the others, over its criteria."""
LEFT_OUT_LEVEL: Final = 0.05
"""Level of the same test with one thing left out: the rest must still say it, not as firmly again."""
_FEW: Final = 2
"""Other makers that are left out together: those that show it most."""
Keep = Callable[[Unit], bool]


def may_share(field: CriterionField) -> bool:
    """Say whether a criterion could have something that is common to most makers: faults at makers enough."""
    maker = field.shelf.maker
    return int(np.count_nonzero(maker.sums(field.faulty))) >= checks.MIN_FIELD_MAKERS


def level_of(criteria: int) -> float:
    """Return the level at which one of so many criteria may praise anybody."""
    return PRAISE / max(criteria, 1)


def free_makers(field: CriterionField, claim: Claim, level: float) -> tuple[FreeMaker, ...]:
    """Return the makers that are free of what a settled claim says of a pigment or a format.

    Parameters
    ----------
    field
        Every lot on the criterion.
    claim
        What most makers show.
    level
        For everybody who could be praised beside this claim, together.
    """
    groups = [_own(field, claim, number) for number in range(len(field.shelf.maker.names))]
    large = [own for own in groups if _is_large(field.some(own))]
    clean = (own for own in large if not field.faulty[own].any())
    found = (_asked(field, claim, own, level, len(large)) for own in clean)
    return tuple(one for one in found if one is not None)


def _own(field: CriterionField, claim: Claim, maker: int) -> Ints:
    """Return the numbers of a maker's lots with the pigment or in the format."""
    shelf = field.shelf
    column, name = (
        (shelf.group, claim.subject) if claim.extent is Extent.PIGMENT else (shelf.format, claim.subject[0])
    )
    number = column.number.get(name)
    mine = (shelf.maker.of_lot == maker) & (field.tested > 0)
    return np.flatnonzero(mine & (column.of_lot == number)) if number is not None else np.zeros(0, np.intp)


def _is_large(lots: Sequence[TestedLot]) -> bool:
    return all(check.met for check in _size(lots))


def _size(lots: Sequence[TestedLot]) -> tuple[Check, ...]:
    """Return whether there is enough to praise anybody for, whatever it showed."""
    units = list(units_of(lots))
    return (
        at_least(CheckName.SPECIMENS, len(units), checks.MIN_NONE_SPECIMENS),
        at_least(CheckName.LOTS, sum(lot.coded for lot in lots), checks.MIN_LOTS),
        at_least(CheckName.PARCELS, len({unit.row.parcel for unit in units}), checks.MIN_PARCELS),
    )


def _asked(field: CriterionField, claim: Claim, own: Ints, level: float, among: int) -> FreeMaker | None:
    """Return a maker that shows nothing of it with what it was put to; None where a later look showed it."""
    lots = field.some(own)
    first = lots[0].row
    if _seen_later(field, lots):
        return None
    mine, others = (_planned(some) for some in (lots, field.some(field.peer_numbers(own))))
    p = _p(mine, others)
    shared = side_by_side(mine, (unit for unit in others if unit.faulty))
    sessions = at_least(CheckName.SESSIONS, len(shared), checks.MIN_SESSIONS)
    beyond = beyond_chance(p, min(p * among, 1.0), "Bonferroni", among, level)
    asked = [*_size(lots), sessions, beyond]
    asked.append(_left_out(mine, others) if beyond.met else _untried())
    return FreeMaker(
        first.maker,
        first.maker_name,
        claim.extent,
        claim.subject,
        lots,
        tuple(asked),
        _older(field, lots),
        claim.group,
    )


def _seen_later(field: CriterionField, lots: Sequence[TestedLot]) -> bool:
    """Say whether a further look at one of these specimens showed the fault."""
    mine = {unit.row.specimen for unit in units_of(lots)}
    again = field.evidence.faulty_again
    cells = {CellKey(field.criterion.key, lot.row.maker, lot.row.format) for lot in lots}
    return any(unit.row.specimen in mine for cell in cells for unit in again.get(cell, ()))


def _older(field: CriterionField, lots: Sequence[TestedLot]) -> tuple[int, int]:
    """Return how many specimens of older notes a maker has of the kinds of its lots, and how many showed it."""
    maker, kinds = lots[0].row.maker, {lot.kind for lot in lots}
    told = [
        one.unit
        for one in field.evidence.aside
        if one.reason is SetAside.OLDER_NOTES
        and one.unit.row.criterion == field.criterion.key
        and one.unit.row.maker == maker
        and (kind_of(one.unit.row) in kinds or not one.unit.row.peer_group)
        and one.unit.row.format in {lot.row.format for lot in lots}
    ]
    return len(told), sum(bool(unit.faulty) for unit in told)


def _planned(lots: Sequence[TestedLot]) -> list[Unit]:
    """Return what was bought as planned: what was bought for its looks is no sample, whichever way it came out."""
    return [unit for unit in units_of(lots) if unit.row.why is WhyBought.PLANNED]


def _p(mine: Sequence[Unit], others: Sequence[Unit]) -> float:
    """Return how often exchanging lots with the peers would leave this maker's as sound as they are."""
    return exchange_p(_sound(mine), _sound(others), lambda lot: lot.kind)


def _sound(units: Sequence[Unit]) -> Iterator[TestedLot]:
    """Yield the lots of some units with sound and faulty exchanged."""
    lots: dict[tuple[str, str, str], list[Unit]] = {}
    for unit in units:
        lots.setdefault(lot_key(unit.row), []).append(unit)
    for some in lots.values():
        lot = lot_of(some)
        yield lot._replace(faulty=lot.tested - lot.faulty)


def _untried() -> Check:
    return Check(CheckName.LEFT_OUT, False, "not asked", _needed(), Need.EVIDENCE)


def _needed() -> str:
    return f"p {LEFT_OUT_LEVEL:g} or less, whatever one thing is left out"


def _left_out(mine: Sequence[Unit], others: Sequence[Unit]) -> Check:
    """Return whether it is still said without any one lot, parcel, seller, session, or two other makers."""
    worst, without = max(
        (_p([one for one in mine if keep(one)], [one for one in others if keep(one)]), what)
        for what, keep in _each_left_out(mine, others)
    )
    return Check(CheckName.LEFT_OUT, worst <= LEFT_OUT_LEVEL, f"{chance(worst)} without {without}", _needed())


def _each_left_out(mine: Sequence[Unit], others: Sequence[Unit]) -> Iterator[tuple[str, Keep]]:
    """Yield what is left out, one thing at a time, and what is kept then."""
    facts: tuple[tuple[str, Callable[[Unit], object]], ...] = (
        ("one lot", lambda unit: lot_key(unit.row)),
        ("one parcel", lambda unit: unit.row.parcel),
        ("one seller", lambda unit: unit.row.seller),
        ("one session", lambda unit: sitting_of(unit.row)),
    )
    for what, fact in facts:
        for value in dict.fromkeys(map(fact, mine)):
            yield what, lambda unit, fact=fact, value=value: fact(unit) != value  # type: ignore[misc]
    tested: dict[str, list[Unit]] = {}
    for unit in others:
        tested.setdefault(unit.row.maker, []).append(unit)
    by_share = sorted(tested, key=lambda one: -sum(bool(unit.faulty) for unit in tested[one]) / len(tested[one]))
    gone = frozenset(by_share[:_FEW])
    yield "two other makers", lambda unit: unit.row.maker not in gone
