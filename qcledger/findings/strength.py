"""Is it more than chance? Exact tests that anyone can check by hand, and the seam for a better one.

A maker's lots are compared with its peers' lots of the same pigment and format. If the maker's name meant nothing,
any of these lots could as well have been the maker's; the test counts in how many of the possible exchanges the
maker's lots would come out as faulty as they did. It is chosen because

- a lot counts once, however many specimens of it were bought, so that one bad lot cannot carry a maker;
- comparing within pigment and format takes out what belongs to either;
- it is exact, needs no model and no simulation, and gives the same number twice;
- only specimens bought as planned enter: those bought to confirm, or because of a note, were bought because the maker
  already looked bad, and have their own check.

Every maker and every maker's format with enough paints and lots to be accused is in the family that Holm's method
corrects over, once for each criterion. A pooled model can take its place: it need only be a `StrengthCheck`.
"""

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import comb, exp, lgamma
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from qcledger.findings.checks import beyond_chance
from qcledger.findings.columns import Ints
from qcledger.findings.field import CriterionField
from qcledger.findings.finding import Chance
from qcledger.findings.lots import TestedLot
from qcledger.stats.multiple import holm
from qcledger.stats.stratified import columns_above_peers, lots_above_peers

STRICT = 0.02
"""Level for accusing a maker or a maker's format, after Holm's correction."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """A maker, or its paints in one format, with the numbers of its lots on the shelf."""

    maker: str
    format: str | None
    numbers: Ints


class Family(NamedTuple):
    """How many might have been accused: units of one criterion, and criteria of the scorecard."""

    units: int
    criteria: int = 1


class StrengthCheck(Protocol):
    """Says of each suspect whether its faults are more than chance makes of a fair field."""

    def __call__(self, field: CriterionField, suspects: Sequence[Suspect], family: Family, /) -> Sequence[Chance]:
        """Return what is to be said of each of `suspects`, in order.

        Parameters
        ----------
        field
            Every lot that no pigment and no format explains, the suspects' included.
        suspects
            Those whose faults show a pattern.
        family
            How many could have shown one.
        """
        ...


def by_exchanging_lots(field: CriterionField, suspects: Sequence[Suspect], family: Family) -> Sequence[Chance]:
    """Compare each suspect's planned lots with its peers', corrected over the whole family; a `StrengthCheck`."""
    raw = [suspect_p(field, suspect) for suspect in suspects]
    corrected = holm([*raw, *[1.0] * (family.units - len(raw))]).tolist()
    return [
        Chance((beyond_chance(p, after, "Holm", family.units, STRICT),), p)
        for p, after in zip(raw, corrected, strict=False)
    ]


def exchange_p(
    inside: Iterable[TestedLot], outside: Iterable[TestedLot], stratum: Callable[[TestedLot], Hashable]
) -> float:
    """Return how often chance makes the lots inside as faulty as they are; see `lots_above_peers`."""
    sides = ((True, inside), (False, outside))
    return lots_above_peers(
        (stratum(lot), suspected, lot.faulty, lot.tested) for suspected, lots in sides for lot in lots
    )


def exact_p(faulty: int, tested: int, other_faulty: int, other_tested: int) -> float:
    """Return the chance that this many of the faulty ones, or more, fall among `tested`.

    Notes
    -----
    Fisher's exact test of a 2 x 2 table, one-sided (Fisher 1935, J R Stat Soc 98:39-82): 3 of 3 beside 0 of 6: 1/84.
    """
    total, total_faulty = tested + other_tested, faulty + other_faulty
    ways = (
        comb(total_faulty, k) * comb(total - total_faulty, tested - k)
        for k in range(faulty, min(tested, total_faulty) + 1)
    )
    return sum(ways) / comb(total, tested)


def tail_p(lots: Iterable[tuple[int, int]], rate: float, rho: float) -> float:
    """Return the chance that lots, each of (faulty, tested), show rates that sum to what was seen, or more.

    Parameters
    ----------
    rate
        Rate of the lots, between 0 and 1.
    rho
        Lot concentration, between 0 and 1: near 0 specimens are independent, near 1 a lot is faulty or sound as one.

    Notes
    -----
    Each lot is beta-binomial about `rate` (Skellam 1948, J R Stat Soc B 10:257-261). A lot counts once, by its own
    rate: one faulty specimen in each of two lots says more than two in one.
    """
    strength = (1 - rho) / rho
    sums, seen = {Fraction(0): 1.0}, Fraction(0)
    for faulty, tested in lots:
        pmf = _beta_binomial(tested, rate * strength, (1 - rate) * strength).tolist()
        more: dict[Fraction, float] = {}
        for before, chance in sums.items():
            for k, own in enumerate(pmf):
                total = before + Fraction(k, tested)
                more[total] = more.get(total, 0.0) + chance * own
        sums, seen = more, seen + Fraction(faulty, tested)
    return min(sum(chance for total, chance in sums.items() if total >= seen), 1.0)


def _beta_binomial(tested: int, a: float, b: float) -> NDArray[np.float64]:
    """Return the chance of 0, 1, ... `tested` faulty, each from the one before."""
    pmf = np.empty(tested + 1)
    pmf[0] = exp(lgamma(a + b) + lgamma(b + tested) - lgamma(b) - lgamma(a + b + tested))
    for k in range(tested):
        pmf[k + 1] = pmf[k] * (tested - k) / (k + 1) * (a + k) / (b + tested - k - 1)
    return pmf


def suspect_p(field: CriterionField, suspect: Suspect) -> float:
    """Return how often chance makes the suspect's planned lots as faulty as they are, before any correction."""
    inside = suspect.numbers[field.shelf.declared[suspect.numbers]]
    lots = np.concatenate([inside, field.peer_numbers(inside)])
    faulty, tested = field.as_planned.faulty, field.as_planned.tested
    return columns_above_peers(
        field.shelf.kind.of_lot[lots], np.arange(len(lots)) < len(inside), faulty[lots], tested[lots]
    )
