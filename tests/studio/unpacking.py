"""Parcels as they were opened: labels typed, pieces weighed, what was seen on unpacking."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cache
from types import MappingProxyType

from qcledger.records import LabelVersion, Lot, Maker, Observation, Paint, Parcel, Record, Specimen, Trial
from qcledger.vocab import Occasion, SpecimenState
from tests.studio import pace, scales
from tests.studio.chance import ident, stream
from tests.studio.diary import OWNER, Page, moment
from tests.studio.grading import Seen, look, observation
from tests.studio.makers import (
    COLOURS,
    EURO_MAKERS,
    MAKERS,
    PIGMENTS,
    PRICED_AS_SHOWN,
    PRICES,
    STICK,
    TUBE,
    Colour,
)
from tests.studio.purchases import (
    LANTERN,
    OMBRETH,
    ORDERS,
    ORLEMERE,
    OSKERLIN,
    PIECES,
    QUAYSIDE,
    TESSENVAY,
    Order,
    Piece,
    state_of,
)
from tests.studio.remarks import remark

SET_UP = date(2026, 2, 10)
RATE = Decimal("0.86")
"""GBP for one EUR, invented."""


def maker_id(name: str) -> str:
    """Return the id of a maker."""
    return ident("maker", name)


def paint_id(colour: Colour) -> str:
    """Return the id of a paint."""
    return ident("paint", colour.maker, colour.name)


def specimen_id(piece: Piece) -> str:
    """Return the id of a piece."""
    return ident("specimen", piece.number)


def _label_id(colour: Colour) -> str:
    return ident("label", colour.maker, colour.name)


def _lot_id(piece: Piece) -> str | None:
    return ident("lot", *piece.lot_key) if piece.lot else None


def makers() -> tuple[Record, ...]:
    """Return the makers."""
    return tuple(Maker(id=maker_id(name), name=name) for name in MAKERS)


def _paint(colour: Colour) -> Paint:
    return Paint(id=paint_id(colour), maker=maker_id(colour.maker), name=colour.name)


def _label(colour: Colour, seen_on: date) -> LabelVersion:
    """Return what the label declares; two makers print Colour Index names only, two print CAS numbers as well."""
    pigment = PIGMENTS[colour.pigment]
    short = colour.maker in {"Drumlaw", "Maslenne"}
    chemical = colour.chemical or pigment.chemical
    small = f"gum arabic, water, preservative. {chemical}" if colour.chemical else ""
    return LabelVersion(
        id=_label_id(colour),
        paint=paint_id(colour),
        seen_on=seen_on,
        index_names=(colour.pigment,),
        constitution_numbers=() if short or colour.chemical else (pigment.number,),
        chemical_names=() if short else (chemical,),
        cas_numbers=(pigment.cas,) if colour.maker in {"Aldervane", "Halcyre"} else (),
        claims=colour.claims,
        warnings="See the safety data sheet. Keep out of reach of children." if pigment.hazard else "",
        printed=small and f"{colour.name} {colour.pigment}, in small print: {small}",
    )


def _parcel(key: str, order: Order) -> Parcel:
    return Parcel(
        id=ident("parcel", key),
        bought_on=order.bought,
        seller=order.seller,
        currency=order.currency,
        received_on=order.received,
        shipping_minor=order.shipping,
        tax_included=True,
        note=order.note,
    )


_SHOPS = MappingProxyType(
    {
        TESSENVAY: Decimal("0.97"),
        OSKERLIN: Decimal(1),
        OMBRETH: Decimal("1.06"),
        LANTERN: Decimal("0.94"),
        QUAYSIDE: Decimal("1.03"),
        ORLEMERE: Decimal("1.08"),
    }
)
"""What a shop takes beside the usual shelf price."""
DEARER_FROM, DEARER_BY = date(2026, 7, 1), Decimal("1.04")
"""The day on which makers raised their prices, and by what factor."""


def _price(piece: Piece) -> int | None:
    """Return the price in the parcel's currency, in its smallest coin: it hangs on pigment, shop and day."""
    if piece.parcel == "GIFT":
        return None
    colour, order = piece.colour, piece.order
    usual = Decimal(PRICES[colour.maker][piece.format].minor)
    if (colour.maker, colour.name) not in PRICED_AS_SHOWN:
        usual *= PIGMENTS[colour.pigment].dear
    usual *= _SHOPS[order.seller] * (DEARER_BY if order.bought >= DEARER_FROM else 1)
    home = "EUR" if colour.maker in EURO_MAKERS else "GBP"
    factor = {("EUR", "GBP"): RATE, ("GBP", "EUR"): 1 / RATE}.get((home, order.currency), Decimal(1))
    return int((usual * factor / 5).to_integral_value()) * 5


_PACK = MappingProxyType({TUBE: 4.6, STICK: 0.4})
_OTHER_PACK = 1.1
"""Grams of an empty tube and cap, of a stick's wrapper, of a plastic pan."""
_BINDER = MappingProxyType({TUBE: 1.22})
_DRY_BINDER = 1.38
_OF_PIGMENT = MappingProxyType({TUBE: 0.14})
_OF_PIGMENT_DRY = 0.24
"""Density of the binder in g/ml, and the share of a paint's volume that is pigment, moist and dried (from memory)."""


