"""What each piece cost, so that prices can be compared: sets and discounts shared out, tax said, one currency.

Everything is whole coins. A set's price is shared among its pieces by nominal ml, a discount among everything of its
parcel by price, both so that nothing is lost (`stats.apportion`). What is not known stays unknown: it is never put in
from other pieces.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Final

from qcledger.findings.exchanged import Conversion, half_up
from qcledger.records import PaidPiece
from qcledger.stats.apportion import largest_remainders
from qcledger.text import same_name

GRAM: Final = "g of dry paint"
"""The unit of a reading that says how much dry paint a piece holds."""


class Sold(StrEnum):
    """How a piece was sold: by itself, or in a set, whose price it has a share of."""

    SINGLE = "single"
    IN_SET = "share of a set"


class Tax(StrEnum):
    """Whether a price that is compared holds tax."""

    WITH = "with tax"
    WITHOUT = "without tax"
    UNSAID = "tax not said"


class NoPrice(StrEnum):
    """Why a piece has no price that can be compared."""

    NONE = "no price was written down"
    SET = "a set whose pieces have not all their ml"
    DISCOUNT = "a discount of a parcel that has pieces without a price"
    TOO_MUCH = "a discount above the prices of its parcel"
    RATE = "no exchange rate"


@dataclass(frozen=True, slots=True, kw_only=True)
class PricedPiece:
    """One piece and its price.

    Parameters
    ----------
    piece
        What was bought.
    sold
        By itself or in a set.
    listed_minor, discount_minor, paid_minor
        What it cost before the discount, its share of that, and what is left, as the receipt says it; None where that
        cannot be known.
    with_tax_minor, without_tax_minor
        The same in its own currency with tax and without; None where the receipt does not say.
    tax
        What `minor` holds.
    currency, minor
        The price that is compared, in coins of this currency: with tax where that is known, else as paid.
    rate
        The exchange rate it was converted by; None where it was not.
    why_not
        Why there is no `minor`; None where there is one.
    """

    piece: PaidPiece
    sold: Sold
    listed_minor: int | None
    discount_minor: int | None
    paid_minor: int | None
    with_tax_minor: int | None
    without_tax_minor: int | None
    tax: Tax
    currency: str
    minor: int | None
    rate: Conversion | None = None
    why_not: NoPrice | None = None

    @property
    def per_ml(self) -> Fraction | None:
        """Coins for a nominal ml, exactly; None without a price or a size."""
        return per(self.minor, self.piece.nominal_ml)

    @property
    def per_dry_g(self) -> Fraction | None:
        """Coins for a gram of dry paint, exactly; None where nobody weighed that."""
        return per(self.minor, self.piece.dry_g)


def per(minor: int | None, amount: Decimal | None) -> Fraction | None:
    """Return coins for one unit of an amount; None where either is not known."""
    return None if minor is None or not amount else minor / Fraction(amount)


def priced(pieces: Iterable[PaidPiece], into: Mapping[PaidPiece, Conversion] | None = None) -> list[PricedPiece]:
    """Return what pieces cost, in their order.

    Parameters
    ----------
    pieces
        Every piece of each parcel; a parcel of which some are left out would share its discount wrongly.
    into
        The rate by which the price of each piece is converted, as `exchanged.conversions` finds them; a piece without
        one has no price then. None leaves each price in its own currency.
    """
    pieces = list(pieces)
    by_parcel: dict[str, list[PaidPiece]] = defaultdict(list)
    for piece in pieces:
        by_parcel[piece.parcel].append(piece)
    found = {}
    for parcel in by_parcel.values():
        for piece, share in _shared(parcel).items():
            found[piece.specimen] = _priced(piece, share, into)
    return [found[piece.specimen] for piece in pieces]


@dataclass(frozen=True, slots=True)
class _Share:
    """What falls on a piece before the discount, and of it; a word where that cannot be known."""

    listed: int | None
    discount: int | None
    why_not: NoPrice | None = None

    @property
    def paid(self) -> int | None:
        return None if self.listed is None or self.discount is None else self.listed - self.discount


def _shared(parcel: Sequence[PaidPiece]) -> dict[PaidPiece, _Share]:
    """Share sets and the discount of one parcel among its pieces."""
    sold = _sold_together(parcel)
    prices = [_price_of(together) for together in sold]
    discounts, hindered = _discounts(prices, parcel[0].discount_minor or 0)
    found = {}
    for together, price, discount in zip(sold, prices, discounts, strict=True):
        listed = _among(together, price)
        if price is None or listed is None:
            why = NoPrice.NONE if price is None else NoPrice.SET
            found.update(dict.fromkeys(together, _Share(None, None, why)))
            continue
        off = [None] * len(listed) if discount is None else largest_remainders(discount, listed)
        found.update(
            {piece: _Share(own, less, hindered) for piece, own, less in zip(together, listed, off, strict=True)}
        )
    return found


def _sold_together(parcel: Sequence[PaidPiece]) -> list[list[PaidPiece]]:
    """Return the pieces of a parcel as they were sold: each by itself, and those of one set together."""
    found: dict[str, list[PaidPiece]] = defaultdict(list)
    for piece in parcel:
        found[f"set {same_name(piece.pack)}" if piece.pack else f"piece {piece.specimen}"].append(piece)
    return list(found.values())


def _price_of(together: Sequence[PaidPiece]) -> int | None:
    """Return the price of what was sold together: what stands at its pieces, one price for all of them or parts."""
    known = [piece.price_minor for piece in together if piece.price_minor is not None]
    return sum(known) if known else None


def _among(together: Sequence[PaidPiece], price: int | None) -> list[int] | None:
    """Return each piece's share of a price, by nominal ml; None where one of several has none, or without a price."""
    if price is None:
        return None
    if len(together) == 1:
        return [price]
    sizes = [Fraction(piece.nominal_ml) for piece in together if piece.nominal_ml is not None]
    return largest_remainders(price, sizes) if len(sizes) == len(together) else None


