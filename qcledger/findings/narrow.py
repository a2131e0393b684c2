"""What stays within one maker's format: a paint, a parcel, a lot, a specimen."""

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from qcledger.findings import checks, confirming
from qcledger.findings.among import among
from qcledger.findings.checks import at_least, beyond_all, beyond_chance, in_sittings, percent, together
from qcledger.findings.columns import Ints, LotFact
from qcledger.findings.evidence import CellKey, Unit
from qcledger.findings.field import CriterionField
from qcledger.findings.finding import Check, CheckName, Claim, Need
from qcledger.findings.lots import TestedLot, faulty_parcels, faulty_specimens, lot_of, units_of
from qcledger.findings.strength import exact_p, exchange_p
from qcledger.findings.words import how_many, out_of
from qcledger.records import TestedRow
from qcledger.thing import worded
from qcledger.vocab import Extent, Severity


def may_settle(field: CriterionField, rest: CriterionField) -> NDArray[np.bool_]:
    """Return for each lot of the shelf whether a claim about its faults could be more than pointed to.

    That is what the rules below ask first, for every lot at once; what they ask after that can only refuse. Most of a
    large ledger is spared them so.

    Parameters
    ----------
    field, rest
        Every lot, and those that neither a pigment nor a format explains.
    """
    shelf, bad = field.shelf, rest.shelf.coded & (rest.faulty > 0)
    coded, coded_bad = (shelf.paint.sums(lots) for lots in (shelf.coded & (rest.tested > 0), bad))
    of_paint = (coded_bad >= np.maximum(checks.MIN_FAULTY, coded // 2 + 1)) & (
        rest.faulty_parcels(shelf.paint) >= checks.MIN_FAULTY
    )
    of_parcel = (rest.faulty_parcels(shelf.cell) == 1) & (shelf.cell.sums(bad) >= checks.MIN_FAULTY)
    sound = shelf.make.sums(shelf.coded & (field.tested > 0) & (field.faulty == 0)) >= checks.MIN_SOUND_LOTS
    alone = (rest.faulty == 1) & (rest.tested - rest.faulty >= checks.MIN_SOUND_IN_LOT)
    settles: NDArray[np.bool_] = (
        of_paint[shelf.paint.of_lot]
        | of_parcel[shelf.cell.of_lot]
        | (sound[shelf.make.of_lot] & shelf.coded & (field.faulty >= checks.MIN_FAULTY))
        | (bad & alone & (rest.faulty_of_make[shelf.make.of_lot] == 1))
        | (np.array(field.criterion.severity is Severity.CRITICAL) & (field.faulty > 0))
    )
    return settles


def paints(field: CriterionField, bad: Sequence[TestedLot], level: float) -> Iterator[Claim]:
    """Yield the paints whose recipe is the likely cause: faulty over lots, beside sound paints and sound peers.

    `level` is what a paint, a parcel, and a lot by itself are tested at, each for all of a criterion together.
    """
    for paint in dict.fromkeys(lot.row.paint for lot in bad):
        if field.faulty_lots_of_paint[field.shelf.paint.number[paint]] >= checks.MIN_FAULTY:
            numbers = field.numbers(field.shelf.paint, paint)
            lots = field.some(numbers)
            yield from _claim(Extent.PAINT, (lots[0].row.paint_name,), lots, _paint_checks(field, numbers, level))


def paints_beyond(
    field: CriterionField, held: CriterionField, bad: Sequence[TestedLot], level: float
) -> Iterator[Claim]:
    """Yield the paints that are worse than the pigment or format that explains them makes its peers.

    Parameters
    ----------
    field, held
        Every lot, and those that a pigment or a format explains.
    bad
        Faulty lots of one maker's format among these.
    level
        As for `paints`.
    """
    for paint in dict.fromkeys(lot.row.paint for lot in bad):
        if held.faulty_lots_of_paint[field.shelf.paint.number[paint]] >= checks.MIN_FAULTY:
            numbers = held.numbers(field.shelf.paint, paint)
            lots = held.some(numbers)
            yield from _claim(
                Extent.PAINT, (lots[0].row.paint_name,), lots, _beyond_checks(field, held, numbers, level)
            )


def parcels(field: CriterionField, bad: Sequence[TestedLot], level: float) -> Iterator[Claim]:
    """Yield what goes no further than one purchase: lots of one parcel only, or specimens without a batch code."""
    from_ = faulty_parcels(bad)
    coded = [lot for lot in bad if lot.coded]
    if len(from_) == 1 and len(coded) >= checks.MIN_FAULTY:
        cell = field.of_cell(coded[0].row.maker, coded[0].row.format)
        one = next(unit.row for unit in coded[0].units if unit.faulty)  # sound ones of its lot may be of another
        yield from _claim(Extent.PARCEL, _bought(one), coded, _parcel_checks(field, cell, one.parcel, level))
    for lot in bad:
        if not lot.coded:
            code = Check(CheckName.CODE, False, "none printed", "a batch code, to tell lots apart")
            yield from _claim(Extent.PARCEL, (lot.row.paint_name, *_bought(lot.row)), (lot,), (code,))


def lots(field: CriterionField, bad: Sequence[TestedLot], level: float) -> Iterator[Claim]:
    """Yield the bad lots: two or more faulty, beside sound lots of the same paint and format."""
    for lot in bad:
        if lot.coded and lot.faulty >= checks.MIN_FAULTY:
            yield from _claim(Extent.LOT, _named(lot), (lot,), _lot_checks(field, lot, level))


def specimens(field: CriterionField, bad: Sequence[TestedLot]) -> Iterator[Claim]:
    """Yield the single bad specimens: one faulty beside sound ones of its lot, its paint's other lots sound."""
    for lot in bad:
        if lot.coded and lot.faulty == 1:
            sticker = next(unit.row.sticker for unit in lot.units if unit.faulty)
            yield from _claim(Extent.SPECIMEN, (*_named(lot), sticker), (lot,), _specimen_checks(field, lot))


def critical(field: CriterionField, bad: Sequence[TestedLot]) -> Iterator[Claim]:
    """Yield each faulty specimen of a critical fault: what may harm is said at once, of the specimen alone."""
    if field.criterion.severity is not Severity.CRITICAL:
        return
    for unit in units_of(bad):
        if unit.faulty:
            yield from _at_once(unit)


def seen_later(field: CriterionField, maker: str, format_: str) -> Iterator[Claim]:
    """Yield each specimen of a cell whose critical fault only a further look showed: mould grows after the first."""
    if field.criterion.severity is not Severity.CRITICAL:
        return
    told = faulty_specimens(field.of_cell(maker, format_))
    for unit in field.evidence.faulty_again.get(CellKey(field.criterion.key, maker, format_), ()):
        if unit.row.specimen not in told:
            yield from _at_once(unit)


def _at_once(unit: Unit) -> Iterator[Claim]:
    check = Check(CheckName.CRITICAL, True, unit.row.sticker, "a critical fault is said of the specimen at once")
    lot = lot_of((unit,))
    yield from _claim(Extent.SPECIMEN, (*_named(lot), unit.row.sticker), (lot,), (check,))


def _claim(
    extent: Extent, subject: tuple[str, ...], lots: Sequence[TestedLot], asked: Iterable[Check]
) -> Iterator[Claim]:
    found = checks.if_pattern(asked)
    if found and (standing := checks.standing_of(found)):
        yield Claim(extent, subject, tuple(lots), faulty_specimens(lots), found, standing)


def _others_of_paint(field: CriterionField, lot: TestedLot) -> Ints:
    """Return the numbers of the other lots of a lot's paint and format, those with a batch code."""
    shelf, own = field.shelf, field.shelf.key.number[lot.key]
    numbers = field.numbers(shelf.make, (lot.row.paint, lot.row.format))
    others: Ints = numbers[shelf.coded[numbers] & (numbers != own)]
    return others


def _named(lot: TestedLot) -> tuple[str, ...]:
    return (lot.row.paint_name, lot.row.lot_code) if lot.row.lot_code else (lot.row.paint_name,)


def _bought(row: TestedRow) -> tuple[str, str]:
    return (row.seller, row.bought_on.isoformat())


def _paint_checks(field: CriterionField, numbers: Ints, level: float) -> Iterator[Check]:
    lots = field.some(numbers)
    yield from _in_most_lots(lots)
    shelf, siblings, peers = field.shelf, _siblings(field, numbers), field.peer_numbers(numbers)
    yield from _sound(CheckName.OTHER_PAINTS, field, siblings, shelf.paint, 2, stray=True)
    yield from _sound(CheckName.PEERS_SOUND, field, peers, shelf.maker, checks.MIN_PEER_MAKERS)
    beside = np.concatenate([siblings, peers])
    own, beside = numbers[shelf.coded[numbers]], beside[shelf.coded[beside]]

    def chance(some: Ints) -> float:
        return max(_lots_p(field, some, beside), _specimens_p(field, some, beside))

    check = beyond_all(chance(own), among(field, level).paints, level)
    yield check
    if len(beside):
        yield in_sittings(field.side_by_side(numbers, beside))
    fresh = confirming.fresh_lots(field, own)
    rest = own[~np.isin(own, fresh)]
    yield confirming.of_paint(field, fresh, beyond_all(chance(rest), among(field, level).paints, level))


def _beyond_checks(field: CriterionField, held: CriterionField, numbers: Ints, level: float) -> Iterator[Check]:
    """Yield what a paint needs beyond a pigment or format: its peers are no longer sound, so it is far above them."""
    shelf, lots = field.shelf, held.some(numbers)
    yield from _in_most_lots(lots)
    siblings, peers = _siblings(field, numbers), field.peer_numbers(numbers)
    yield at_least(CheckName.OTHER_PAINTS, len(np.unique(shelf.paint.of_lot[siblings])), 2)
    yield at_least(CheckName.PEERS_SOUND, len(np.unique(shelf.maker.of_lot[peers])), checks.MIN_PEER_MAKERS)
    yield _above_its_maker(field, (numbers, peers), (siblings, field.peer_numbers(siblings)))
    own, others = (one[shelf.coded[one]] for one in (numbers, peers))
    paints_ = len(np.unique(shelf.paint.of_lot[held.tested > 0]))

    def check(some: Ints) -> Check:
        # Lots with a fault are common here, so lots are compared by their rates.
        by_lots = exchange_p(field.some(some), field.some(others), lambda lot: lot.row.format)
        p = max(by_lots, _specimens_p(field, some, others))
        return beyond_chance(p, min(p * paints_, 1.0), "Bonferroni", paints_, level)

    yield check(own)
    yield from together(units_of(lots), units_of(field.some(peers)))
    fresh = confirming.fresh_lots(field, own)
    yield confirming.of_paint(field, fresh, check(own[~np.isin(own, fresh)]))


def _in_most_lots(lots: Sequence[TestedLot]) -> Iterator[Check]:
    faulty, coded = sum(lot.coded and lot.faulty > 0 for lot in lots), sum(lot.coded for lot in lots)
    yield at_least(CheckName.FAULTY_LOTS, faulty, checks.MIN_FAULTY, Need.PATTERN)
    yield at_least(CheckName.SHARE_OF_LOTS, faulty, coded // 2 + 1, Need.PATTERN)
    yield at_least(CheckName.FAULTY_PARCELS, len(faulty_parcels(lots)), checks.MIN_FAULTY, Need.PATTERN)


def _above_its_maker(field: CriterionField, own: tuple[Ints, Ints], others: tuple[Ints, Ints]) -> Check:
    """Return whether a paint is further above its peers than its maker's other paints above theirs make it.

    Up to `checks.HABIT` times the others' excess may be the maker's.
    """
    mine, rest = (_rate(field, inside) - _rate(field, beside) for inside, beside in (own, others))
    limit = checks.HABIT * max(rest, 0.0) + checks.DELTA
    others_words = worded("the maker's other paints")
    found = f"{percent(mine)} above its peers, {others_words} {percent(rest)}"
    return Check(CheckName.EXCESS, mine > limit, found, f"more than {percent(limit)}", Need.PATTERN)


def _rate(field: CriterionField, numbers: Ints) -> float:
    return int(field.faulty[numbers].sum()) / max(int(field.tested[numbers].sum()), 1)


def _lots_p(field: CriterionField, own: Ints, beside: Ints) -> float:
    """Return the chance of as many faulty lots; larger lots are the likelier to hold a fault, whoever made them."""
    some, others = (int((field.faulty[lots] > 0).sum()) for lots in (own, beside))
    return exact_p(some, len(own), others, len(beside))


def _specimens_p(field: CriterionField, own: Ints, beside: Ints) -> float:
    """Return the chance of as many faulty specimens; one bad lot makes many, so it says nothing by itself."""
    (some, tested), (others, all_) = (
        (int(field.faulty[lots].sum()), int(field.tested[lots].sum())) for lots in (own, beside)
    )
    return exact_p(some, tested, others, all_)


def _siblings(field: CriterionField, numbers: Ints) -> Ints:
    """Return the numbers of the lots of the maker's other paints in the formats of these lots of one paint."""
    maker, paint, format_ = (column.of_lot for column in (field.shelf.maker, field.shelf.paint, field.shelf.format))
    alike = (maker == maker[numbers[0]]) & (paint != paint[numbers[0]]) & np.isin(format_, format_[numbers])
    return np.flatnonzero(alike & (field.tested > 0))


def _sound(
    name: CheckName, field: CriterionField, numbers: Ints, column: LotFact, needed: int, *, stray: bool = False
) -> Iterator[Check]:
    """Yield whether enough different things stand beside, and whether they are no worse than usual.

    With `stray` one faulty beside three sound ones is no worse, however few they are.
    """
    yield at_least(name, len(np.unique(column.of_lot[numbers])), needed)
    tested, faulty = int(field.tested[numbers].sum()), int(field.faulty[numbers].sum())
    if tested:
        rate = faulty / tested
        maker = field.shelf.rows[numbers[0]].maker
        limit = min(field.rate_without(maker) or 0.0, checks.FIELD_CAP) + checks.DELTA
        alone = stray and faulty == 1 and tested > checks.MIN_SOUND_IN_LOT
        met = rate <= limit or alone
        few = f", or one beside {how_many(checks.MIN_SOUND_IN_LOT, 'sound one')}" if stray else ""
        limits = f"{percent(limit)} or less{few}"
        yield Check(name, met, f"{percent(rate)} faulty, {out_of(faulty, tested)}", limits, Need.PATTERN)


def _parcel_checks(field: CriterionField, cell: Sequence[TestedLot], parcel: str, level: float) -> Iterator[Check]:
    units = [unit for lot in cell for unit in lot.units]
    inside = [unit for unit in units if unit.row.parcel == parcel]
    sound = {unit.row.parcel for unit in units} - {parcel}
    faulty, others = sum(bool(unit.faulty) for unit in inside), len(units) - len(inside)
    yield Check(CheckName.ONE_PARCEL, True, "faults in one parcel only", "faults in one parcel only", Need.PATTERN)
    yield at_least(CheckName.SOUND_PARCELS, len(sound), checks.MIN_SOUND_LOTS)
    p = max(exact_p(faulty, len(inside), 0, others), _parcel_lots_p(cell, parcel))
    yield beyond_all(p, among(field, level).parcels, level)
    yield from together(inside, [unit for unit in units if unit.row.parcel != parcel])


def _parcel_lots_p(cell: Sequence[TestedLot], parcel: str) -> float:
    """Return the chance that as many of the faulty lots came in one parcel; what came of a lot in each is one."""
    came = {(lot.key, unit.row.parcel) for lot in cell for unit in lot.units}
    faulty = {(lot.key, unit.row.parcel) for lot in cell for unit in lot.units if unit.faulty}
    inside = sum(one == parcel for _, one in came)
    return exact_p(len(faulty), inside, 0, len(came) - inside)


def _lot_checks(field: CriterionField, lot: TestedLot, level: float) -> Iterator[Check]:
    others = _others_of_paint(field, lot)
    faulty, tested = field.faulty[others], field.tested[others]

    def beyond(units: Sequence[Unit], at: float) -> Check:
        some = sum(bool(unit.faulty) for unit in units)
        p = exact_p(some, len(units), int(faulty.sum()), int(tested.sum()))
        return beyond_all(p, among(field, at).lots, at)

    yield at_least(CheckName.FAULTY_SPECIMENS, lot.faulty, checks.MIN_FAULTY, Need.PATTERN)
    yield at_least(CheckName.SOUND_LOTS, int((faulty == 0).sum()), checks.MIN_SOUND_LOTS)
    yield beyond(lot.units, checks.EXACT_LEVEL)
    yield from together(lot.units, units_of(field.some(others)))
    further = confirming.latest(lot.units)
    rest = [unit for unit in lot.units if unit not in further]
    yield confirming.of_lot(further, beyond(rest, checks.EXACT_LEVEL), beyond(lot.units, level))


def _specimen_checks(field: CriterionField, lot: TestedLot) -> Iterator[Check]:
    make = field.shelf.make.number[lot.row.paint, lot.row.format]
    elsewhere = int(field.faulty_of_make[make]) - lot.faulty
    others = int(field.shelf.make.sums(field.tested)[make]) - lot.tested
    found = f"{elsewhere} faulty of {others}" if others else "none tested"
    yield Check(CheckName.ELSEWHERE, not elsewhere, found, "none faulty", Need.PATTERN)
    yield at_least(CheckName.SOUND_IN_LOT, lot.tested - lot.faulty, checks.MIN_SOUND_IN_LOT)
    yield from together(lot.units, [unit for unit in lot.units if not unit.faulty])
