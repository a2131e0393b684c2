"""Accusing a maker, or a maker's format: a pattern over its paints and lots, against its peers, confirmed anew.

Only what was bought as planned makes the pattern and the minimum evidence. What was bought because something looked
bad can bear an accusation out, never make one.
"""

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from qcledger.findings import checks
from qcledger.findings.checks import at_least, percent
from qcledger.findings.columns import Ints
from qcledger.findings.evidence import NEAR, Sitting, Unit
from qcledger.findings.field import CriterionField, Sums
from qcledger.findings.finding import Chance, Check, CheckName, Claim, Need
from qcledger.findings.lots import TestedLot, faulty_parcels, faulty_specimens
from qcledger.findings.spread import over_paints, over_parcels, worst_paints
from qcledger.findings.strength import Family, StrengthCheck, Suspect, tail_p
from qcledger.thing import worded
from qcledger.vocab import Extent, Nature, WhyBought


@dataclass(frozen=True, slots=True)
class _Accusation:
    """A suspect with its planned lots, the checks of its pattern, and whether it has paints and lots enough."""

    suspect: Suspect
    lots: tuple[TestedLot, ...]
    pattern: tuple[Check, ...]
    large: bool


def claims(field: CriterionField, strength: StrengthCheck, criteria: int = 1) -> tuple[Claim, ...]:
    """Return what is held against makers and their formats, the wider first, where the pattern is there.

    Parameters
    ----------
    field
        The lots that no pigment and no format explains.
    strength
        Is asked once, about all suspects with paints and lots enough to be accused. The family it corrects over is
        everybody who has as many, faulty or not.
    criteria
        On how many criteria of the scorecard somebody may be accused.
    """
    planned = field.as_planned
    groups = ((field.shelf.maker.names, planned.makers), (field.shelf.cell.names, planned.cells))
    accused = [case for names, counts in groups for case in _accusations(planned, names, counts)]
    if not accused:
        return ()
    family = sum(int(_large(counts).sum()) for _, counts in groups)
    answers = iter(strength(field, [case.suspect for case in accused if case.large], Family(family, criteria)))
    untold = Check(CheckName.BEYOND_CHANCE, False, worded("too few paints or lots to compare"), "enough of both")
    told = (next(answers) if case.large else Chance((untold,), 1.0) for case in accused)
    return tuple(_claim(field, planned, case, chance) for case, chance in zip(accused, told, strict=True))


def may_accuse(field: CriterionField) -> bool:
    """Say whether a criterion could accuse anybody, whoever its faults were at.

    Notes
    -----
    Somebody must have paints and lots enough, and faults in two lots of two paints must have been seen. A criterion
    without them needs no share of the level: Tarone 1990, Biometrics 46:515-522, for tests that cannot be passed.
    """
    planned = field.as_planned
    seen = min(planned.counts.faulty_lots, planned.counts.faulty_paints) >= checks.MIN_FAULTY
    return seen and bool(_large(planned.makers).any() or _large(planned.cells).any())


def _large(counts: Sums) -> NDArray[np.bool_]:
    """Return which groups have paints and lots enough to be accused, whatever their faults."""
    large: NDArray[np.bool_] = (counts.paints >= checks.MIN_PAINTS) & (counts.lots >= checks.MIN_LOTS)
    return large


def _accusations(
    field: CriterionField, names: Sequence[str | tuple[str, str]], counts: Sums
) -> Iterator[_Accusation]:
    """Yield the makers, or the makers' formats, whose pattern is there; most fall at the first two checks."""
    large = _large(counts).tolist()
    no_excess = counts.rate - counts.beside <= checks.DELTA  # not known where nobody stands beside
    for number in np.flatnonzero((counts.faulty_lots >= checks.MIN_FAULTY) & ~no_excess).tolist():
        name = names[number]
        maker, format_ = (name, None) if isinstance(name, str) else name
        faulty_lots = at_least(
            CheckName.FAULTY_LOTS, int(counts.faulty_lots[number]), checks.MIN_FAULTY, Need.PATTERN
        )
        first = (faulty_lots, _excess(counts, number))
        numbers = _numbers(field, maker, format_)
        lots = field.some(numbers)
        if rest := checks.if_pattern(_pattern(field, lots, format_)):
            yield _Accusation(Suspect(maker, format_, numbers), lots, (*first, *rest), large[number])


def _excess(counts: Sums, number: int) -> Check:
    """Return whether a group is worse than its peers, or than the other makers where there are no peers."""
    rate, other = counts.rate[number], counts.beside[number]
    needed = f"more than {percent(checks.DELTA)} above the other makers"
    if np.isnan(other):
        return Check(CheckName.EXCESS, False, "no other maker tested", needed)
    found = f"{percent(rate)} beside {percent(other)}"
    return Check(CheckName.EXCESS, bool(rate - other > checks.DELTA), found, needed, Need.PATTERN)


