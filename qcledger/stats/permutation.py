"""Chance under permutation: faulty specimens dealt to lots, and lots or grades dealt to two groups.

Dealings are counted one lot or grade at a time in a table of what has been dealt so far, which takes far fewer steps
than going through the permutations; `work` says how many. Scores are whole numbers or fractions of whole numbers, so
that a dealing that ties with the observed one counts as such. Arguments are not checked here.
"""

from dataclasses import dataclass
from functools import cached_property
from math import prod

import numpy as np
from numpy.typing import NDArray
from scipy.special import comb

from qcledger.stats.check import FloatArray

IntArray = NDArray[np.int64]


def drawn_p_value(as_far_out: int, draws: int) -> float:
    """Return the p-value when `as_far_out` of `draws` were at least as far out, the observed one counting too."""
    return (as_far_out + 1) / (draws + 1)


@dataclass(frozen=True)
class SpecimensToLots:
    """`faulty` faulty specimens, dealt at random to lots of `sizes` specimens.

    The score of a dealing grows with sum((y - n p)^2) over lots, p = `faulty` / sum(n), and is a whole number.
    """

    sizes: IntArray
    faulty: int

    @cached_property
    def _scores(self) -> list[IntArray]:
        """For each lot, its share of the score when it holds 0, 1, 2, ... faulty specimens."""
        tested, largest = int(self.sizes.sum()), int(self.sizes.max(initial=0))
        held = [np.arange(min(size, self.faulty) + 1) for size in self.sizes.tolist()]
        raw = [
            y * (tested * y + 2 * self.faulty * (largest - size))
            for y, size in zip(held, self.sizes.tolist(), strict=True)
        ]
        unit = int(np.gcd.reduce(np.concatenate([[0], *raw])))
        return [scores // max(unit, 1) for scores in raw]

    @cached_property
    def _highest(self) -> int:
        """A bound on the score: each lot full, or every faulty specimen where it scores most."""
        full = sum(int(scores[-1]) for scores in self._scores)
        each = max(
            (-(-int(scores[-1]) // (len(scores) - 1)) for scores in self._scores if len(scores) > 1), default=0
        )
        return min(full, each * self.faulty)

    @property
    def work(self) -> int:
        """Additions that `exact_p_value` takes."""
        return (self.faulty + 1) * (self._highest + 1) * sum(len(scores) for scores in self._scores)

    def score(self, faulty_by_lot: IntArray) -> int:
        """Return the score of one dealing."""
        return sum(int(scores[y]) for scores, y in zip(self._scores, faulty_by_lot.tolist(), strict=True))

    def exact_p_value(self, observed: float) -> float:
        """Return the chance of a score of at least `observed`."""
        rate = self.faulty / max(int(self.sizes.sum()), 1)
        table: FloatArray = np.zeros((self.faulty + 1, self._highest + 1))
        table[0, 0] = 1.0
        for size, scores in zip(self.sizes.tolist(), self._scores, strict=True):
            y = np.arange(len(scores))
            # Binomial weights keep the table within floats; given the total they weigh dealings as counts do.
            table = _with_lot(table, comb(size, y) * rate**y * (1 - rate) ** (size - y), scores)
        return _share(table[-1, int(observed) :], table[-1])

    def drawn_p_value(self, observed: float, draws: int, seed: int) -> float:
        """Return the same chance from `draws` random dealings."""
        dealt = np.random.default_rng(seed).multivariate_hypergeometric(self.sizes, self.faulty, draws)
        scores = np.sum([table[dealt[:, lot]] for lot, table in enumerate(self._scores)], axis=0)
        return drawn_p_value(int((scores >= observed).sum()), draws)


def _share(part: FloatArray, every: FloatArray) -> float:
    """Return what share of `every` weight lies in `part`; the sums may round a hair above it."""
    return min(1.0, float(part.sum() / every.sum()))


def _with_lot(table: FloatArray, weights: FloatArray, scores: IntArray) -> FloatArray:
    """Return the table of dealings after one more lot."""
    dealt = np.zeros_like(table)
    rows, columns = table.shape
    for y, (weight, score) in enumerate(zip(weights.tolist(), scores.tolist(), strict=True)):
        if y < rows and score < columns:
            dealt[y:, score:] += weight * table[: rows - y, : columns - score]
    return dealt


@dataclass(frozen=True)
class LotsToGroups:
    """Lots with `faulty` of `tested` specimens each, `chosen` of them dealt at random to the first group.

    The score of a dealing is the difference of the two groups' rates, without its sign.
    """

    faulty: IntArray
    tested: IntArray
    chosen: int

    @property
    def work(self) -> int:
        """Additions that `exact_p_value` takes."""
        return prod(_subset_shape((self.faulty, self.tested), self.chosen)) * len(self.faulty)

    def scores(self, faulty: IntArray, tested: IntArray) -> FloatArray:
        """Return the scores when the first group holds `faulty` of `tested` specimens."""
        some, total = int(self.faulty.sum()), int(self.tested.sum())
        # Equal fractions of whole numbers are equal floats, whatever they were cancelled down from.
        scores: FloatArray = np.abs(faulty * total - some * tested) / np.maximum(tested * (total - tested), 1)
        return scores

    def score(self, faulty: int, tested: int) -> float:
        """Return the score of one dealing."""
        return float(self.scores(np.array(faulty), np.array(tested)))

    def exact_p_value(self, observed: float) -> float:
        """Return the chance of a score of at least `observed`."""
        table = _subsets((self.faulty, self.tested), self.chosen)
        return _share(table[self.scores(*np.indices(table.shape)) >= observed], table)

    def drawn_p_value(self, observed: float, draws: int, seed: int) -> float:
        """Return the same chance from `draws` random dealings."""
        order = np.random.default_rng(seed).random((draws, len(self.faulty)))
        first = np.argsort(order, axis=1)[:, : self.chosen]
        scores = self.scores(self.faulty[first].sum(axis=1), self.tested[first].sum(axis=1))
        return drawn_p_value(int((scores >= observed).sum()), draws)


@dataclass(frozen=True)
class GradesToGroups:
    """Grades with whole numbers for their `places`, `chosen` of them dealt at random to the first group."""

    places: IntArray
    chosen: int

    def exact_p_value(self, observed: int) -> float:
        """Return the chance that the first group's places add up to a sum as far from the middle as `observed`."""
        table = _subsets((self.places,), self.chosen)
        sums, middle = np.arange(len(table)) * len(self.places), int(self.places.sum()) * self.chosen
        as_far = np.abs(sums - middle) >= abs(observed * len(self.places) - middle)
        return _share(table[as_far], table)


def _subset_shape(values: tuple[IntArray, ...], chosen: int) -> tuple[int, ...]:
    return chosen + 1, *(int(np.sort(value)[-chosen:].sum()) + 1 for value in values)


def _subsets(values: tuple[IntArray, ...], chosen: int) -> FloatArray:
    """Return how the sums of each of `values` over `chosen` items are spread, as a table over those sums.

    Weights are chances up to a common factor.
    """
    table: FloatArray = np.zeros(_subset_shape(values, chosen))
    table[(0,) * table.ndim] = 1.0
    share = chosen / len(values[0])
    for item in zip(*(value.tolist() for value in values), strict=True):
        room = [slice(0, max(length - step, 0)) for length, step in zip(table.shape[1:], item, strict=True)]
        with_item = table[slice(0, -1), *room] * share
        table *= 1 - share
        table[slice(1, None), *(slice(step, None) for step in item)] += with_item
    dealt: FloatArray = table[-1]
    return dealt
