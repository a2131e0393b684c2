"""Money in another currency, by the exchange rates of the ledger alone, each with its day and source.

Which rate: of those between the two currencies, either way round, the one whose day is nearest to the day of the
purchase; of two equally near the earlier day; of one day the one that is written from this currency into that, then
the last entered. No rate is put together from two others.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from qcledger.records import ExchangeRate, PaidPiece
from qcledger.vocab import CURRENCY_DIGITS


@dataclass(frozen=True, slots=True)
class Conversion:
    """How coins of one currency become coins of another.

    Parameters
    ----------
    rate
        The rate of the ledger; None within one currency.
    to
        The currency that comes out.
    factor
        Coins of it for one coin of the other, exactly.
    """

    rate: ExchangeRate | None
    to: str
    factor: Fraction

    def of(self, minor: int) -> int:
        """Return an amount in coins of the other currency, half a coin rounded up."""
        return half_up(minor * self.factor)


def half_up(coins: Fraction) -> int:
    """Return a whole number of coins; half a coin is rounded up."""
    return int((coins + Fraction(1, 2)) // 1)


def conversion(rates: Iterable[ExchangeRate], base: str, to: str, on: date) -> Conversion | None:
    """Return how money of one currency becomes another on a day; None where the ledger holds no rate between them.

    Parameters
    ----------
    rates
        In the order in which they were entered.
    base, to
        ISO 4217 codes.
    on
        The day of the purchase.
    """
    if base == to:
        return Conversion(None, to, Fraction(1))
    between = [(place, rate) for place, rate in enumerate(rates) if {rate.base, rate.quote} == {base, to}]
    if not between:
        return None
    _, nearest = min(between, key=lambda one: (abs((one[1].on - on).days), one[1].on, one[1].base != base, -one[0]))
    return by_rate(nearest, base, to)


def by_rate(rate: ExchangeRate, base: str, to: str) -> Conversion:
    """Return how money of one currency becomes another by a rate between the two, either way round."""
    units = Fraction(rate.rate) if rate.base == base else 1 / Fraction(rate.rate)
    coins = Fraction(10) ** (CURRENCY_DIGITS.get(to, 2) - CURRENCY_DIGITS.get(base, 2))
    return Conversion(rate, to, units * coins)


def conversions(pieces: Iterable[PaidPiece], rates: Iterable[ExchangeRate], to: str) -> dict[PaidPiece, Conversion]:
    """Return how the price of each piece becomes one currency; a piece without a rate is left out."""
    rates = list(rates)
    found = ((piece, conversion(rates, piece.currency, to, piece.bought_on)) for piece in pieces)
    return {piece: how for piece, how in found if how is not None}
