"""Limits for the share of scatter that lies between pieces, from pairs of looks at them, by random weights.

Kappa and alpha are both 1 less the scatter within pairs over that of all looks; they differ in where a grade stands.
"""

from dataclasses import dataclass

import numpy as np

from qcledger.stats.check import FloatArray

SHAPE, SPREAD, NOISE = 0.75, 0.5, 0.5
"""Shape of a pair's weight (less 1 / pairs); weight of the piece and of the pair added; see `limits`."""

SLIP_PAIRS = 20
"""Pairs at which the weight of a slip is as given; it grows with their root."""

DRAWS, SEED = 4000, 20261125
"""Draws of weights, and their seed."""


@dataclass(frozen=True, slots=True)
class Prior:
    """What is added to the pairs, because few pairs do not show it.

    Parameters
    ----------
    scale
        Where the whole grades stand, shape (..., grades); a piece is spread evenly over them.
    near
        Squared distance of a pair one grade apart, shape (...).
    far
        Squared distance of a pair of which one look was a slip.
    slip
        Weight of that pair at `SLIP_PAIRS`.
    tails
        Chance left out below and above, each as a multiple of half of 1 less the level.
    """

    scale: FloatArray
    near: FloatArray
    far: float
    slip: float
    tails: tuple[float, float]


def limits(middle: FloatArray, apart: FloatArray, prior: Prior, level: float) -> tuple[FloatArray, FloatArray]:
    """Return limits for 2 b / (2 b + w), b the variance between pieces and w the mean squared distance within pairs.

    Parameters
    ----------
    middle, apart
        Mean place and squared distance of the two looks, shape (..., pairs).
    prior
        What is added.
    level
        Two-sided confidence, between 0 and 1.

    Returns
    -------
    low, high
        Shape (...).

    Notes
    -----
    A Bayesian bootstrap (Rubin 1981, Ann Stat 9:130-134): pairs get random weights. Of our own, chosen by
    tests/bench/bench_agreement.py: weights scatter somewhat more than Rubin's; half a piece is spread evenly over the
    scale, since few pieces rarely hold the rare grades; half a pair, equal or one grade apart, stands for the noise
    that ten equal pairs do not show; a pair far apart, with next to no weight in most draws, stands for the slip that
    no pair has shown yet. It lengthens the low end alone; so the high end may be missed somewhat more often. Weights
    are drawn from a fixed seed and given to the pairs in the order of their places.
    """
    order = np.argsort(middle * 1000 + apart, axis=-1)
    middle, apart = (np.take_along_axis(part, order, axis=-1) for part in (middle, apart))
    pairs, rng = middle.shape[-1], np.random.default_rng(SEED)
    shape = SHAPE - 1 / pairs
    weights = rng.gamma(shape, size=(pairs, DRAWS))
    spread = rng.gamma(SPREAD / prior.scale.shape[-1], size=(prior.scale.shape[-1], DRAWS))
    equal, one_apart = rng.gamma(NOISE / 2, size=(2, DRAWS))
    slip = rng.gamma(prior.slip * (pairs / SLIP_PAIRS) ** 0.5, size=DRAWS)
    ours, added = weights.sum(axis=0), spread.sum(axis=0)
    noise = np.multiply.outer(prior.near, one_apart) + prior.far * slip
    within = (apart @ weights + noise) / (ours + equal + one_apart + slip)
    mean = (middle @ weights + prior.scale @ spread) / (ours + added)
    total = (middle**2 @ weights + prior.scale**2 @ spread) / (ours + added) - mean**2
    # A weighted variance is short by one in so many pieces, and a quarter of what looks scatter is still in it.
    between = total * (1 + 1 / (pairs * shape + SPREAD)) - ours / (ours + added) * within / 4
    between = np.maximum(between, 0.0)
    left_out = [(1 - level) / 2 * tail for tail in prior.tails]
    low, high = np.quantile(2 * between / (2 * between + within), (left_out[0], 1 - left_out[1]), axis=-1)
    return low, high
