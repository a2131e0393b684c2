"""Intervals for one rate when the specimens come in lots, and the density that is drawn for it.

Specimens of one lot resemble each other, so n of them say less than n independent ones. How much less is the design
effect D: the variance of the rate over lots, divided by what independent specimens would give. The lot-aware interval
is the Clopper-Pearson interval for the effective number of specimens that is left (Korn & Graubard 1998, Survey
Methodology 24:193-201):

    n_eff = tested / max(D, 1) * (t[tested - 1] / t[lots - 1])^2        t: Student quantiles; few lots are uncertain

but never fewer than (sum n)^2 / sum n^2, the number of equal lots that would say as much: even where a lot is faulty
all through or not at all, each still counts once.

A lot of which nothing was tested is no lot. One lot counts as one specimen; lots of one specimen each are independent
specimens, and the interval is then Clopper-Pearson itself.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import betainc, stdtrit

from qcledger.stats import check
from qcledger.stats.check import FloatArray
from qcledger.stats.proportion import Interval, beta_limits

ASSUMED_CONCENTRATION = 0.2
"""Lot concentration where none or every specimen is faulty, which leaves no spread to measure it by: the mean of the
pooled model's Beta(1, 4) prior. With D = 1 there instead, simulated intervals for ten lots of six at a rate of 8 %,
concentration 0.5, lay wholly below the truth in 13 % of cases; with this, in none of 4,000."""


def design_effect(faulty_by_lot: ArrayLike, tested_by_lot: ArrayLike) -> float:
    """Return how many times wider than for independent specimens the rate's variance is.

    Parameters
    ----------
    faulty_by_lot, tested_by_lot
        Whole numbers, one a lot, 0 <= faulty <= tested.

    Returns
    -------
    float
        v sum(n) / (p (1 - p)) with v = m / (m - 1) sum((y - n p)^2) / sum(n)^2 over m lots; below 1 when lots are
        more alike than chance makes them. Where it cannot be measured (one lot; none or all faulty) it is
        1 + `ASSUMED_CONCENTRATION` (sum(n^2) / sum(n) - 1). 1 when nothing was tested.

    Raises
    ------
    BadInput
        A count is out of range; the message names it.

    Notes
    -----
    Rao & Scott 1992, Biometrics 48:577-585.
    """
    return float(_one_cell(faulty_by_lot, tested_by_lot).design_effect[0])


def effective_size(faulty_by_lot: ArrayLike, tested_by_lot: ArrayLike, level: float = 0.95) -> float:
    """Return the number of independent specimens that say as much about the rate as these lots do.

    Parameters and errors are those of `lot_aware`; the formula heads this module.
    """
    return float(_one_cell(faulty_by_lot, tested_by_lot).effective(check.inner("level", level))[0])


def lot_aware(faulty_by_lot: ArrayLike, tested_by_lot: ArrayLike, level: float = 0.95) -> Interval:
    """Return the lot-aware interval for one rate.

    Parameters
    ----------
    faulty_by_lot, tested_by_lot
        Whole numbers, one a lot, 0 <= faulty <= tested.
    level
        Two-sided confidence, between 0 and 1.

    Returns
    -------
    Interval
        From 0 to 1 when nothing was tested.

    Raises
    ------
    BadInput
        A count or the level is out of range; the message names it.

    Notes
    -----
    Korn & Graubard 1998, Survey Methodology 24:193-201, with the bounds that head this module.
    """
    low, high = _one_cell(faulty_by_lot, tested_by_lot).limits(check.inner("level", level))
    return Interval(float(low[0]), float(high[0]), level, "lot-aware (Korn-Graubard)")


def lot_aware_limits(
    faulty_by_lot: ArrayLike, tested_by_lot: ArrayLike, cell: ArrayLike, cells: int, level: float = 0.95
) -> tuple[FloatArray, FloatArray]:
    """Return the lot-aware limits of many cells at once.

    Parameters
    ----------
    faulty_by_lot, tested_by_lot
        Whole numbers, one a lot, 0 <= faulty <= tested.
    cell
        For each lot, the number of the cell it belongs to, from 0 to `cells` - 1; any order.
    cells
        Number of cells; one without lots is left open, 0 to 1.
    level
        Two-sided confidence, between 0 and 1.

    Returns
    -------
    low, high
        Rates, one a cell.

    Raises
    ------
    BadInput
        A count, a cell number or the level is out of range; the message names it.
    """
    return _Cells.of(faulty_by_lot, tested_by_lot, cell, cells).limits(check.inner("level", level))


def lot_aware_density(
    faulty_by_lot: ArrayLike, tested_by_lot: ArrayLike, bins: int = 100, level: float = 0.95
) -> FloatArray:
    """Return the lot-aware density of one rate, to be drawn as a strip; see `lot_aware_densities`."""
    some, total = check.lots(faulty_by_lot, tested_by_lot)
    density: FloatArray = lot_aware_densities(some, total, np.zeros(len(some)), 1, bins, level)[0]
    return density


def lot_aware_densities(
    faulty_by_lot: ArrayLike,
    tested_by_lot: ArrayLike,
    cell: ArrayLike,
    cells: int,
    bins: int = 100,
    level: float = 0.95,
) -> FloatArray:
    """Return the lot-aware density of many rates at once, each to be drawn as a strip.

    Parameters
    ----------
    faulty_by_lot, tested_by_lot, cell, cells, level
        As for `lot_aware_limits`.
    bins
        Number of equal bins from rate 0 to rate 1.

    Returns
    -------
    array of shape (cells, bins)
        Probability in each bin; a row sums to 1. Bins wholly outside the lot-aware interval hold exactly 0, so that a
        strip ends where the interval does.

    Raises
    ------
    BadInput
        A count, a cell number, `bins` or the level is out of range; the message names it.

    Notes
    -----
    Beta(x + 1/2, n_eff - x + 1/2) with x = n_eff times the observed rate, cut off at the lot-aware limits; flat when
    nothing was tested. This Beta (Jeffreys 1961, Theory of Probability) lies between the two whose quantiles the
    limits are. Strips whose darkness is probability: Jackson 2008, Am Stat 62:340-347.
    """
    sums = _Cells.of(faulty_by_lot, tested_by_lot, cell, cells)
    low, high = sums.limits(check.inner("level", level))
    edges = np.linspace(0, 1, check.one_whole("bins", bins, 1) + 1)
    below = betainc(*sums.beta(level), np.clip(edges, low[:, None], high[:, None]))
    density: FloatArray = np.diff(below, axis=1) / (below[:, -1:] - below[:, :1])
    return density


@dataclass(frozen=True, slots=True)
class _Cells:
    """Sums over the lots of each cell; `scatter` is sum((y - n p)^2), `squares` sum(n^2)."""

    lots: FloatArray
    tested: FloatArray
    faulty: FloatArray
    squares: FloatArray
    scatter: FloatArray

    @classmethod
    def of(cls, faulty_by_lot: ArrayLike, tested_by_lot: ArrayLike, cell: ArrayLike, cells: int) -> "_Cells":
        some, total = check.lots(faulty_by_lot, tested_by_lot)
        number = check.cell_numbers(cell, len(some), cells)

        def per_cell(value: FloatArray) -> FloatArray:
            return np.bincount(number, value, cells).astype(np.float64)

        tested, faulty = per_cell(total), per_cell(some)
        expected = total * (faulty / np.maximum(tested, 1))[number]
        return cls(per_cell(np.sign(total)), tested, faulty, per_cell(total**2), per_cell((some - expected) ** 2))

    @property
    def rate(self) -> FloatArray:
        """Share of faulty specimens, 0 where nothing was tested."""
        return self.faulty / np.maximum(self.tested, 1)

    @property
    def design_effect(self) -> FloatArray:
        independent = self.tested * self.rate * (1 - self.rate)
        measurable = (self.faulty > 0) & (self.faulty < self.tested) & (self.lots > 1)
        few = self.lots / np.maximum(self.lots - 1, 1)
        assumed = 1 + ASSUMED_CONCENTRATION * (self.squares / np.maximum(self.tested, 1) - 1)
        measured = few * self.scatter / np.where(measurable, independent, 1)
        return np.where(self.tested == 0, 1.0, np.where(measurable, measured, assumed))

    def effective(self, level: float) -> FloatArray:
        """Return the effective number of specimens, by the formula that heads the module."""
        tail = (1 + level) / 2
        # Cells are many, and their counts alike.
        free, which = np.unique(np.maximum((self.tested, self.lots), 2) - 1, return_inverse=True)
        many, few = stdtrit(free, tail)[which]
        shrunk = self.tested / np.maximum(self.design_effect, 1) * np.where(self.lots > 1, many / few, 0.0) ** 2
        as_lots = self.tested**2 / np.maximum(self.squares, 1)
        larger: FloatArray = np.maximum(shrunk, as_lots)
        return larger

    def limits(self, level: float) -> tuple[FloatArray, FloatArray]:
        size = self.effective(level)
        low, high = beta_limits(self.rate * size, size, level)
        return np.where(self.faulty == 0, 0.0, low), np.where(self.faulty == self.tested, 1.0, high)

    def beta(self, level: float) -> tuple[FloatArray, FloatArray]:
        """Return both parameters of the drawn Beta as columns; flat where nothing was tested."""
        size = np.where(self.tested > 0, self.effective(level), 0)
        prior = np.where(self.tested > 0, 0.5, 1.0)
        return (prior + self.rate * size)[:, None], (prior + (1 - self.rate) * size)[:, None]


def _one_cell(faulty_by_lot: ArrayLike, tested_by_lot: ArrayLike) -> _Cells:
    some, total = check.lots(faulty_by_lot, tested_by_lot)
    return _Cells.of(some, total, np.zeros(len(some)), 1)