def _discounts(prices: Sequence[int | None], discount: int) -> tuple[list[int | None], NoPrice | None]:
    """Return the share of a discount of everything sold, by price, or why it cannot be shared."""
    known = [price for price in prices if price is not None]
    if not discount:
        return [0] * len(prices), None
    if len(known) < len(prices):
        return [None] * len(prices), NoPrice.DISCOUNT
    if discount > sum(known):
        return [None] * len(prices), NoPrice.TOO_MUCH
    return [*largest_remainders(discount, known)], None


def _priced(piece: PaidPiece, share: _Share, into: Mapping[PaidPiece, Conversion] | None) -> PricedPiece:
    with_tax, without = _taxed(piece, share.paid)
    tax = _tax_of(piece)
    own = with_tax if tax is Tax.WITH else share.paid
    rate = into.get(piece) if into is not None else None
    why_not = share.why_not or (NoPrice.RATE if into is not None and rate is None else None)
    return PricedPiece(
        piece=piece,
        sold=Sold.IN_SET if piece.pack else Sold.SINGLE,
        listed_minor=share.listed,
        discount_minor=share.discount,
        paid_minor=share.paid,
        with_tax_minor=with_tax,
        without_tax_minor=without,
        tax=tax,
        currency=rate.to if rate else piece.currency,
        minor=None if why_not or own is None else rate.of(own) if rate else own,
        rate=rate,
        why_not=why_not,
    )


def _tax_of(piece: PaidPiece) -> Tax:
    """Return what the price that is compared holds: tax is added where its per cent are known."""
    if piece.tax_included is None:
        return Tax.UNSAID
    return Tax.WITH if piece.tax_included or piece.tax_pct is not None else Tax.WITHOUT


def _taxed(piece: PaidPiece, paid: int | None) -> tuple[int | None, int | None]:
    """Return a price with tax and without, each rounded to the coin by itself; None where that is not known."""
    if paid is None or piece.tax_included is None:
        return None, None
    if piece.tax_pct is None:
        return (paid, None) if piece.tax_included else (None, paid)
    factor = 1 + Fraction(str(piece.tax_pct)) / 100
    return (paid, half_up(paid / factor)) if piece.tax_included else (half_up(paid * factor), paid)
