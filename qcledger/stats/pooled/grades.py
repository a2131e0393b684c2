"""The second likelihood: grades from 0 to 5 by a cumulative logit, lots as normal effects integrated out.

A specimen of grade y in lot l has P(y <= j) = expit(tau_j - eta - u_l), u_l ~ N(0, s_lot). rho keeps its meaning as
the share of the latent variance that lies between lots: s_lot^2 = rho / (1 - rho) * pi^2 / 3, where pi^2 / 3 is the
variance of a logistic. There is no b0: the cut points tau take its place.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import sparse
from scipy.special import logit

from qcledger.errors import bad
from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.design import IntArray, PooledField, PooledLot, arrange
from qcledger.stats.pooled.likelihoods import FARTHEST, Curvature
from qcledger.stats.pooled.priors import Theta

NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(11)
LOG_WEIGHTS = np.log(_WEIGHTS / _WEIGHTS.sum())
TINY = 1e-290
"""Stands in for a chance of 0, as where cut points have crossed: its logarithm refuses the step."""
NUDGE = 1e-4
"""Step of the difference quotients of the slope, on the logit scale."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GradedLot:
    """One lot with the grade of each of its specimens; other fields as of `PooledLot`."""

    maker: Hashable
    format: Hashable
    paint: Hashable
    pigments: tuple[Hashable, ...]
    grades: tuple[float, ...]


def arrange_graded(lots: Sequence[GradedLot]) -> tuple[PooledField, "CumulativeLogit"]:
    """Return the field that graded `lots` make up, with its likelihood.

    Categories are the grades that occur, in order.

    Raises
    ------
    BadInput
        As `arrange` does, or when all grades are the same: then nothing can be compared.
    """
    field = arrange([_counted(lot) for lot in lots])
    grades = np.unique(np.concatenate([lot.grades for lot in lots]))
    if len(grades) < 2:
        raise bad("grades", f"only {grades[0]:g}", "at least two different grades")
    counts = np.array([[np.sum(np.equal(lot.grades, grade)) for grade in grades] for lot in lots])
    return field, cumulative_logit(field.arm_of_row[field.row_of_lot], len(field.paint_of_arm), counts, grades)


def _counted(lot: GradedLot) -> PooledLot:
    return PooledLot(
        maker=lot.maker, format=lot.format, paint=lot.paint, pigments=lot.pigments, tested=len(lot.grades), faulty=0
    )


