"""Likelihoods of what was seen in an arm, as functions of its linear predictor."""

from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np
from scipy import sparse

from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.design import IntArray, PooledField
from qcledger.stats.pooled.priors import Theta

FARTHEST = 35.0
"""Linear predictors are held within plus and minus this, where a rate is 6e-16 from 0 or 1."""


class Likelihood(Protocol):
    """What the engine asks of a likelihood; A arms, J cut points, T values of theta."""

    @property
    def start(self) -> FloatArray:
        """Where the cut points may start, shape (J,); empty where there are none."""

    def value_and_slope(
        self, eta: FloatArray, cuts: FloatArray, theta: Theta
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the log likelihood (T,) and its slopes in the linear predictors (A, T) and cut points (J, T)."""

    def curvature(self, eta: FloatArray, cuts: FloatArray, theta: Theta) -> "Curvature":
        """Return minus the second derivatives."""


@dataclass(frozen=True, slots=True)
class Curvature:
    """Minus the second derivatives of a log likelihood.

    Parameters
    ----------
    weight
        In each arm's linear predictor, made non-negative, (A, T).
    cross
        In linear predictor and cut point, (J, A, T).
    own
        In two cut points, (J, J, T).
    """

    weight: FloatArray
    cross: FloatArray
    own: FloatArray


@dataclass(frozen=True)
class BetaBinomial:
    """Lots whose rate is Beta-distributed about the arm's rate, with concentration rho, integrated out.

    With r = rho / (1 - rho) a lot has likelihood, up to the binomial coefficient,
    prod_{j<y} (pi + j r) * prod_{j<n-y} (1 - pi + j r) / prod_{j<n} (1 + j r)
    (Griffiths 1973, Biometrics 29:637-648). Equal factors of one arm are counted, so the cost grows with the arms and
    the largest lot, not with the number of lots; rho = 0 is the binomial without a special case.

    Several outcomes of the same purchases may stand side by side, one per column, as simulations do.

    Parameters
    ----------
    source
        For each kind of factor, its place in the stacked rates (pi of all arms, then 1 - pi of all arms), shape (N,).
    step
        j, shape (N, 1).
    times
        How many lots have this factor, shape (N, 1), or (N, T) for T outcomes.
    signed, unsigned
        Sums of factors over arms, sparse (A, N); sound factors count negative in `signed`.
    reach
        How many lots have more than j specimens, shape (J,), for the denominators.
    """

    source: IntArray
    step: FloatArray
    times: FloatArray
    signed: Any
    unsigned: Any
    reach: FloatArray

    @property
    def start(self) -> FloatArray:
        """No cut points."""
        return np.zeros(0)

    def value_and_slope(
        self, eta: FloatArray, cuts: FloatArray, theta: Theta
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return the log likelihood (T,), its slope (A, T) at linear predictors `eta` (A, T), and no more slopes."""
        rates, slope_of_rate = _rates(eta)
        r = theta.rho / (1 - theta.rho)
        factor = rates.take(self.source, axis=0)
        factor += self.step * r
        value = np.einsum("nt,nt->t", np.broadcast_to(self.times, factor.shape), np.log(factor))
        value -= self.reach @ np.log1p(np.arange(len(self.reach))[:, None] * r)
        return value, slope_of_rate * (self.signed @ np.divide(self.times, factor, out=factor)), cuts

    def curvature(self, eta: FloatArray, cuts: FloatArray, theta: Theta) -> Curvature:
        """Return minus the second derivative, made non-negative: a wholly faulty lot can turn it negative."""
        rates, slope_of_rate = _rates(eta)
        inverse = 1 / (rates.take(self.source, axis=0) + self.step * (theta.rho / (1 - theta.rho)))
        tilt = rates[len(eta) :] - rates[: len(eta)]
        once = self.times * inverse
        bend = slope_of_rate * (self.unsigned @ (once * inverse)) - tilt * (self.signed @ once)
        size = eta.shape[1]
        return Curvature(np.maximum(slope_of_rate * bend, 0.0), np.zeros((0, len(eta), size)), np.zeros((0, 0, size)))

    def take(self, which: Any) -> "BetaBinomial":
        """Return the likelihood of the outcomes `which`."""
        return replace(self, times=self.times[:, which])


def logistic(eta: FloatArray) -> FloatArray:
    """Return 1 / (1 + exp(-eta)); several times faster than scipy `expit` on large arrays."""
    return np.asarray(1 / (1 + np.exp(np.clip(-eta, -FARTHEST, FARTHEST))))


def _rates(eta: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return pi stacked on 1 - pi, shape (2A, T), and pi (1 - pi), shape (A, T)."""
    odds = np.exp(np.clip(eta, -FARTHEST, FARTHEST))
    sound = 1 / (1 + odds)
    faulty = odds * sound
    return np.concatenate([faulty, sound]), faulty * sound


def beta_binomial(field: PooledField) -> BetaBinomial:
    """Return the beta-binomial likelihood of `field`."""
    return _counted(field, field.arm_of_row, field.tested, field.faulty[:, None], field.lots[:, None])


def beta_binomials(field: PooledField, faulty: IntArray) -> BetaBinomial:
    """Return the likelihood of T outcomes of the purchases of `field`; `faulty` per lot, shape (L, T)."""
    arm, tested = field.arm_of_row[field.row_of_lot], field.tested[field.row_of_lot]
    return _counted(field, arm, tested, faulty, np.ones((len(arm), 1)))


def _counted(field: PooledField, arm: IntArray, tested: IntArray, faulty: IntArray, lots: FloatArray) -> BetaBinomial:
    arms, longest = len(field.paint_of_arm), int(tested.max())
    parts = (_reach(arm, faulty, lots, arms, longest), _reach(arm, tested[:, None] - faulty, lots, arms, longest))
    both = np.concatenate(parts)
    source, step = np.nonzero(both.any(axis=2))
    place = (source % arms, np.arange(len(source)))
    sign = np.where(source < arms, 1.0, -1.0)
    shape = (arms, len(source))
    return BetaBinomial(
        source=source,
        step=step[:, None].astype(np.float64),
        times=both[source, step],
        signed=sparse.csr_array((sign, place), shape=shape),
        unsigned=sparse.csr_array((np.ones(len(source)), place), shape=shape),
        reach=_reach(arm, tested[:, None], lots, arms, longest).sum(axis=(0, 2)),
    )


def _reach(arm: IntArray, count: IntArray, lots: FloatArray, arms: int, longest: int) -> FloatArray:
    """Return how many lots of each arm have a `count` above j, for each outcome, shape (arms, longest, T)."""
    outcomes = count.shape[1]
    exact = np.zeros((arms, longest + 1, outcomes))
    np.add.at(exact, (arm[:, None], count, np.arange(outcomes)), np.broadcast_to(lots, count.shape))
    return exact[:, ::-1].cumsum(axis=1)[:, ::-1][:, 1:]
