"""What the draws say about each cell, maker, format, pigment, paint and lot.

A rate is standardised: averaged over the field's own mix of pigments and over the paints a maker might make
(d ~ N(0, s_d)), so that rates of makers who sell different pigments may be compared. An excess is that rate less the
same average with a = g = 0.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import RectBivariateSpline
from scipy.special import betaincc

from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.correct import Draws
from qcledger.stats.pooled.design import PooledField
from qcledger.stats.pooled.diagnostics import Health
from qcledger.stats.pooled.likelihoods import logistic
from qcledger.stats.pooled.priors import Theta

NODES = np.array([-np.sqrt(3.0), 0.0, np.sqrt(3.0)])
NODE_WEIGHTS = np.array([1 / 6, 2 / 3, 1 / 6])
"""Gauss-Hermite, three nodes: exact to the fifth power of d."""
KNOTS = 24
"""Values along each side of a table that is read between its values."""


@dataclass(frozen=True, slots=True)
class Summary:
    """Posterior of U units: each array of shape (U,); `level` is the credible level of `low` to `high`."""

    mean: FloatArray
    sd: FloatArray
    low: FloatArray
    high: FloatArray
    level: float


def above_others(rate: FloatArray) -> FloatArray:
    """Return the share of draws in which each rate exceeds the mean of the others; draws (U, N), result (U,).

    A half each where there is nothing else to exceed.
    """
    if len(rate) < 2:
        return np.full(len(rate), 0.5)
    others = (rate.sum(axis=0) - rate) / (len(rate) - 1)
    return np.asarray((rate > others).mean(axis=1))


@dataclass(frozen=True)
class Posterior:
    """Draws from the posterior of a field and everything read off them.

    Parameters
    ----------
    field
        What was tested.
    draws
        N draws of effects.
    theta
        Values of theta, each (N,).
    health
        Diagnostics of the run.
    level
        Credible level of intervals.
    """

    field: PooledField
    draws: Draws
    theta: Theta
    health: Health
    level: float = 0.95

    def block(self, name: str) -> FloatArray:
        """Return the draws of one block of field columns, shape (size, N)."""
        return self.draws.x[self.field.blocks[name]]

    @cached_property
    def own(self) -> FloatArray:
        """Own effect a + g of each cell, shape (C, N)."""
        return self.block("a")[self.field.maker_of_cell] + self.block("g")

    @cached_property
    def maker_own(self) -> FloatArray:
        """Own effect of each maker: a plus the mean g of its tested formats, shape (M, N)."""
        cells = np.bincount(self.field.maker_of_cell)
        total = np.zeros_like(self.block("a"))
        np.add.at(total, self.field.maker_of_cell, self.own)
        return total / cells[:, None]

    @cached_property
    def cell_rate(self) -> FloatArray:
        """Standardised rate of each cell, shape (C, N)."""
        return self._standard(self._format_level[self.field.format_of_cell] + self.own)

    @cached_property
    def cell_excess(self) -> FloatArray:
        """Excess of each cell's rate over the field's in its format, shape (C, N)."""
        return self.cell_rate - self.format_rate[self.field.format_of_cell]

    @cached_property
    def format_rate(self) -> FloatArray:
        """Standardised rate of the field in each format, shape (F, N)."""
        return self._standard(self._format_level)

    @cached_property
    def maker_rate(self) -> FloatArray:
        """Standardised rate of each maker over its own formats, weighted by specimens, shape (M, N)."""
        return self._by_format(self.own)

    @cached_property
    def maker_excess(self) -> FloatArray:
        """Excess of each maker's rate over the field's in the same formats, shape (M, N)."""
        return self.maker_rate - self._by_format(np.zeros_like(self.own))

    @cached_property
    def pigment_rate(self) -> FloatArray:
        """Rate of a paint of each pigment at an ordinary maker, over the field's formats, shape (P, N)."""
        total: FloatArray = np.zeros_like(self.block("c"))
        for f, share in enumerate(self._format_shares):
            total += share * self._over_paints(self._format_level[f] + self.block("c"))
        return total

    @cached_property
    def arm_rate(self) -> FloatArray:
        """Rate of each paint in each format, shape (A, N)."""
        return logistic(self.field.matrix @ self.draws.x + self.draws.d[self.field.paint_of_arm])

    def probability(self, unit: str, beyond: float = 0.0) -> FloatArray:
        """Return P(excess > `beyond`) of each "cell" or "maker"."""
        excess = self.cell_excess if unit == "cell" else self.maker_excess
        return np.asarray((excess > beyond).mean(axis=1))

    def paint_above(self) -> FloatArray:
        """Return P(own effect d > 0) of the paint of each arm, shape (A,)."""
        return np.asarray((self.draws.d > 0).mean(axis=1)[self.field.paint_of_arm])

    def summarise(self, values: FloatArray) -> Summary:
        """Return mean, standard deviation and equal-tailed interval of draws `values`, shape (U, N)."""
        tail = (1 - self.level) / 2
        low, high = np.quantile(values, [tail, 1 - tail], axis=1)
        return Summary(values.mean(axis=1), values.std(axis=1), low, high, self.level)

    def lot_rate(self) -> tuple[FloatArray, FloatArray]:
        """Return mean and standard deviation of each lot's own rate, shape (L,), in the order the lots were given.

        Given the arm's rate and rho a lot's rate is Beta(pi s + y, (1 - pi) s + n - y), s = (1 - rho) / rho.
        """
        pi, strength = self.arm_rate[self.field.arm_of_row], (1 - self.theta.rho) / self.theta.rho
        total = strength + self.field.tested[:, None]
        mean = (pi * strength + self.field.faulty[:, None]) / total
        spread = np.sqrt(mean.var(axis=1) + (mean * (1 - mean) / (total + 1)).mean(axis=1))
        return mean.mean(axis=1)[self.field.row_of_lot], spread[self.field.row_of_lot]

    def lot_above(self, most: int = 400) -> FloatArray:
        """Return P(lot's own rate > its arm's rate), shape (L,), from `most` draws spread over the run."""
        some = np.linspace(0, self.draws.x.shape[1] - 1, most).astype(np.int64)
        eta = self.field.matrix @ self.draws.x[:, some] + self.draws.d[self.field.paint_of_arm][:, some]
        strength = np.log((1 - self.theta.rho[some]) / self.theta.rho[some])
        kinds, kind = np.unique([self.field.faulty, self.field.tested], axis=1, return_inverse=True)
        above = np.empty(len(kind))
        for number, (faulty, tested) in enumerate(kinds.T.tolist()):
            rows = np.flatnonzero(kind == number)
            own = eta[self.field.arm_of_row[rows]]
            curve = _above_its_arm(faulty, tested, (own.min(), own.max()), (strength.min(), strength.max()))
            above[rows] = curve(own, strength[None, :], grid=False).mean(axis=1)
        return above[self.field.row_of_lot]

    @property
    def _format_level(self) -> FloatArray:
        return np.asarray(self.block("b0") + self.block("b"))

    @cached_property
    def _cell_weights(self) -> FloatArray:
        arms = np.add.reduceat(self.field.tested * self.field.lots, self.field.arm_starts)
        return np.asarray(
            np.bincount(self.field.cell_of_arm, arms, minlength=len(self.field.cells)), dtype=np.float64
        )

    @property
    def _format_shares(self) -> FloatArray:
        return np.asarray(np.bincount(self.field.format_of_cell, self._cell_weights) / self._cell_weights.sum())

    def _by_format(self, own: FloatArray) -> FloatArray:
        """Average the rates of cells with effects `own` (C, N) over each maker's formats, by specimens."""
        rate = self._standard(self._format_level[self.field.format_of_cell] + own)
        maker, weight = self.field.maker_of_cell, self._cell_weights
        total = np.zeros((len(self.field.makers), rate.shape[1]))
        np.add.at(total, maker, (weight / np.bincount(maker, weight)[maker])[:, None] * rate)
        return total

    def _standard(self, level: FloatArray) -> FloatArray:
        total = np.zeros_like(level)
        for share, effect in zip(self.field.pigment_shares, self.block("c"), strict=True):
            total += share * self._over_paints(level + effect)
        return total

    def _over_paints(self, eta: FloatArray) -> FloatArray:
        parts = (w * logistic(eta + node * self.theta.s_d) for node, w in zip(NODES, NODE_WEIGHTS, strict=True))
        return np.asarray(sum(parts))


def _above_its_arm(
    faulty: int, tested: int, eta: tuple[float, float], strength: tuple[float, float]
) -> RectBivariateSpline:
    """Return P(a lot's own rate > its arm's) as a function of the arm's rate as a logit and of log((1 - rho) / rho).

    The function is smooth: a spline through `KNOTS` x `KNOTS` values lies within 0.00001 of it and takes a twentieth
    of the time of the incomplete beta function at each draw of each lot.
    """
    across, along = (np.linspace(low - 1e-6, high + 1e-6, KNOTS) for low, high in (eta, strength))
    pi, s = logistic(across)[:, None], np.exp(along)[None, :]
    return RectBivariateSpline(across, along, betaincc(pi * s + faulty, (1 - pi) * s + tested - faulty, pi))
