"""Moving pieces to the parcel they came in: one that stands, or one that was not entered yet."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from qcledger.bench import unpacking
from qcledger.bench.mending import Differ, Mending, weigh
from qcledger.errors import bad
from qcledger.figures import as_numbered, as_whole
from qcledger.records import Parcel, Specimen
from qcledger.settings import Settings
from qcledger.vocab import CURRENCY_DIGITS

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

NEW: Final = "new"
"""Typed for a parcel that was not entered yet."""


def others(ledger: "Ledger", parcel: str) -> list[Parcel]:
    """Return one's own parcels but one, the one bought last first."""
    own = ledger.own(Parcel)
    found = [one for one in ledger.rows(Parcel) if one.id in own and one.id != parcel]
    return sorted(found, key=lambda one: (one.bought_on, one.id), reverse=True)


def words(ledger: "Ledger", parcels: Sequence[Parcel], day: Callable[..., str]) -> list[str]:
    """Return parcels in a line each, numbered from 1: ``1: Corner shop, 2026-01-02, EUR, 3 pieces``."""
    counts = Counter(one.parcel for one in ledger.rows(Specimen)) if parcels else Counter[str]()
    return [
        f"{n}: {one.seller}, {day(one.bought_on)}, {one.currency}, {_pieces(counts[one.id])}"
        for n, one in enumerate(parcels, 1)
    ]


def _pieces(count: int) -> str:
    return f"{count} specimen{'' if count == 1 else 's'}"


def find(ledger: "Ledger", text: str, parcels: Sequence[Parcel]) -> Parcel:
    """Return the parcel with a number of the list, or that of the piece with a sticker.

    Raises
    ------
    BadInput
        When it is neither, or not one of these.
    """
    if as_whole(text) is not None:
        numbered = as_numbered(text, parcels)
        if numbered is None:
            allowed = f"a number from 1 to {len(parcels)}" if parcels else f"{NEW}: there is no other"
            raise bad("parcel", text, allowed)
        return numbered
    one = ledger.get(Specimen, unpacking.find_sticker(ledger, text))
    found = next((parcel for parcel in parcels if one is not None and parcel.id == one.parcel), None)
    if found is None:
        raise bad("parcel", text, "a specimen of another parcel of yours")
    return found


def read_new(ledger: "Ledger", values: Mapping[str, str], settings: Settings, id_: str) -> Parcel:
    """Return a parcel that was not entered yet; raises BadInput with a problem for each field that is wrong."""
    common = {name: values.get(name, "") for name in ("seller", "bought_on", "currency")}
    return unpacking.read_parcel(
        {**common, "shipping": "", "received_on": "", "note": ""}, id_, ledger.day(), settings
    )


def weigh_parcel(ledger: "Ledger", pieces: Sequence[Specimen], parcel: Parcel) -> Mending:
    """Return what moving pieces to a parcel changes; nothing is written.

    Raises
    ------
    BadInput
        When one is in it already, or has a price that its currency has other decimals for.
    """
    for one in pieces:
        if one.parcel == parcel.id:
            raise bad(one.sticker, "in this parcel already", "a specimen of another parcel")
        _check_price(ledger, one, parcel)
    stands = ledger.get(Parcel, parcel.id) is not None
    after = [replace(one, parcel=parcel.id) for one in pieces]
    wanted = weigh(ledger, pieces, after, () if stands else (parcel,))
    # Two parcels may be alike in every fact, and are two all the same.
    alike = Differ("parcel", f"one from {parcel.seller}", f"another one from {parcel.seller}")
    return replace(wanted, differ={one.sticker: wanted.differ.get(one.sticker, (alike,)) for one in pieces})


def _check_price(ledger: "Ledger", piece: Specimen, parcel: Parcel) -> None:
    before = ledger.get(Parcel, piece.parcel)
    assert before is not None
    then, now = (CURRENCY_DIGITS.get(one.currency, 2) for one in (before, parcel))
    if then != now and piece.price_minor is not None:
        allowed = f"a parcel whose currency has the decimals of {before.currency}, or first no price of this specimen"
        raise bad(piece.sticker, f"a price in {before.currency}, to a parcel in {parcel.currency}", allowed)
