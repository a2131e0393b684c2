"""How often intervals for kappa hold the truth: ``python -m tests.bench.bench_agreement [RUNS] [chosen] [held]``.

A simulated tester looks twice, independently, at pieces of true grade 0 to 5; `testers.py` says how. The truth is the
kappa of infinitely many pieces. Sets in which every grade is the same have no kappa and are left out. Tables kept:
agreement_coverage.txt of the testers on which the method was chosen, agreement_held_out.txt of those that had no
part in that when they were first tried.
"""

import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from scipy.special import fdtri, stdtrit

from qcledger.stats.agreement import PRIOR, kappa_limits
from qcledger.stats.pair_weights import Prior, limits
from tests.bench.testers import held_out, kappa_of, sets, tuned

SEED = 20261125
HELD = {
    20261126: "tried before slips were added to the method, then used to choose how",
    20261127: "tried once, after the method was frozen",
}
"""Seeds of the testers held out, and what they were used for."""
PAIRS = (10, 20, 40, 80)
FEW = PAIRS[:3]
BAR = (0.93, 0.97)


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
    pairs, rng, ends = one.shape[-1], np.random.default_rng(SEED), []
    for part in range(0, len(one), 200):
        pick = rng.integers(0, pairs, (draws, pairs))
        drawn = kappa(one[part : part + 200][:, pick], other[part : part + 200][:, pick])
        ends.append(np.quantile(drawn, [0.025, 0.975], axis=1))
    return np.concatenate(ends, axis=1)


def without_slips(one, other):
    """Return the limits in use without the pair that stands for a slip, and with equal tails."""
    plain = Prior(PRIOR.scale, PRIOR.near, PRIOR.far, slip=0.0, tails=(1.0, 1.0))
    return limits((one + other) / 2, (one - other) ** 2, plain, 0.95)


def in_parts(method, size=250):
    """Return a method that asks `method` about `size` sets at a time, to spare memory."""

    def asked(one, other):
        found = [method(one[at : at + size], other[at : at + size]) for at in range(0, len(one), size)]
        return tuple(np.concatenate(part) for part in zip(*found, strict=True))

    return asked


WEIGHTED = {"no slips": in_parts(without_slips), "in use": in_parts(kappa_limits)}
METHODS = {
    "usual": usual,
    "bootstrap": bootstrap,
    "F": ratio_f,
    "Fisher z": fisher_z,
    "jackknife z": jackknife_z,
    "mixed z": lambda one, other: jackknife_z(one, other, 10.0),
    **WEIGHTED,
}


def covered(found, pairs, runs, methods, truth_of=kappa_of):
    """Return the truth and, for each method, the shares of sets whose interval holds it and lies above it."""
    rng = np.random.default_rng([SEED, pairs, *found.name.encode(), int(2 * found.step)])
    truth = truth_of(found)
    one, other = sets(found, runs, pairs, rng)
    ends = {name: method(one, other) for name, method in methods.items()}
    return truth, {
        name: (float(((low <= truth) & (truth <= high)).mean()), float((low > truth).mean()))
        for name, (low, high) in ends.items()
    }


def table(title, testers, runs, methods, truth_of=kappa_of, numbers=PAIRS):
    """Yield a line for each tester and number of pairs, then what each method did over the testers."""
    yield f"{title}, {runs} sets each, {datetime.now(UTC):%Y-%m-%d}"
    yield "Share of sets whose 95 % interval holds the truth (and share of those that lie wholly above it)"
    yield f"{'tester':20}{'step':>5}{'truth':>7}{'pairs':>6}" + "".join(f"{name:>15}" for name in methods)
    kept = {}
    for found in testers:
        for pairs in numbers:
            truth, told = covered(found, pairs, runs, methods, truth_of)
            kept[found.name, found.step, pairs] = told
            cells = "".join(f"{f'{hit:.3f} ({above:.3f})':>15}" for hit, above in told.values())
            yield f"{found.name:20}{found.step:5}{truth:7.3f}{pairs:6}{cells}"
    yield from summed(kept, methods, numbers)


def summed(kept, methods, numbers):
    """Yield for each number of pairs and method the least, most and mean share, and how many lie within the bar."""
    for pairs in numbers:
        for name in methods:
            own = [told[name][0] for key, told in kept.items() if key[-1] == pairs]
            inside = sum(BAR[0] <= x <= BAR[1] for x in own)
            near = sum(BAR[0] - 0.01 <= x <= BAR[1] + 0.01 for x in own)
            ends = f"{min(own):.3f} to {max(own):.3f}, mean {np.mean(own):.3f}"
            yield (
                f"{pairs} pairs, {name:12} {ends}, {inside} of {len(own)} inside 93 to 97 %, {near} inside 92 to 98 %"
            )


def chosen(runs):
    """Yield the tables of the testers on which the method was chosen."""
    for slip in (0.0, 0.02):
        title = f"Intervals for kappa, slips in {slip:.0%} of looks, seed {SEED}"
        yield from table(title, tuned(slip), runs, METHODS, numbers=FEW)


def held(runs):
    """Yield the tables of the testers held out."""
    for seed, use in HELD.items():
        yield from table(f"Testers held out, seed {seed}: {use}", held_out(seed), runs, WEIGHTED)


def keep(name, lines):
    """Print the lines and keep them."""
    with Path(__file__).with_name(name).open("w", encoding="utf-8") as kept:
        for line in lines:
            print(line, flush=True)
            kept.write(line + "\n")
            kept.flush()


if __name__ == "__main__":
    runs = next((int(word) for word in sys.argv[1:] if word.isdigit()), 2000)
    asked = {"chosen", "held"} & set(sys.argv[1:]) or {"chosen", "held"}
    if "held" in asked:
        keep("agreement_held_out.txt", held(runs))
    if "chosen" in asked:
        keep("agreement_coverage.txt", chosen(runs))
