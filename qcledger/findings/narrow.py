"""What stays within one maker's format: a paint, a parcel, a lot, a specimen."""

from collections.abc import Callable, Iterable, Iterator, Sequence

from qcledger.findings import checks
from qcledger.findings.checks import at_least, percent, within
from qcledger.findings.field import Field, grouped, sums
from qcledger.findings.finding import Check, Claim, Need, What
from qcledger.findings.lots import Lot, faulty_parcels, faulty_specimens, lot_of, rate_of
from qcledger.findings.strength import exact_p
from qcledger.rubric import Criterion
from qcledger.vocab import Extent, Severity


def paints(field: Field, cell: Sequence[Lot]) -> Iterator[Claim]:
    """Yield the paints whose recipe is the likely cause: faulty over lots, beside sound paints and sound peers."""
    for paint in dict.fromkeys(lot.row.paint for lot in cell if lot.faulty):
        lots = field.by_paint.get(paint, ())
        if sum(lot.faulty > 0 for lot in lots) >= checks.MIN_FAULTY:
            yield from _claim(Extent.PAINT, (lots[0].row.paint_name,), lots, _paint_checks(field, lots))


def parcels(cell: Sequence[Lot]) -> Iterator[Claim]:
    """Yield what goes no further than one purchase: lots of one parcel only, or specimens without a batch code."""
    faulty = [lot for lot in cell if lot.faulty]
    bad = faulty_parcels(faulty)
    coded = [lot for lot in faulty if lot.coded]
    if len(bad) == 1 and len(coded) >= checks.MIN_FAULTY:
        yield from _claim(Extent.PARCEL, _bought(coded[0]), coded, _parcel_checks(cell, next(iter(bad))))
    for lot in faulty:
        if not lot.coded:
            code = Check(What.CODE, False, "none printed", "a batch code, to tell lots apart")
            yield from _claim(Extent.PARCEL, (lot.row.paint_name, *_bought(lot)), (lot,), (code,))


def lots(cell: Sequence[Lot]) -> Iterator[Claim]:
    """Yield the bad lots: two or more faulty, beside sound lots of the same paint and format."""
    for lot, others in _beside_their_paint(cell, lambda lot: lot.faulty >= checks.MIN_FAULTY):
        yield from _claim(Extent.LOT, _named(lot), (lot,), _lot_checks(lot, others))


def specimens(cell: Sequence[Lot]) -> Iterator[Claim]:
    """Yield the single bad specimens: one faulty beside sound ones of its lot, its paint's other lots sound."""
    for lot, others in _beside_their_paint(cell, lambda lot: lot.faulty == 1):
        bad = next(unit.row.sticker for unit in lot.units if unit.faulty)
        yield from _claim(Extent.SPECIMEN, (*_named(lot), bad), (lot,), _specimen_checks(lot, others))


def critical(criterion: Criterion, cell: Sequence[Lot]) -> Iterator[Claim]:
    """Yield each faulty specimen of a critical fault: what may harm is said at once, of the specimen alone."""
    if criterion.severity is not Severity.CRITICAL:
        return
    for lot in cell:
        for unit in lot.units:
            if unit.faulty:
                check = Check(
                    What.CRITICAL, True, unit.row.sticker, "a critical fault is said of the specimen at once"
                )
                yield from _claim(Extent.SPECIMEN, (*_named(lot), unit.row.sticker), (lot_of((unit,)),), (check,))


def _claim(extent: Extent, subject: tuple[str, ...], lots: Sequence[Lot], asked: Iterable[Check]) -> Iterator[Claim]:
    found = checks.if_pattern(asked)
    if found and (standing := checks.standing_of(found)):
        yield Claim(extent, subject, tuple(lots), faulty_specimens(lots), found, standing)


def _beside_their_paint(cell: Sequence[Lot], wanted: Callable[[Lot], bool]) -> Iterator[tuple[Lot, Sequence[Lot]]]:
    """Yield each wanted lot with a batch code, and the other such lots of its paint."""
    for same_paint in grouped((lot for lot in cell if lot.coded), lambda lot: lot.row.paint).values():
        for lot in same_paint:
            if wanted(lot):
                yield lot, [other for other in same_paint if other is not lot]