def _claim(field: CriterionField, planned: CriterionField, case: _Accusation, chance: Chance) -> Claim:
    suspect, lots = case.suspect, case.lots
    enough = (*_size(lots), _peers(planned, lots), _sessions(planned, suspect), _parcels(lots))
    every = field.some(_numbers(field, suspect.maker, suspect.format))
    worst = worst_paints(lots)
    spread = (over_paints(planned, suspect, worst), over_parcels(planned, lots))
    confirmed = _confirmed(planned, suspect, every, worst[0] if len(worst) == 1 else None)
    asked = (*case.pattern, *enough, *spread, *chance.checks, confirmed)
    standing = checks.standing_of(asked)
    assert standing is not None  # every check of the pattern is met
    name, format_ = lots[0].row.maker_name, suspect.format
    extent = Extent.MAKER if format_ is None else Extent.MAKER_FORMAT
    subject = (name,) if format_ is None else (name, str(format_))
    return Claim(extent, subject, every, faulty_specimens(every), asked, standing, chance)


def _numbers(field: CriterionField, maker: str, format_: str | None) -> Ints:
    """Return the numbers of the lots of a maker, or of its paints in one format."""
    shelf = field.shelf
    return field.numbers(shelf.maker, maker) if format_ is None else field.numbers(shelf.cell, (maker, format_))


def _pattern(field: CriterionField, lots: Sequence[TestedLot], format_: str | None) -> Iterator[Check]:
    """Yield what makes it this maker's: faults over its paints and purchases and, for the maker, its formats."""
    faulty = [lot for lot in lots if lot.faulty]
    yield at_least(CheckName.FAULTY_PAINTS, _different(faulty, "paint"), checks.MIN_FAULTY, Need.PATTERN)
    yield at_least(CheckName.FAULTY_PARCELS, len(faulty_parcels(faulty)), checks.MIN_FAULTY, Need.PATTERN)
    if format_ is None:
        yield at_least(CheckName.FAULTY_PIGMENTS, len(_groups(field, faulty)), checks.MIN_FAULTY, Need.PATTERN)
        yield at_least(CheckName.FAULTY_FORMATS, _different(faulty, "format"), checks.MIN_FAULTY, Need.PATTERN)
        yield _no_format_is_free(field, lots)


def shows_pattern(field: CriterionField, maker: str, format_: str | None) -> bool:
    """Say whether a maker, or one format of it, shows in plain numbers what it is accused of, bought as planned.

    That is: more than ten points above its peers, with faults in two lots and two paints.
    """
    planned = field.as_planned
    column, counts = (planned.shelf.maker, planned.makers) if format_ is None else (planned.shelf.cell, planned.cells)
    number = column.number.get(maker if format_ is None else (maker, format_))
    if number is None or counts.faulty_lots[number] < checks.MIN_FAULTY:
        return False
    lots = column.lots[number]
    paints = np.unique(planned.shelf.paint.of_lot[lots[planned.faulty[lots] > 0]])
    return len(paints) >= checks.MIN_FAULTY and _excess(counts, number).met


def _size(lots: Sequence[TestedLot]) -> tuple[Check, Check]:
    return (
        at_least(CheckName.PAINTS, _different(lots, "paint"), checks.MIN_PAINTS),
        at_least(CheckName.LOTS, sum(lot.coded for lot in lots), checks.MIN_LOTS),
    )


def _no_format_is_free(field: CriterionField, lots: Sequence[TestedLot]) -> Check:
    """Return whether each format tested often enough to tell shows the excess; one that is free of it narrows it."""
    free, maker = [], lots[0].row.maker
    for format_ in dict.fromkeys(lot.row.format for lot in lots):
        number = field.shelf.cell.number[maker, format_]
        often = field.cells.tested[number] >= checks.MIN_TO_CLEAR
        if often and not _excess(field.cells, number).met:
            free.append(str(format_))
    return Check(
        CheckName.OTHER_FORMATS, not free, ", ".join(free) or "none free of it", "none free of it", Need.PATTERN
    )


def _peers(field: CriterionField, lots: Sequence[TestedLot]) -> Check:
    """Return whether enough of the suspect's pigments were tested at enough other makers in the same format.

    Where its label does not say what makes peers, each of its paints counts, beside others that do not say it.
    """
    trait = field.criterion.nature is not Nature.FAULT
    least = checks.MIN_FIELD_MAKERS if trait else checks.MIN_PEER_MAKERS
    with_peers = len(_groups(field, (lot for lot in lots if field.makers_of_kind(lot.kind) - 1 >= least)) - {()})
    lacking = max(checks.MIN_PEER_PIGMENTS - with_peers, 0)
    needed = f"{checks.MIN_PEER_PIGMENTS} or more, each at {least} other makers in the same format"
    return Check(CheckName.PEERS, not lacking, str(with_peers), needed, missing=lacking)


def _groups(field: CriterionField, lots: Iterable[TestedLot]) -> set[Hashable]:
    """Return the different groups of some lots; where what says none has peers too, each such paint is one."""
    silent = field.criterion.peers.silent
    return {lot.group or (lot.row.paint if silent else ()) for lot in lots}


