"""Simulation-based calibration: truths drawn from the priors, small purchases, the engine's intervals and ranks.

If the engine is right, its 95 % intervals hold the truth in 95 % of ledgers, and the truth's rank among the draws is
uniform (Cook, Gelman & Rubin 2006, J Comput Graph Stat 15:675-692; Talts et al. 2018, arXiv:1804.06788).
"""

import numpy as np
from scipy.stats import chisquare

from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.correct import Draws
from qcledger.stats.pooled.design import BLOCKS, PooledField, PooledLot, arrange
from qcledger.stats.pooled.diagnostics import Health
from qcledger.stats.pooled.fit import fit
from qcledger.stats.pooled.priors import Priors, effect_prior, natural
from qcledger.stats.pooled.simulate import outcomes
from qcledger.stats.pooled.summaries import Posterior

MAKERS, FORMATS, PIGMENTS = 12, 2, 12
QUANTITIES = ("b0", "b", "a", "g", "c", "d", "own", "maker_own", "cell_rate", "cell_excess", "theta")


def one(seed: tuple[int, int], number: int) -> dict[str, object]:
    """Return the rank of the truth, from 0 to 1, of each quantity's units in one ledger."""
    rng = np.random.default_rng(seed)
    field, truth = _drawn(rng)
    found = fit(field, seed=number)
    return {
        name: np.round((_values(found, name) < _values(truth, name)).mean(axis=1), 4).tolist() for name in QUANTITIES
    }


def _drawn(rng: np.random.Generator) -> tuple[PooledField, Posterior]:
    """Return a field drawn from the priors and its truth, as a posterior of a single draw."""
    sizes = rng.integers(1, 3, (MAKERS, FORMATS, PIGMENTS))
    lots = [
        PooledLot(maker=m, format=f, paint=(m, p), pigments=(p,), tested=int(n), faulty=0)
        for (m, f, p), n in np.ndenumerate(sizes)
    ]
    field = arrange(lots)
    theta = natural(rng.normal(size=(1, 5)), Priors())
    prior = effect_prior(field, theta, Priors(), 0)
    x = prior.centre + rng.normal(size=prior.precision.shape) / np.sqrt(prior.precision)
    d = rng.normal(size=(len(field.paints), 1)) * theta.s_d
    faulty = outcomes(field, field.matrix @ x + d[field.paint_of_arm], theta.rho, rng)[:, 0]
    seen = field.with_counts(field.tested[field.row_of_lot], faulty)
    draws = Draws(np.zeros(1, dtype=np.int64), x, d, np.zeros(1, dtype=np.int64), 1.0, 1.0)
    return seen, Posterior(seen, draws, theta, Health(1, 1.0, 1.0, 1.0, np.zeros(1), 0.0, True))


def _values(posterior: Posterior, name: str) -> FloatArray:
    if name == "theta":
        return posterior.theta.stacked()
    if name == "d":
        return posterior.draws.d
    return posterior.block(name) if name in BLOCKS else getattr(posterior, name)


def coverage(rows: list[dict[str, list[float]]]) -> dict[str, tuple[float, float, float]]:
    """Return per quantity the share of ledgers' intervals that hold the truth, its standard error, and a p-value.

    Units of one ledger hang together, so each ledger counts once, by its mean; the p-value is that of the ranks of
    one unit per ledger, in ten classes, being uniform (chi-squared).
    """
    found = {}
    for name in QUANTITIES:
        ranks = np.array([row[name] for row in rows])
        held = ((ranks >= 0.025) & (ranks <= 0.975)).mean(axis=1)
        unit = ranks[np.arange(len(ranks)), np.arange(len(ranks)) % ranks.shape[1]]
        counts = np.histogram(unit, bins=10, range=(0, 1))[0]
        found[name] = (held.mean(), held.std(ddof=1) / np.sqrt(len(held)), float(chisquare(counts).pvalue))
    return found
