"""How often words about neighbouring grades and medians are right: ``python tests/bench/bench_words.py [RUNS]``.

Grades: a tester looks twice at pieces whose true grade is 2 or 3, equally often; a share of pairs is swapped.
Readings: turns until a match, lognormal about 30 with a deviation of 0.6 in the logarithm, stopped at 60. The table
is kept in words.txt.
"""

import sys
from datetime import UTC, datetime
from itertools import product
from pathlib import Path

import numpy as np

from qcledger.stats.apart import ToldApart, told_apart
from qcledger.stats.timed import median

SEED = 20261125


def verdicts(pairs, swapped, runs, rng):
    """Return how often each verdict is given of `pairs` pairs of which a share is `swapped`."""
    first = rng.choice([2, 3], (runs, pairs))
    second = np.where(rng.random((runs, pairs)) < swapped, 5 - first, first)
    given = [told_apart(one, other, [2, 3])[0].verdict for one, other in zip(first, second, strict=True)]
    return {told: given.count(told) / runs for told in ToldApart}


def median_held(readings, centre, runs, rng):
    """Return how often the interval holds the true median, and how often a median is reached."""
    drawn = np.exp(rng.normal(np.log(centre), 0.6, (runs, readings)))
    found = [median(np.minimum(row, 60), row > 60) for row in drawn]
    held = [(one.low is None or one.low <= centre) and (one.high is None or centre <= one.high) for one in found]
    return np.mean(held), np.mean([one.median is not None for one in found])


def lines(runs):
    """Yield the table."""
    rng = np.random.default_rng(SEED)
    yield f"Words about grades and readings, seed {SEED}, {runs} sets each, {datetime.now(UTC):%Y-%m-%d}"
    for swapped, pairs in product((0.1, 0.2, 1 / 3, 0.4, 0.5), (10, 20, 40)):
        found = verdicts(pairs, swapped, runs, rng)
        yield f"{swapped:.0%} swapped, {pairs} pairs: " + ", ".join(f"{told} {found[told]:.1%}" for told in ToldApart)
    for centre, readings in product((15, 30, 50), (6, 10, 20)):
        held, reached = median_held(readings, centre, runs, rng)
        yield f"true median {centre}, {readings} readings: interval holds it {held:.1%}, median reached {reached:.1%}"


if __name__ == "__main__":
    with Path(__file__).with_name("words.txt").open("w", encoding="utf-8") as kept:
        for line in lines(int(sys.argv[1]) if len(sys.argv) > 1 else 1000):
            print(line, flush=True)
            kept.write(line + "\n")
