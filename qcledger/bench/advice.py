"""What the list of what to buy named: kept on this machine, so that a piece bought because of it is marked by itself.

Whoever buys because something looks bad looks again, and such pieces are counted apart. Nobody should have to think
of that weeks later, when the parcel comes: a piece that the list named is marked as bought on its advice when it is
entered, with the reason the list gave. Losing the file costs the marks of what is entered later, nothing else.
"""

import json
import os
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from qcledger.bench.unpacking import Typed
from qcledger.ledger.identity import who_is_who
from qcledger.records import Lot, Paint, Parcel, Specimen
from qcledger.settings import data_folder
from qcledger.text import same_name
from qcledger.vocab import Source, WhyBought

if TYPE_CHECKING:
    from qcledger.findings.shopping import Errand
    from qcledger.ledger import Ledger

REMEMBERED: Final = timedelta(days=182)
"""How long after it was named last a piece counts as bought because of that (our proposal)."""


@dataclass(frozen=True, slots=True)
class Advised:
    """A kind of piece that was named.

    Parameters
    ----------
    paint, format
        Its paint's id and its format.
    lot
        The batch code it must carry; None where it is to be of another lot than those on file.
    confirms
        Whether it is bought to confirm; else as planned.
    not_from
        Sellers that will not do.
    first, last
        The days it was named first and last.
    """

    paint: str
    format: str
    lot: str | None
    confirms: bool
    not_from: tuple[str, ...]
    first: date
    last: date

    @property
    def why(self) -> WhyBought:
        """Why such a piece is bought."""
        return WhyBought.TO_CONFIRM if self.confirms else WhyBought.PLANNED

    @property
    def piece(self) -> tuple[object, ...]:
        """What tells it from the others that were named."""
        return self.paint, self.format, self.lot, self.confirms


def remember(ledger: "Ledger", errands: "Iterable[Errand]") -> None:
    """Keep what purchases name, beside what was named before; where nothing can be written nothing is kept."""
    today = ledger.day()
    known = {one.piece: one for one in named(ledger)}
    for line in (line for errand in errands for line in errand.lines if line.paint):
        pieces = line.pieces
        new = Advised(
            line.paint, pieces.format, pieces.lot, pieces.confirms, tuple(sorted(pieces.not_from)), today, today
        )
        before = known.get(new.piece)
        known[new.piece] = replace(new, first=before.first) if before else new
    kept = [one for one in known.values() if today - one.last <= REMEMBERED]
    place = _place(ledger)
    with suppress(OSError):
        place.parent.mkdir(parents=True, exist_ok=True)
        part = place.with_suffix(f".{os.getpid()}")
        part.write_text(json.dumps([asdict(one) for one in kept], default=str), encoding="utf-8")
        part.replace(place)


def named(ledger: "Ledger") -> tuple[Advised, ...]:
    """Return what was named on this machine for this ledger; nothing where the file is gone or was spoilt."""
    with suppress(OSError, ValueError, TypeError, KeyError, AttributeError):
        return tuple(map(_read, json.loads(_place(ledger).read_text(encoding="utf-8"))))
    return ()


def _place(ledger: "Ledger") -> Path:
    return data_folder() / "advised" / f"{min(ledger.closing_hashes(), default='none')}.json"


def _read(plain: Any) -> Advised:
    days = (date.fromisoformat(plain[name]) for name in ("first", "last"))
    lot = plain["lot"]
    return Advised(
        str(plain["paint"]), str(plain["format"]), None if lot is None else str(lot), bool(plain["confirms"]),
        tuple(map(str, plain["not_from"])), *days,
    )  # fmt: skip


def marked(ledger: "Ledger", parcel: Parcel, piece: Typed) -> Typed:
    """Return a new line of a parcel, marked where the list named such a piece; what was typed stays."""
    if piece.advised is not None or piece.source is not Source.RETAIL:
        return piece
    fits = _fitting(ledger, named(ledger), parcel, (piece.paint, piece.format, piece.lot_code))
    if fits is None or piece.why not in (None, fits.why):
        return piece
    return replace(piece, why=fits.why, advised=True)


class AdvisedRows:
    """Marks new specimens of an import that the list named; the list is read once."""

    def __init__(self, ledger: "Ledger") -> None:
        self._ledger, self._named = ledger, named(ledger)

    def __call__(self, specimen: Specimen, parcel: Parcel, code: str | None) -> Specimen:
        """Return a specimen with the batch code `code` as it is to be written."""
        if not self._named or specimen.source is not Source.RETAIL:
            return specimen
        fits = _fitting(self._ledger, self._named, parcel, (specimen.paint, specimen.format, code))
        return replace(specimen, why=fits.why, advised=True) if fits else specimen


def _fitting(
    ledger: "Ledger", some: Sequence[Advised], parcel: Parcel, piece: tuple[str, str, str | None]
) -> Advised | None:
    """Return what was named that a piece is: of the lot or of another one, from a seller who will do, and since then.

    A piece bought to confirm must be told from those before it, so without a batch code it is none.
    """
    if not some:
        return None
    (paint, format_, code), who = piece, who_is_who(ledger)
    paint, seller = who.one(Paint.TABLE, paint), who.seller(parcel.seller)
    alike = [
        one
        for one in some
        if (who.one(Paint.TABLE, one.paint), one.format) == (paint, format_)
        and one.first <= parcel.bought_on <= one.last + REMEMBERED
        and seller not in map(who.seller, one.not_from)
    ]
    if not alike:
        return None
    known = {
        same_name(lot.code) for lot in ledger.rows(Lot, format=format_) if who.one(Paint.TABLE, lot.paint) == paint
    }
    of_lot = [one for one in alike if one.lot is not None and code and same_name(one.lot) == same_name(code)]
    other = [one for one in alike if one.lot is None and (same_name(code) not in known if code else not one.confirms)]
    return next(iter(of_lot or sorted(other, key=lambda one: one.confirms, reverse=True)), None)
