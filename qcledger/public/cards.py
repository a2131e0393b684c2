"""Supporters' cards of painted swatches: what lies on each, what is printed, and what was found since.

A card has a number and no name. What it holds is recorded; what was found since is read from the public view alone.
"""

import re
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import zip_longest
from typing import TYPE_CHECKING, Final

from qcledger.bench.cautions import family_of
from qcledger.errors import bad
from qcledger.findings import Findings
from qcledger.findings.words import how_many, out_of
from qcledger.public import from_findings as told
from qcledger.public import told as words
from qcledger.public.codes import plain_code
from qcledger.public.view import PublicLot, PublicView
from qcledger.records import Card, TestedRow
from qcledger.text import same_name
from qcledger.thing import worded

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.rubric.pigments import Pigments

MOST_CARDS: Final = 500
MOST_PLACES: Final = 12
"""As many swatches as a card has places."""
_DIGITS: Final = 4
_CODE: Final = re.compile(r"(?P<letters>.+) K(?P<count>[0-9]{1,9})")
WINS: Final = "The maker's label and safety data sheet win."
CARE: Final = "No dust, nothing to the lips, wash your hands."


@dataclass(frozen=True, slots=True)
class Swatch:
    """What is painted in one place of a card: a specimen, and what is printed of it."""

    specimen: str
    maker: str
    paint: str
    format: str
    code: str
    lot: told.LotKey
    pigments: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PrintedCard:
    """A card as it is printed: its number, its swatches in the order of their places, and what to mind of which."""

    code: str
    swatches: tuple[Swatch, ...]
    mind: str


def card_code(letters: str, count: int) -> str:
    """Return the number of a card: ``OV K0007``."""
    return f"{letters} K{count:0{_DIGITS}}"


def swatches_of(found: Findings, rules: told.PublicRules, stickers: Collection[str] = ()) -> list[Swatch]:
    """Return what may be painted: every specimen that was tested, or those with some stickers, A to Z.

    Paints that are kept private are left out.

    Raises
    ------
    BadInput
        For a sticker that no tested specimen bears, or of a paint that is kept private.
    """
    rows = {row.specimen: row for row in told.rows_counted(found) if row.paint not in rules.kept_paints}
    there = {row.sticker for row in rows.values()}
    for one in stickers:
        if one not in there:
            raise bad("--specimens", one, worded("a specimen that was tested, of a paint that is not kept private"))
    some = [_swatch(row) for row in rows.values() if not stickers or row.sticker in stickers]
    return sorted(some, key=lambda one: (*map(same_name, (one.maker, one.paint)), one.format, one.code, one.specimen))


def _swatch(row: TestedRow) -> Swatch:
    lot = (row.lot or row.parcel, row.paint, str(row.format))
    return Swatch(
        row.specimen, row.maker_name, row.paint_name, str(row.format), row.lot_code or "", lot, tuple(row.pigments)
    )


def dealt(swatches: Sequence[Swatch], cards: int, places: int) -> list[tuple[Swatch, ...]]:
    """Return the swatches of each card: every specimen on as many cards as any other, or on one more.

    They are dealt in turn, one of each lot after another and makers by turns, so that a card holds as many lots, and
    of as many makers, as it can. Each is on a card once at most; with fewer specimens than places, places stay empty.

    Parameters
    ----------
    swatches
        What may be painted.
    cards, places
        How many cards, 1 to `MOST_CARDS`, and how many places each has, 1 to `MOST_PLACES`.

    Raises
    ------
    BadInput
        For other numbers, and where there is nothing to paint.
    """
    for where, count, most in (("--plan", cards, MOST_CARDS), ("--places", places, MOST_PLACES)):
        if not 1 <= count <= most:
            raise bad(where, str(count), f"1 to {most}")
    if not swatches:
        raise bad("--specimens", "nothing tested", "specimens that were tested on closed sheets")
    by_lot: dict[told.LotKey, list[Swatch]] = defaultdict(list)
    for one in swatches:
        by_lot[one.lot].append(one)
    by_maker: dict[str, list[list[Swatch]]] = defaultdict(list)
    for some in by_lot.values():
        by_maker[some[0].maker].append(some)
    lots = [some for turn in zip_longest(*by_maker.values()) for some in turn if some is not None]
    turns = [one for turn in zip_longest(*lots) for one in turn if one is not None]
    room = min(places, len(turns))
    return [tuple(turns[(card * room + n) % len(turns)] for n in range(room)) for card in range(cards)]