def _weight(piece: Piece) -> Decimal:
    """Return what a piece weighs as it came, in g: a heavy pigment makes a heavy pan."""
    ml, form = float(PRICES[piece.colour.maker][piece.format].ml), piece.format
    binder, share = _BINDER.get(form, _DRY_BINDER), _OF_PIGMENT.get(form, _OF_PIGMENT_DRY)
    density = binder + share * (piece.colour.traits.density - binder)
    filled = 1 + 0.02 * float(stream("weight", piece.number).standard_normal())
    return Decimal(f"{_PACK.get(form, _OTHER_PACK) + ml * density * filled:.1f}")


def _specimen(piece: Piece) -> Specimen:
    state = state_of(piece)
    unpacked = state not in {SpecimenState.UNOPENED, SpecimenState.RESERVE}
    return Specimen(
        id=specimen_id(piece),
        sticker=f"{OWNER} {piece.number:04d}",
        paint=paint_id(piece.colour),
        format=piece.format,
        parcel=ident("parcel", piece.parcel),
        lot=_lot_id(piece),
        label_version=_label_id(piece.colour),
        source=piece.order.source,
        why=piece.order.why,
        state=state,
        opened_on=piece.order.received if unpacked else None,
        nominal_ml=PRICES[piece.colour.maker][piece.format].ml,
        weight_g=_weight(piece) if unpacked else None,
        price_minor=_price(piece),
    )


@cache
def _firsts() -> frozenset[int]:
    """Return the pieces that were the first of their paint."""
    first: dict[tuple[str, str], int] = {}
    for piece in PIECES:
        first.setdefault((piece.colour.maker, piece.colour.name), piece.number)
    return frozenset(first.values())


def _keys(piece: Piece) -> tuple[str, ...]:
    if piece.parcel == "OLD":
        return ("froth_amount",)
    once = scales.ONCE_A_LABEL if piece.number in _firsts() else ()
    return (*scales.AT_UNPACKING[piece.format], *scales.ON_EVERY_LABEL, *once)


def trial_id(piece: Piece) -> str:
    """Return the id of a piece's trial at unpacking."""
    return ident("trial", piece.number, "unpacking")


def _unpacked(key: str, pieces: list[Piece]) -> Iterator[Page]:
    """Yield a page for each grade of a parcel's pieces, one after the other."""
    chance = stream("pace", key)
    at = moment(ORDERS[key].received, 10, 15)
    for piece in pieces:
        at += pace.unwrapping(chance)
        rows: tuple[Record, ...] = (_trial(piece, at),)
        for criterion in _keys(piece):
            seen = _look(piece, criterion)
            at += pace.look_at(criterion, seen, chance)
            note = remark(trial_id(piece), criterion, seen)
            yield Page(at, OWNER, (*rows, observation(seen, trial_id(piece), criterion, OWNER, at, note)))
            rows = ()


def _trial(piece: Piece, at: datetime) -> Trial:
    return Trial(
        id=trial_id(piece), specimen=specimen_id(piece), occasion=Occasion.UNPACKING, at=at, note=piece.order.note
    )


def _from_before(pieces: list[Piece]) -> Iterator[Page]:
    """Yield the older notes, brought in when the ledger was begun."""
    rows: list[Trial | Observation] = []
    for turn, piece in enumerate(pieces, 1):
        at = moment(piece.order.received, 10, 15 + 3 * turn)
        old = replace(_trial(piece, at), occasion=Occasion.OLDER_NOTES, note="from a spreadsheet of 2024")
        rows.append(old)
        later = at + timedelta(minutes=1)
        rows += [observation(_look(piece, key), old.id, key, OWNER, later) for key in _keys(piece)]
    yield Page(moment(SET_UP, 10, 40), OWNER, tuple(rows))


def _look(piece: Piece, key: str) -> Seen:
    return look(piece, key, "unpacking")


def _new(pieces: list[Piece], known: set[str], received: date) -> Iterator[Record]:
    """Yield the paints, labels and lots that this parcel is the first to show."""
    for piece in pieces:
        rows: list[Record] = [_paint(piece.colour), _label(piece.colour, received)]
        lot = _lot_id(piece)
        if lot and piece.lot:
            rows.append(Lot(id=lot, paint=paint_id(piece.colour), format=piece.format, code=piece.lot))
        for row in rows:
            if row.id not in known:
                known.add(row.id)
                yield row


def pages() -> Iterator[Page]:
    """Yield what was written when each parcel was opened: first the parcel, then each grade of its pieces."""
    known: set[str] = set()
    for key, order in sorted(ORDERS.items(), key=lambda item: item[1].received):
        pieces = [piece for piece in PIECES if piece.parcel == key]
        day = SET_UP if key == "OLD" else order.received
        new = tuple(_new(pieces, known, order.received))
        yield Page(moment(day, 10), OWNER, (*new, _parcel(key, order), *(_specimen(piece) for piece in pieces)))
        opened = [piece for piece in pieces if state_of(piece) not in {SpecimenState.UNOPENED, SpecimenState.RESERVE}]
        yield from _from_before(opened) if key == "OLD" else _unpacked(key, opened)


def all_paints() -> tuple[str, ...]:
    """Return the ids of the paints bought, in the order of the makers' ranges."""
    bought = {(piece.colour.maker, piece.colour.name) for piece in PIECES}
    return tuple(paint_id(colour) for key, colour in COLOURS.items() if key in bought)
