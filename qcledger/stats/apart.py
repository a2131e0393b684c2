"""Which neighbouring grades a tester tells apart, from two looks at the same pieces."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import bdtrc, gammaln

from qcledger.errors import bad
from qcledger.stats import check
from qcledger.stats.agreement import grade_pairs
from qcledger.stats.check import FloatArray

SWAPPED = 1 / 3
"""Share of swapped pairs from which two grades count as not told apart: kept only twice as often as swapped."""

CHANCE = 0.05
"""Chance of a wrong word about one pair of grades."""


class ToldApart(StrEnum):
    """Whether two neighbouring grades are told apart."""

    APART = "told apart"
    NOT_APART = "not told apart"
    NOT_SETTLED = "not settled"


@dataclass(frozen=True, slots=True)
class Neighbours:
    """What became of pieces graded with two neighbouring grades only.

    Parameters
    ----------
    lower, upper
        The two grades.
    kept
        Pieces that got the same one of the two at both looks.
    swapped
        Pieces that got one at one look and the other at the other.
    verdict
        Whether that tells the two grades apart.
    """

    lower: float
    upper: float
    kept: int
    swapped: int
    verdict: ToldApart


def told_apart(first: ArrayLike, second: ArrayLike, grades: Sequence[float]) -> tuple[Neighbours, ...]:
    """Say for each two neighbouring grades whether the tester tells them apart.

    Parameters
    ----------
    first, second
        Grades in a row, one pair a piece.
    grades
        The offered grades in rising order; neighbours are neighbours in this row.

    Returns
    -------
    tuple of Neighbours
        One for each two neighbours, rising.

    Raises
    ------
    BadInput
        A grade is no number, or the offered grades do not rise.

    Notes
    -----
    `NOT_APART`: so many swapped pairs, or more, have a chance of at most 5 % if a third of the pairs were swapped
    (binomial). `APART`: so few, or fewer, have a chance of at most 5 % if both looks were dealt the two grades at
    random as often as they occur (exact test of Wigginton, Cutler & Abecasis 2005, Am J Hum Genet 76:887-893, for
    heterozygotes). Both rules speak of one pair of grades, not of the row.
    """
    one, other = grade_pairs(first, second)
    offered = check.numbers("grades", grades)
    if offered.ndim != 1 or (np.diff(offered) <= 0).any():
        raise bad("grades", list(grades), "offered grades in rising order")
    return tuple(_neighbours(one, other, float(low), float(high)) for low, high in pairwise(offered))


def _neighbours(one: FloatArray, other: FloatArray, lower: float, upper: float) -> Neighbours:
    kept = [int(((one == grade) & (other == grade)).sum()) for grade in (lower, upper)]
    swapped = int((((one == lower) & (other == upper)) | ((one == upper) & (other == lower))).sum())
    return Neighbours(lower, upper, sum(kept), swapped, _verdict(kept[0], kept[1], swapped))


def _verdict(kept_lower: int, kept_upper: int, swapped: int) -> ToldApart:
    pairs = kept_lower + kept_upper + swapped
    if swapped and bdtrc(swapped - 1, pairs, SWAPPED) <= CHANCE:
        return ToldApart.NOT_APART
    return ToldApart.APART if _chance_of_so_few(kept_lower, kept_upper, swapped) <= CHANCE else ToldApart.NOT_SETTLED


def _chance_of_so_few(kept_lower: int, kept_upper: int, swapped: int) -> float:
    """Return the chance of `swapped` or fewer swapped pairs when grades are dealt to looks at random."""
    pairs, lower = kept_lower + kept_upper + swapped, 2 * kept_lower + swapped
    could = np.arange(swapped % 2, min(lower, 2 * pairs - lower) + 1, 2)
    either = (lower - could) / 2
    ways = could * np.log(2) - gammaln(could + 1) - gammaln(either + 1) - gammaln(pairs - either - could + 1)
    weights = np.exp(ways - ways.max())
    return float(weights[could <= swapped].sum() / weights.sum())