@dataclass(frozen=True)
class CumulativeLogit:
    """Cumulative logit of graded lots; R distinct lots, A arms, J + 1 categories, N pairs of an arm and a category.

    Parameters
    ----------
    grades
        The categories' grades, rising, shape (J + 1,).
    arm, category
        The pairs that occur, shape (N,).
    counts
        Specimens of each pair in each distinct lot, sparse (R, N).
    lots
        How many lots look so, shape (R,).
    to_arm, to_category
        Sums over the pairs of an arm, sparse (A, N), and of a category, sparse (J + 1, N).
    share
        Share of all specimens in each category, shape (J + 1,).
    """

    grades: FloatArray
    arm: IntArray
    category: IntArray
    counts: Any
    lots: FloatArray
    to_arm: Any
    to_category: Any
    share: FloatArray

    @property
    def start(self) -> FloatArray:
        """Cut points that give each category its share."""
        return np.asarray(logit(np.cumsum(self.share)[:-1]))

    def value_and_slope(
        self, eta: FloatArray, cuts: FloatArray, theta: Theta
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the log likelihood (T,) and its slopes in linear predictors (A, T) and cut points (J, T)."""
        below, above = self._odds(eta, cuts)
        spread = np.pi * np.sqrt(theta.rho / (1 - theta.rho) / 3)
        shifts = np.exp(-NODES[:, None] * spread)
        parts = np.stack([self.counts @ np.log(_chance(below * shift, above * shift)) for shift in shifts])
        parts += LOG_WEIGHTS[:, None, None]
        most = parts.max(axis=0)
        parts = np.exp(parts - most)
        total = parts.sum(axis=0)
        scale = self.lots[:, None] / total
        at_low, at_high = np.zeros_like(below), np.zeros_like(above)
        for part, shift in zip(parts, shifts, strict=True):
            low, high = _slopes(below * shift, above * shift)
            times = self.counts.T @ (part * scale)
            at_low += times * low
            at_high += times * high
        slope_cuts = (self.to_category @ at_high)[:-1] - (self.to_category @ at_low)[1:]
        return self.lots @ (np.log(total) + most), self.to_arm @ (at_low - at_high), slope_cuts

    def curvature(self, eta: FloatArray, cuts: FloatArray, theta: Theta) -> Curvature:
        """Return minus the second derivatives, as central differences of the slopes.

        An arm's slope depends on its own linear predictor alone, so all arms are nudged at once.
        """
        up, down = (self.value_and_slope(eta + step, cuts, theta) for step in (NUDGE, -NUDGE))
        weight = (down[1] - up[1]) / (2 * NUDGE)
        cross = np.empty((len(cuts), *eta.shape))
        own = np.empty((len(cuts), *cuts.shape))
        for j in range(len(cuts)):
            nudge = np.zeros_like(cuts)
            nudge[j] = NUDGE
            up, down = (self.value_and_slope(eta, cuts + step, theta) for step in (nudge, -nudge))
            cross[j], own[j] = (down[1] - up[1]) / (2 * NUDGE), (down[2] - up[2]) / (2 * NUDGE)
        return Curvature(np.maximum(weight, 0.0), cross, (own + own.transpose(1, 0, 2)) / 2)

    def _odds(self, eta: FloatArray, cuts: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the odds of a grade under each pair's category, and of one in or under it, both (N, T)."""
        edge = np.full((1, cuts.shape[1]), FARTHEST * 2)
        ends = np.concatenate([-edge, cuts, edge])
        here = eta.take(self.arm, axis=0)
        below = np.exp(np.clip(ends.take(self.category, axis=0) - here, -FARTHEST, FARTHEST))
        return below, np.exp(np.clip(ends.take(self.category + 1, axis=0) - here, -FARTHEST, FARTHEST))


def _chance(below: FloatArray, above: FloatArray) -> FloatArray:
    """Return above / (1 + above) - below / (1 + below) without cancellation."""
    return np.maximum((above - below) / ((1 + above) * (1 + below)), TINY)


def _slopes(below: FloatArray, above: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the slopes of the log chance in the lower cut point, sign reversed, and in the upper one."""
    gap, ratio = above - below, (1 + above) / (1 + below)
    # Where cut points have crossed nothing is to be followed, only refused.
    inverse = np.where(gap > 0, 1 / np.where(gap > 0, gap, 1.0), 0.0)
    return below * ratio * inverse, above / ratio * inverse


def cumulative_logit(arm_of_lot: IntArray, arms: int, counts: IntArray, grades: FloatArray) -> CumulativeLogit:
    """Return the likelihood of lots in `arm_of_lot` (L,) with `counts` (L, J + 1) of specimens of each grade."""
    table, times = np.unique(np.column_stack([arm_of_lot, counts]), axis=0, return_counts=True)
    counts = table[:, 1:]
    row, category = np.nonzero(counts)
    pairs, pair = np.unique(table[row, 0] * len(grades) + category, return_inverse=True)
    arm, kind, place = pairs // len(grades), pairs % len(grades), np.arange(len(pairs))
    one = np.ones(len(pairs))
    seen = (counts[row, category].astype(np.float64), (row, pair))
    return CumulativeLogit(
        grades=np.asarray(grades, dtype=np.float64),
        arm=arm,
        category=kind,
        counts=sparse.csr_array(seen, shape=(len(table), len(pairs))),
        lots=times.astype(np.float64),
        to_arm=sparse.csr_array((one, (arm, place)), shape=(arms, len(pairs))),
        to_category=sparse.csr_array((one, (kind, place)), shape=(len(grades), len(pairs))),
        share=(times @ counts) / (times @ counts).sum(),
    )