def rows_of(cards: Iterable[Sequence[Swatch]], ledger: "Ledger", on: date, new_id: Callable[[], str]) -> list[Card]:
    """Return the rows that record planned cards, numbered on from the highest number of this tester's letters."""
    letters = ledger.daybook.letters
    taken = (_CODE.fullmatch(one.code) for one in ledger.rows(Card))
    last = max((int(one["count"]) for one in taken if one and one["letters"] == letters), default=0)
    return [
        Card(
            id=new_id(), code=card_code(letters, count), planned_on=on,
            specimens=tuple(one.specimen for one in swatches),
        )
        for count, swatches in enumerate(cards, last + 1)
    ]  # fmt: skip


def named(ledger: "Ledger", text: str) -> Card:
    """Return the card with a number as it is typed back: ``OV K0007``, ``ovk7`` and ``OV-K 007`` are one.

    Raises
    ------
    BadInput
        Where no card, or more than one, has it.
    """
    found = [one for one in ledger.rows(Card) if plain_code(one.code) == plain_code(text)]
    if len(found) != 1:
        raise bad("CODE", text, "the number of one card, as qcledger card lists them")
    return found[0]


def printed(cards: Iterable[Card], swatches: Mapping[str, Swatch], reference: "Pigments") -> list[PrintedCard]:
    """Return cards as they are printed; a specimen that may not be named has an empty place.

    Parameters
    ----------
    cards
        As they are recorded.
    swatches
        What may be painted, by the ids of specimens.
    reference
        Which pigments call for care.
    """
    found = []
    for one in cards:
        some = tuple(swatches[id_] for id_ in one.specimens if id_ in swatches)
        found.append(PrintedCard(one.code, some, _mind(some, reference)))
    return found


def _mind(swatches: Sequence[Swatch], reference: "Pigments") -> str:
    """Return what to mind of which places: families by name, then what all of them ask for; empty for nothing."""
    places: dict[str, list[int]] = defaultdict(list)
    for place, one in enumerate(swatches, 1):
        known = (reference.find(name) for name in one.pigments)
        texts = (remark.text for pigment in known if pigment is not None for remark in pigment.bench_reminder)
        for family in dict.fromkeys(map(family_of, texts)):
            places[family].append(place)
    each = "; ".join(f"{_in_rows(some)}: {family}" for family, some in sorted(places.items()))
    return f"Mind {each}. {CARE} {WINS}" if each else ""


def _in_rows(places: Sequence[int]) -> str:
    """Return places in a row, those that follow one another as a span: ``1, 3-5``."""
    rows: list[list[int]] = []
    for place in places:
        if rows and rows[-1][-1] == place - 1:
            rows[-1].append(place)
        else:
            rows.append([place])
    return ", ".join(f"{row[0]}-{row[-1]}" if len(row) > 1 else str(row[0]) for row in rows)


def since(card: Card, view: PublicView) -> Iterator[str]:
    """Yield what the public may read of a card's lots, a line each, as the page tells it."""
    shown = next((one for one in view.cards if one.code == card.code), None)
    lots = {one.id: one for one in view.lots}
    for id_ in shown.lots if shown else ():
        yield told_of_lot(lots[id_])
    waiting = shown.waiting if shown else len(card.specimens)
    if waiting:
        yield f"Nothing is told of {waiting} of its swatches."


def told_of_lot(lot: PublicLot) -> str:
    """Return what can be said of a lot, in a line."""
    parts = [f"{lot.maker} {lot.paint}, {lot.format}, {lot.code or told.NO_CODE}: {lot.tested} tested."]
    for one in lot.statements:
        count = "common to several makers" if one.faulty is None else out_of(one.faulty, one.tested or 0)
        parts.append(f"{one.title}: {count}.")
    if lot.none_found:
        parts.append(f"{words.NOTHING_HERE}: {words.titles(lot.none_found)}.")
    if lot.open:
        parts.append(f"Open on {how_many(lot.open, 'test')}.")
    return " ".join(parts)
