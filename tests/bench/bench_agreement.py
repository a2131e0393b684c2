"""How often intervals for agreement hold the truth: ``python tests/bench/bench_agreement.py [RUNS]``.

A simulated tester looks twice, independently, at pieces of true grade 0 to 5. What he writes is the grade nearest
to the true one plus normal noise, in whole or half grades. The truth is the kappa of infinitely many pieces. Sets
in which every grade is the same have no kappa and are left out. The table is kept in agreement_coverage.txt.
"""

import sys
from datetime import UTC, datetime
from itertools import product
from pathlib import Path

import numpy as np
from scipy.special import fdtri, ndtr, stdtrit

from qcledger.stats.agreement import kappa_limits

SEED = 20261125
PAIRS = (10, 20, 40)
PIECES = {
    "even": [1 / 6] * 6,
    "traits": [0.05, 0.15, 0.3, 0.3, 0.15, 0.05],
    "faults": [0.45, 0.25, 0.12, 0.09, 0.05, 0.04],
}
NOISE = (0.35, 0.5, 0.8)
STEPS = (1.0, 0.5)


def tester(pieces, noise, step):
    """Return the grades offered and the chance of each two grades of one piece, shape (grades, grades)."""
    grades = np.arange(0, 5 + step / 2, step)
    below = ndtr((grades[:-1] + step / 2 - np.arange(6)[:, None]) / noise)
    look = np.diff(below, axis=1, prepend=0.0, append=1.0)
    return grades, np.einsum("t,ti,tj->ij", np.array(pieces), look, look)


def true_kappa(grades, chance):
    """Return the quadratic weighted kappa of infinitely many pieces."""
    apart = np.subtract.outer(grades, grades) ** 2
    return 1 - (apart * chance).sum() / (apart * np.outer(chance.sum(1), chance.sum(0))).sum()


