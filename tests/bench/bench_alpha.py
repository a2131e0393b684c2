"""How often intervals for Krippendorff's alpha hold the truth: ``python -m tests.bench.bench_alpha [RUNS]``.

Two simulated testers look at the same pieces; `testers.py` says how. The truth is the ordinal alpha of infinitely
many pieces. Tables kept: alpha_held_out.txt of testers tried once, after the method was frozen, and
alpha_coverage.txt of those on which it was chosen.
"""

import sys

import numpy as np
from scipy.special import stdtrit

from qcledger.stats.alpha import alpha_limits
from tests.bench.bench_agreement import FEW, SEED, in_parts, keep, left_out, table
from tests.bench.testers import alpha_of, held_out, tuned_two

HELD = 20261127
"""Seed of the pairs of testers held out."""


def alpha(one, other):
    """Return ordinal alpha along the last axis, by the place of each grade among all."""
    both = np.concatenate([one, other], axis=-1)[..., None, :]
    mine, yours = (((both < part[..., None]) + 0.5 * (both == part[..., None])).mean(-1) for part in (one, other))
    places = np.concatenate([mine, yours], axis=-1)
    size = places.shape[-1]
    return 1 - (size - 1) / size * ((mine - yours) ** 2).mean(-1) / np.maximum(2 * places.var(-1), 1e-12)


def jackknife_z(one, other):
    """Return a jackknife interval on the scale of atanh."""
    pairs = one.shape[-1]
    z, without = (np.arctanh(np.clip(alpha(*part), -0.999, 0.999)) for part in ((one, other), left_out(one, other)))
    half = stdtrit(pairs - 1, 0.975) * np.sqrt((pairs - 1) ** 2 / pairs * without.var(-1, ddof=1))
    return np.tanh(z - half), np.tanh(z + half)


def bootstrap(one, other, draws=200):
    """Return the percentile bootstrap over pieces."""
    pairs = one.shape[-1]
    pick = np.random.default_rng(SEED).integers(0, pairs, (draws, pairs))
    drawn = [np.array(alpha(one[:, own], other[:, own])) for own in pick]
    return np.quantile(drawn, [0.025, 0.975], axis=0)


WEIGHTED = {"in use": in_parts(alpha_limits)}
METHODS = {"bootstrap": in_parts(bootstrap), "jackknife z": in_parts(jackknife_z, 100), **WEIGHTED}


def chosen(runs):
    """Yield the tables of the testers on which the method was chosen."""
    for slip in (0.0, 0.02):
        title = f"Intervals for alpha, slips in {slip:.0%} of looks, seed {SEED}"
        yield from table(title, tuned_two(slip), runs, METHODS, alpha_of, FEW)


def held(runs):
    """Yield the table of the testers held out."""
    title = f"Pairs of testers held out, seed {HELD}: tried once, after the method was frozen"
    yield from table(title, held_out(HELD, two=True), runs, WEIGHTED, alpha_of)


if __name__ == "__main__":
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    keep("alpha_held_out.txt", held(runs))
    keep("alpha_coverage.txt", chosen(runs))
