"""Priors: theta in coordinates where its prior is standard normal, and the effects given theta.

theta = (s_a, s_g, s_c, s_d, rho), each mapped through its prior's distribution function to a standard normal z. A
scale near 0 is then a bounded left tail instead of a cliff, and no step can leave the allowed range.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import log_ndtr, ndtr, ndtri

from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.design import PooledField

NAMES = ("s_a", "s_g", "s_c", "s_d", "rho")
SMALLEST_SCALE = 1e-3
"""Scales are kept above this: on the logit scale it is nothing, and its inverse square still inverts."""
OWN = 3.0
"""Standard deviation of an effect that is neither shared nor shrunk: wide, and still proper where all are faulty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Priors:
    """Priors of the pooled model, on the logit scale.

    Parameters
    ----------
    level
        Mean and standard deviation of b0, a normal.
    formats
        Standard deviation of b_format, a normal about 0.
    scales
        Scales of the half-normal priors of s_a, s_g, s_c, s_d.
    concentration
        rho ~ Beta(1, concentration).
    tails
        Degrees of freedom of maker and maker's-format effects; None for normal effects.
    cuts
        Standard deviation of the cut points of grades, normals about 0 kept in order.
    rho
        Hold rho at this value instead of learning it, 0 <= rho < 1; 0 is the binomial.
    own
        Cells, by index, that take an effect of their own, a normal of standard deviation `OWN`, whatever s_g is.
    """

    level: tuple[float, float] = (-2.0, 1.5)
    formats: float = 1.0
    scales: tuple[float, float, float, float] = (1.0, 1.0, 1.0, 0.5)
    concentration: float = 4.0
    tails: float | None = None
    cuts: float = 3.0
    rho: float | None = None
    own: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Theta:
    """Values of theta, each of shape (T,): scales on the logit scale and rho from 0 to 1."""

    s_a: FloatArray
    s_g: FloatArray
    s_c: FloatArray
    s_d: FloatArray
    rho: FloatArray

    def stacked(self) -> FloatArray:
        """Return the values in the order of `NAMES`, shape (5, T)."""
        return np.stack([self.s_a, self.s_g, self.s_c, self.s_d, self.rho])

    def take(self, which: np.ndarray) -> "Theta":
        """Return the values at the places `which`."""
        return Theta(*self.stacked().take(which, axis=1))


def natural(z: FloatArray, priors: Priors) -> Theta:
    """Return theta at standard normal coordinates `z` of shape (T, 5)."""
    # A half-normal with scale t has the quantile t * ndtri((1 + u) / 2); Beta(1, c) has 1 - (1 - u)**(1 / c).
    half = ndtri(0.5 + 0.5 * ndtr(z[:, :4])) * np.array(priors.scales)
    scales = np.maximum(half, SMALLEST_SCALE).T
    learned = -np.expm1(log_ndtr(-z[:, 4]) / priors.concentration)
    s_a, s_g, s_c, s_d = scales
    return Theta(s_a, s_g, s_c, s_d, np.full(len(z), priors.rho) if priors.rho is not None else learned)


@dataclass(frozen=True, slots=True)
class EffectPrior:
    """Prior of field columns and cut points given T values of theta: centres (G + J, 1), precisions (G + J, T).

    `heavy` marks columns with Student-t effects of `tails` degrees of freedom; their precision is that of the scale.
    """

    centre: FloatArray
    precision: FloatArray
    heavy: slice
    tails: float | None

    def evaluate(self, x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return log density (T,), up to a constant, with slope and positive curvature (G, T) at `x` (G, T)."""
        off = x - self.centre
        curvature, part = self.precision.copy(), -0.5 * self.precision * off**2
        if self.tails is not None:
            # The curvature of a t turns negative in its tails; the weight of its scale mixture bounds it from above.
            square = self.precision[self.heavy] * off[self.heavy] ** 2
            part[self.heavy] = -0.5 * (self.tails + 1) * np.log1p(square / self.tails)
            curvature[self.heavy] *= (self.tails + 1) / (self.tails + square)
        with np.errstate(divide="ignore"):  # a scale that overflows has precision 0 and density 0: log -inf is right
            norm = 0.5 * np.log(self.precision).sum(axis=0)
        return part.sum(axis=0) + norm, -curvature * off, curvature

    def take(self, which: np.ndarray) -> "EffectPrior":
        """Return the prior at the values of theta `which`."""
        return EffectPrior(self.centre, self.precision.take(which, axis=1), self.heavy, self.tails)


def effect_prior(field: PooledField, theta: Theta, priors: Priors, cuts: int) -> EffectPrior:
    """Return the prior of the field columns of `field` and of `cuts` cut points at each value of `theta`."""
    blocks, size = field.blocks, len(theta.rho)
    deviation = np.full((field.columns + cuts, size), priors.cuts)
    deviation[blocks["b0"]], deviation[blocks["b"]] = priors.level[1], priors.formats
    deviation[blocks["a"]], deviation[blocks["g"]], deviation[blocks["c"]] = theta.s_a, theta.s_g, theta.s_c
    deviation[blocks["g"].start + np.array(priors.own, dtype=np.int64)] = OWN
    centre = np.zeros((len(deviation), 1))
    centre[blocks["b0"]] = priors.level[0]
    return EffectPrior(centre, deviation**-2.0, slice(blocks["a"].start, blocks["g"].stop), priors.tails)