def _named(lot: Lot) -> tuple[str, ...]:
    return (lot.row.paint_name, lot.row.lot_code) if lot.row.lot_code else (lot.row.paint_name,)


def _bought(lot: Lot) -> tuple[str, str]:
    return (lot.row.seller, lot.row.bought_on.isoformat())


def _paint_checks(field: Field, lots: Sequence[Lot]) -> Iterator[Check]:
    faulty, coded = sum(lot.coded and lot.faulty > 0 for lot in lots), sum(lot.coded for lot in lots)
    yield at_least(What.FAULTY_LOTS, faulty, checks.MIN_FAULTY, Need.PATTERN)
    yield at_least(What.SHARE_OF_LOTS, faulty, coded // 2 + 1, Need.PATTERN)
    yield at_least(What.FAULTY_PARCELS, len(faulty_parcels(lots)), checks.MIN_FAULTY, Need.PATTERN)
    siblings, peers = _siblings(field, lots), field.peers(lots)
    yield from _sound(What.OTHER_PAINTS, field, siblings, len({lot.row.paint for lot in siblings}), 2)
    yield from _sound(What.PEERS_SOUND, field, peers, len({lot.row.maker for lot in peers}), checks.MIN_PEER_MAKERS)
    beside = [lot for lot in (*siblings, *peers) if lot.coded]
    yield within(What.BEYOND_CHANCE, exact_p(faulty, coded, sum(lot.faulty > 0 for lot in beside), len(beside)))


def _siblings(field: Field, lots: Sequence[Lot]) -> list[Lot]:
    """Return the lots of the maker's other paints in the same formats."""
    own, formats = lots[0].row, {lot.row.format for lot in lots}
    return [lot for lot in field.by_maker[own.maker] if lot.row.paint != own.paint and lot.row.format in formats]


def _sound(name: What, field: Field, lots: Sequence[Lot], found: int, needed: int) -> Iterator[Check]:
    """Yield whether there are enough of `lots` to compare with, and whether they are no worse than usual."""
    yield at_least(name, found, needed)
    rate = rate_of(lots)
    if rate is not None:
        limit = min(field.rate_without(lots[0].row.maker) or 0.0, checks.FIELD_CAP) + checks.DELTA
        yield Check(name, rate <= limit, f"{percent(rate)} faulty", f"{percent(limit)} or less", Need.PATTERN)


def _parcel_checks(cell: Sequence[Lot], parcel: str) -> Iterator[Check]:
    units = [unit for lot in cell for unit in lot.units]
    inside = [unit for unit in units if unit.row.parcel == parcel]
    sound = {unit.row.parcel for unit in units} - {parcel}
    faulty, others = sum(bool(unit.faulty) for unit in inside), len(units) - len(inside)
    yield Check(What.ONE_PARCEL, True, "faults in one parcel only", "faults in one parcel only", Need.PATTERN)
    yield at_least(What.SOUND_PARCELS, len(sound), checks.MIN_SOUND_LOTS)
    yield within(What.BEYOND_CHANCE, exact_p(faulty, len(inside), 0, others))


def _lot_checks(lot: Lot, others: Sequence[Lot]) -> Iterator[Check]:
    sound = sum(not other.faulty for other in others)
    yield at_least(What.FAULTY_SPECIMENS, lot.faulty, checks.MIN_FAULTY, Need.PATTERN)
    yield at_least(What.SOUND_LOTS, sound, checks.MIN_SOUND_LOTS)
    yield within(What.BEYOND_CHANCE, exact_p(lot.faulty, lot.tested, *sums(others)))


def _specimen_checks(lot: Lot, others: Sequence[Lot]) -> Iterator[Check]:
    elsewhere = sum(other.faulty for other in others)
    yield Check(What.ELSEWHERE, not elsewhere, f"{elsewhere} faulty", "none faulty", Need.PATTERN)
    yield at_least(What.SOUND_IN_LOT, lot.tested - lot.faulty, checks.MIN_SOUND_IN_LOT)