def _sessions(planned: CriterionField, suspect: Suspect) -> Check:
    """Return whether the suspect was faulty beside sound peers in two sessions, or so in two sittings of unpacking.

    In a session in which its peers are faulty too it may be the session. What is judged at unpacking hardly depends
    on the pigment, and parcels rarely hold everybody's: any sound piece of another maker that was unpacked near will
    do.
    """
    bad = planned.sittings(suspect.numbers, faulty=True)
    shared = bad & planned.sittings(planned.peer_numbers(suspect.numbers), faulty=False)
    unpacked = {one for one in bad if not one.at_bench}
    times = (shared - unpacked) | _unpacked_near(planned, suspect, unpacked)
    found = checks.sittings(times)
    needed = (
        f"{checks.MIN_SESSIONS} or more valid sessions with faults beside sound peers, or sittings of unpacking with "
        f"sound ones of other makers unpacked within {NEAR.days} days"
    )
    lacking = max(checks.MIN_SESSIONS - len(times), 0)
    return Check(CheckName.SESSIONS, not lacking, found, needed, missing=lacking)


def _unpacked_near(planned: CriterionField, suspect: Suspect, unpacked: set[Sitting]) -> set[Sitting]:
    """Return the sittings of unpacking near which sound pieces of other makers were unpacked."""
    if not unpacked:
        return set()
    days, sound = planned.evidence.day_of, planned.sittings(_others(planned, suspect), faulty=False)
    near = [days[one] for one in sound if not one.at_bench]
    return {one for one in unpacked if any(abs(days[one] - day) <= NEAR for day in near)}


def _others(planned: CriterionField, suspect: Suspect) -> Ints:
    """Return the numbers of all other makers' lots in the suspect's formats."""
    maker, format_ = planned.shelf.maker.of_lot, planned.shelf.format.of_lot
    first, alike = suspect.numbers[0], np.isin(format_, format_[suspect.numbers])
    return np.flatnonzero((maker != maker[first]) & alike & (planned.tested > 0))


def _parcels(lots: Sequence[TestedLot]) -> Check:
    parcels = {unit.row.parcel for lot in lots for unit in lot.units}
    return at_least(CheckName.PARCELS, len(parcels), checks.MIN_PARCELS)


def _confirmed(planned: CriterionField, suspect: Suspect, lots: Sequence[TestedLot], worst: str | None) -> Check:
    """Return whether specimens bought to confirm bear it out on their own.

    They are of other lots from other sellers, and not of the paint with the most faults: more of that would only say
    again that this paint is bad.
    """
    fresh = bought_to_confirm(lots, worst)
    faulty = sum(bool(unit.faulty) for unit in fresh)
    met = bears_out(by_lot(fresh), usual_of_peers(planned, suspect.numbers))
    needed = (
        f"{checks.MIN_TO_CONFIRM} or more faulty, of another lot from another seller, not of its worst "
        f"{worded('paint')}, beyond the peers' rate"
    )
    lacking = max(checks.MIN_TO_CONFIRM - len(fresh), 0)
    found = f"{faulty} of {len(fresh)}" if fresh else "none"
    return Check(CheckName.CONFIRMED, met, found, needed, Need.CONFIRMATION, lacking)


def bought_to_confirm(lots: Sequence[TestedLot], worst: str | None) -> list[Unit]:
    """Return the specimens that can bear an accusation out: of other lots from other sellers, not of `worst`."""
    units = [unit for lot in lots for unit in lot.units]
    first = [unit.row for unit in units if unit.row.why is not WhyBought.TO_CONFIRM]
    known: set[Hashable] = {row.lot for row in first}
    sellers = {unit.row.seller for unit in units if unit.faulty and unit.row.why is not WhyBought.TO_CONFIRM}
    return [
        unit
        for unit in units
        if unit.row.why is WhyBought.TO_CONFIRM
        and unit.row.lot is not None
        and unit.row.lot not in known
        and unit.row.seller not in sellers
        and unit.row.paint != worst
    ]


def by_lot(units: Sequence[Unit]) -> tuple[tuple[int, int], ...]:
    """Return faulty and tested specimens of each of their lots."""
    tested, faulty = Counter(unit.row.lot for unit in units), Counter(unit.row.lot for unit in units if unit.faulty)
    return tuple((faulty[lot], count) for lot, count in tested.items())


def usual_of_peers(planned: CriterionField, numbers: Ints) -> float:
    """Return the rate of the peers of some lots, never 0: Laplace's rule of succession."""
    peers = planned.peer_numbers(numbers)
    return (int(planned.faulty[peers].sum()) + 1) / (int(planned.tested[peers].sum()) + 2)


def bears_out(lots: Sequence[tuple[int, int]], usual: float) -> bool:
    """Say whether what was bought to confirm, (faulty, tested) of each lot, bears an accusation out by itself."""
    enough = sum(faulty for faulty, _ in lots) >= checks.MIN_TO_CONFIRM
    return enough and tail_p(lots, usual, checks.ALIKE) <= checks.EXACT_LEVEL


def _different(lots: Iterable[TestedLot], field: str) -> int:
    return len({getattr(lot.row, field) for lot in lots})