def sets(grades, chance, runs, pairs, rng):
    """Return first and second grades, shape (sets, pairs), of the sets that have a kappa."""
    cells = rng.choice(chance.size, (runs, pairs), p=chance.ravel() / chance.sum())
    one, other = grades[cells // len(grades)], grades[cells % len(grades)]
    has = (np.concatenate([one, other], axis=1) != one[:, :1]).any(axis=1)
    return one[has], other[has]


def kappa(one, other, added=0.0):
    """Return kappa along the last axis, with `added` squared grades of disagreement mixed in."""
    pairs = one.shape[-1]
    apart = ((one - other) ** 2).mean(-1) + added / pairs
    chance = one.var(-1) + other.var(-1) + (one.mean(-1) - other.mean(-1)) ** 2 + added / pairs
    return 1 - apart / np.where(chance > 0, chance, np.inf)


def left_out(one, other):
    """Return the sets with each pair left out in turn, shape (sets, pairs, pairs - 1)."""
    pairs = one.shape[-1]
    kept = np.array([[j for j in range(pairs) if j != i] for i in range(pairs)])
    return one[:, kept], other[:, kept]


def usual(one, other):
    """Return kappa -+ 1.96 standard errors (Fleiss, Cohen & Everitt 1969, by influence)."""
    apart = ((one - other) ** 2).mean(-1, keepdims=True)
    mine, yours = one.mean(-1, keepdims=True), other.mean(-1, keepdims=True)
    chance = one.var(-1, keepdims=True) + other.var(-1, keepdims=True) + (mine - yours) ** 2
    pulls = (one - yours) ** 2 + other.var(-1, keepdims=True) + (other - mine) ** 2 + one.var(-1, keepdims=True)
    pull = ((one - other) ** 2 - apart) / chance - apart / chance**2 * (pulls - 2 * chance)
    half = 1.96 * np.sqrt((pull**2).mean(-1) / one.shape[-1])
    return kappa(one, other) - half, kappa(one, other) + half


def ratio_f(one, other):
    """Return the F interval of the one-way intraclass correlation (Shrout & Fleiss 1979)."""
    pairs = one.shape[-1]
    ratio = 2 * ((one + other) / 2).var(-1, ddof=1) / np.maximum(((one - other) ** 2).mean(-1) / 2, 1e-12)
    low, high = ratio / fdtri(pairs - 1, pairs, 0.975), ratio * fdtri(pairs, pairs - 1, 0.975)
    return (low - 1) / (low + 1), (high - 1) / (high + 1)


def fisher_z(one, other):
    """Return tanh(atanh(kappa) -+ 1.96 / sqrt(pairs - 1.5))."""
    z, half = np.arctanh(np.clip(kappa(one, other), -0.999999, 0.999999)), 1.96 / (one.shape[-1] - 1.5) ** 0.5
    return np.tanh(z - half), np.tanh(z + half)


def jackknife_z(one, other, weight=0.0):
    """Return a jackknife interval on the scale of atanh, its variance mixed with `weight` pairs of the normal one."""
    pairs = one.shape[-1]
    z, without = (np.arctanh(np.clip(kappa(*part, 0.5), -0.999999, 0.999999))
                  for part in ((one, other), left_out(one, other)))  # fmt: skip
    spread = (pairs - 1) ** 2 / pairs * without.var(-1, ddof=1)
    mixed = (pairs * spread + weight / (pairs - 1.5)) / (pairs + weight)
    half = stdtrit(pairs - 1, 0.975) * np.sqrt(mixed)
    return np.tanh(z - half), np.tanh(z + half)


def bootstrap(one, other, draws=400):
    """Return the percentile bootstrap."""
    pairs, rng, limits = one.shape[-1], np.random.default_rng(SEED), []
    for part in range(0, len(one), 200):
        pick = rng.integers(0, pairs, (draws, pairs))
        drawn = kappa(one[part : part + 200][:, pick], other[part : part + 200][:, pick])
        limits.append(np.quantile(drawn, [0.025, 0.975], axis=1))
    return np.concatenate(limits, axis=1)


METHODS = {
    "usual": usual,
    "bootstrap": bootstrap,
    "F": ratio_f,
    "Fisher z": fisher_z,
    "jackknife z": jackknife_z,
    "mixed z": lambda one, other: jackknife_z(one, other, 10.0),
    "in use": lambda one, other: tuple(
        np.concatenate(part) for part in zip(
            *(kappa_limits(one[i : i + 250], other[i : i + 250]) for i in range(0, len(one), 250)), strict=True
        )
    ),
}  # fmt: skip


def covered(pieces, noise, step, pairs, runs, methods=METHODS):
    """Return the true kappa and, for each method, the share of sets whose interval holds it."""
    rng = np.random.default_rng([SEED, pairs, int(100 * noise), int(2 * step), len(pieces)])
    grades, chance = tester(PIECES[pieces], noise, step)
    truth = true_kappa(grades, chance)
    one, other = sets(grades, chance, runs, pairs, rng)
    limits = {name: method(one, other) for name, method in methods.items()}
    return truth, {name: float(((low <= truth) & (truth <= high)).mean()) for name, (low, high) in limits.items()}


def lines(runs):
    """Yield the table."""
    yield f"Intervals for agreement, seed {SEED}, {runs} sets each, {datetime.now(UTC):%Y-%m-%d}"
    yield "Share of sets whose 95 % interval holds the true quadratic weighted kappa"
    yield f"{'pieces':8}{'step':>5}{'noise':>6}{'kappa':>7}{'pairs':>6}" + "".join(f"{name:>12}" for name in METHODS)
    kept = {}
    for step, pieces, noise, pairs in product(STEPS, PIECES, NOISE, PAIRS):
        truth, found = covered(pieces, noise, step, pairs, runs)
        kept[step, pieces, noise, pairs] = found
        yield f"{pieces:8}{step:5}{noise:6}{truth:7.3f}{pairs:6}" + "".join(f"{x:12.3f}" for x in found.values())
    for pairs in PAIRS:
        for name in METHODS:
            own = [found[name] for key, found in kept.items() if key[-1] == pairs]
            inside = sum(0.93 <= x <= 0.97 for x in own)
            ends = f"{min(own):.3f} to {max(own):.3f}, mean {np.mean(own):.3f}"
            yield f"{pairs} pairs, {name:12} {ends}, {inside} of {len(own)} inside 93 to 97 %"


if __name__ == "__main__":
    place = Path(__file__).with_name("agreement_coverage.txt")
    with place.open("w", encoding="utf-8") as kept:
        for line in lines(int(sys.argv[1]) if len(sys.argv) > 1 else 2000):
            print(line, flush=True)
            kept.write(line + "\n")
