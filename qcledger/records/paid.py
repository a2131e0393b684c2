"""What a piece cost, as it was written down with its parcel."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class PaidPiece:
    """One specimen that was bought, with what its parcel says of money; gifts are none.

    Names are those things have now, ids those they count as. Money is in the smallest coin of `currency`, as on the
    receipt. `pack` names the set it was sold in; `discount_minor` and `shipping_minor` are the whole parcel's;
    `tax_included` and `tax_pct` say whether the receipt's prices hold tax, and how much of it, in per cent.
    `dry_g` is how many grams of dry paint were weighed in it, None where nobody did.
    """

    specimen: str
    sticker: str
    maker: str
    maker_name: str
    paint: str
    paint_name: str
    pigments: tuple[str, ...]
    format: str
    nominal_ml: Decimal | None
    pack: str | None
    price_minor: int | None
    parcel: str
    seller: str
    country: str | None
    bought_on: date
    currency: str
    shipping_minor: int | None
    discount_minor: int | None
    tax_included: bool | None
    tax_pct: float | None
    dry_g: Decimal | None = None
