"""Prices side by side: only like with like, and nothing ranked by price.

Two prices are compared where format, nominal ml, currency, tax and single or set are the same. Makers, paints,
sellers and whatever else stands beside each other go A to Z, formats and sizes in an order of their own, so that no
list reads as a ranking; least of all one by nominal ml over formats, for a pan's ml are its tray's or its pour's, a
tube's are wet.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from statistics import median_low
from typing import Final

from qcledger.findings.prices import PricedPiece, Sold, Tax
from qcledger.text import same_name

UNKNOWN: Final = "not said"
"""What a group is called whose pieces do not say what they are grouped by."""
PIECE: Final = "piece"
"""What prices are told by where each piece stands by itself."""


@dataclass(frozen=True, slots=True)
class Comparable:
    """What two prices have in common that may be compared."""

    format: str
    nominal_ml: Decimal | None
    sold: Sold
    currency: str
    tax: Tax

    @classmethod
    def of(cls, one: PricedPiece) -> "Comparable":
        """Return what a price may be compared within."""
        size = None if one.piece.nominal_ml is None else one.piece.nominal_ml.normalize()
        return cls(str(one.piece.format), size, one.sold, one.currency, one.tax)

    @property
    def order(self) -> tuple[str, bool, Decimal, str, bool, int]:
        """Where it stands: by format A to Z, then by size, what has none last; sets after what was sold by itself."""
        size = self.nominal_ml or Decimal(0)
        return (
            same_name(self.format),
            not size,
            size,
            self.currency,
            self.sold is Sold.IN_SET,
            list(Tax).index(self.tax),
        )


BY: Final[Mapping[str, Callable[[PricedPiece], str]]] = {
    "maker": lambda one: one.piece.maker_name,
    "paint": lambda one: f"{one.piece.maker_name} {one.piece.paint_name}",
    "pigment": lambda one: " + ".join(one.piece.pigments) or UNKNOWN,
    "seller": lambda one: one.piece.seller,
    "country": lambda one: one.piece.country or UNKNOWN,
    "pack": lambda one: one.piece.pack or Sold.SINGLE,
    "month": lambda one: f"{one.piece.bought_on:%Y-%m}",
    PIECE: lambda one: f"{one.piece.sticker} {one.piece.maker_name} {one.piece.paint_name}",
}
"""What prices may be grouped by within what may be compared."""


@dataclass(frozen=True, slots=True)
class PriceSummary:
    """Prices of some pieces in coins: lowest, middle (of an even number the lower) and highest, all as paid.

    `specimens` are those that were bought, `priced` those with a price. `per_ml` and `per_dry_g` are the lowest and
    the highest coins for one unit, exactly; None where no piece has one. `weighed` counts pieces whose dry paint is
    known.
    """

    specimens: int
    priced: int
    low: int | None
    middle: int | None
    high: int | None
    per_ml: tuple[Fraction, Fraction] | None
    per_dry_g: tuple[Fraction, Fraction] | None
    weighed: int

    @classmethod
    def of(cls, pieces: Sequence[PricedPiece]) -> "PriceSummary":
        """Return the summary of pieces."""
        minor = [one.minor for one in pieces if one.minor is not None]
        dry = [one.per_dry_g for one in pieces if one.per_dry_g is not None]
        return cls(
            specimens=len(pieces),
            priced=len(minor),
            low=min(minor, default=None),
            middle=median_low(minor) if minor else None,
            high=max(minor, default=None),
            per_ml=_ends(one.per_ml for one in pieces),
            per_dry_g=_ends(dry),
            weighed=len(dry),
        )

    @property
    def dearest_over_cheapest(self) -> Fraction | None:
        """How many times the cheapest the dearest is; None below two prices, and where one was for nothing."""
        if self.priced < 2 or not self.low or self.high is None:
            return None
        return Fraction(self.high, self.low)


def _ends(amounts: Iterable[Fraction | None]) -> tuple[Fraction, Fraction] | None:
    known = [one for one in amounts if one is not None]
    return (min(known), max(known)) if known else None


@dataclass(frozen=True, slots=True)
class PriceTable:
    """What may be compared, all of it in one, and its groups A to Z."""

    of: Comparable
    whole: PriceSummary
    groups: tuple[tuple[str, PriceSummary], ...]


def tables(pieces: Iterable[PricedPiece], by: str = "maker") -> list[PriceTable]:
    """Return prices side by side, each table of what may be compared; `by` is a key of `BY`."""
    alike: dict[Comparable, list[PricedPiece]] = defaultdict(list)
    for one in pieces:
        alike[Comparable.of(one)].append(one)
    return [
        PriceTable(of, PriceSummary.of(alike[of]), tuple(_groups(alike[of], BY[by])))
        for of in sorted(alike, key=lambda one: one.order)
    ]


def _groups(pieces: Iterable[PricedPiece], name: Callable[[PricedPiece], str]) -> list[tuple[str, PriceSummary]]:
    named: dict[str, list[PricedPiece]] = defaultdict(list)
    for one in pieces:
        named[name(one)].append(one)
    return [(each, PriceSummary.of(named[each])) for each in sorted(named, key=lambda one: (same_name(one), one))]


@dataclass(frozen=True, slots=True)
class PriceTrend:
    """One paint at one seller over the days it was bought, oldest first: the middle price of each day."""

    of: Comparable
    maker: str
    paint: str
    seller: str
    days: tuple[tuple[date, int], ...]

    @property
    def change(self) -> Fraction | None:
        """Return by which share of the first price the last one differs; None where the first was for nothing."""
        first, last = self.days[0][1], self.days[-1][1]
        return Fraction(last - first, first) if first else None


def trends(pieces: Iterable[PricedPiece]) -> list[PriceTrend]:
    """Return how prices went of what was bought of one seller on several days, by format, size, maker and paint.

    Only pieces that were sold by themselves are told: a set's shares change with what else is in it.
    """
    bought: dict[tuple[Comparable, str, str, str], dict[date, list[int]]] = defaultdict(lambda: defaultdict(list))
    names: dict[str, str] = {}
    for one in pieces:
        if one.minor is not None and one.sold is Sold.SINGLE:
            what = (Comparable.of(one), one.piece.maker_name, one.piece.paint, one.piece.seller)
            bought[what][one.piece.bought_on].append(one.minor)
            names[one.piece.paint] = one.piece.paint_name
    found = [
        PriceTrend(of, maker, names[paint], seller, tuple((day, median_low(days[day])) for day in sorted(days)))
        for (of, maker, paint, seller), days in bought.items()
        if len(days) > 1
    ]
    return sorted(
        found,
        key=lambda one: (one.of.order, same_name(one.maker), same_name(one.paint), same_name(one.seller), one.seller),
    )
