"""How far the numbers may be trusted: Monte-Carlo error from many chains, tail index of weights, a plain verdict."""

from dataclasses import dataclass

import numpy as np
from scipy.stats import genpareto

from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.design import IntArray

FEWEST_POINTS, ENOUGH_POINTS = 20, 150
"""Effective design points below which nobody is accused, and below which more are added and the run says so."""


@dataclass(frozen=True, slots=True)
class Health:
    """What a run says about itself.

    Parameters
    ----------
    draws
        Number of draws.
    accepted, moved
        Shares of effect moves and theta moves that were accepted, 0 to 1.
    design_size
        Effective number of design points of theta.
    log_weight
        Logs of the theta design's weights, for `tail_index`.
    worst_error
        Largest Monte-Carlo standard error among the cells' probabilities of a positive excess, 0 to 1.
    settled
        Whether every mode was found.
    """

    draws: int
    accepted: float
    moved: float
    design_size: float
    log_weight: FloatArray
    worst_error: float
    settled: bool

    @property
    def tail_index(self) -> float:
        """Pareto index of the theta design's weights; under 0.7 they average well. Fitted only where asked for."""
        return tail_index(self.log_weight)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Return one plain sentence for each thing that went badly; empty when all is well."""
        checks = (
            (self.settled, "a mode was not found"),
            (self.accepted >= 0.5, f"only {self.accepted:.0%} of effect moves were accepted"),
            (self.moved >= 0.15, f"only {self.moved:.0%} of moves of the scales were accepted"),
            (self.design_size >= FEWEST_POINTS, f"only {self.design_size:.0f} design points carry the scales"),
            (self.worst_error <= 0.02, f"a probability is uncertain by {self.worst_error:.3f} from chance alone"),
        )
        return tuple(sentence for well, sentence in checks if not well)

    @property
    def remarks(self) -> tuple[str, ...]:
        """Return what is worth knowing, though it holds nothing back; empty when all is well."""
        if not FEWEST_POINTS <= self.design_size < ENOUGH_POINTS:
            return ()
        points = f"{self.design_size:.0f} design points carry the scales, fewer than {ENOUGH_POINTS}"
        return (f"{points}: probabilities may be out by some hundredths",)


def pair_error(values: FloatArray, pair: IntArray) -> FloatArray:
    """Return the Monte-Carlo standard error of the means of `values`, shape (V,).

    Parameters
    ----------
    values
        Draws (V, N).
    pair
        Mirrored pair of chains of each draw (N,), as many draws of each.

    Notes
    -----
    The spread of the pairs' own means over the root of their number: right whatever the correlation within a pair.
    """
    order = np.argsort(pair, kind="stable")
    pairs = int(pair.max()) + 1
    means = values[:, order].reshape(len(values), pairs, -1).mean(axis=2)
    return np.asarray(means.std(axis=1, ddof=1) / np.sqrt(pairs))


def tail_index(log_weight: FloatArray) -> float:
    """Return the Pareto tail index of importance weights.

    A generalised Pareto distribution is fitted to the largest of them, as in Vehtari, Simpson, Gelman, Yao & Gabry
    2024, J Mach Learn Res 25:72; above 0.7 averages with these weights are not to be trusted.
    """
    size = len(log_weight)
    top = int(min(size / 5, 3 * np.sqrt(size)))
    if top < 5:
        return float("inf")
    ordered = np.sort(np.exp(log_weight - log_weight.max()))
    over = ordered[-top:] - ordered[-top - 1]
    if over[-1] <= 0:
        return float("-inf")
    return float(genpareto.fit(over[over > 0], floc=0)[0])
