"""How often intervals for a share hold it, exactly: ``python tests/bench/bench_shares.py``.

The share is that of pairs with equal grades, or of pairs within one grade. Its chance is summed over what may be
seen, for every share from 0.40 to 0.95 in steps of 0.005; and for shares up to 0.99, as that within one grade is,
from how many pairs on no share up to 400 pairs leaves 93 to 97 %. The table is kept in share_coverage.txt.
"""

from datetime import UTC, datetime
from itertools import product
from pathlib import Path

import numpy as np
from scipy.stats import beta, binom

from qcledger.stats.proportion import clopper_pearson_limits, wilson_limits

PAIRS = (10, 20, 40)
SHARES = np.arange(0.4, 0.951, 0.005)
NEAR = np.arange(0.4, 0.991, 0.005)
"""Shares of pairs within one grade."""
MOST = 400
"""Pairs up to which a method is followed."""


def jeffreys(seen, pairs):
    """Return the Jeffreys limits, 0 and 1 where none or every pair counts."""
    low, high = (beta.ppf(tail, seen + 0.5, pairs - seen + 0.5) for tail in (0.025, 0.975))
    return np.where(seen == 0, 0, low), np.where(seen == pairs, 1, high)


def agresti_coull(seen, pairs):
    """Return the limits of Agresti & Coull 1998, Am Stat 52:119-126."""
    total = pairs + 1.96**2
    middle = (seen + 1.96**2 / 2) / total
    half = 1.96 * np.sqrt(middle * (1 - middle) / total)
    return middle - half, middle + half


def mid_p(seen, pairs):
    """Return the limits at which half of what is seen and the tail beyond have a chance of 2.5 %."""
    low, high = (_share_where(chance, seen, pairs) for chance in (0.025, 0.975))
    return np.where(seen == 0, 0.0, low), np.where(seen == pairs, 1.0, high)


def _share_where(chance, seen, pairs):
    """Return the shares at which more than `seen`, with half of `seen` itself, has this chance; by halving."""
    low, high = np.zeros(len(seen)), np.ones(len(seen))
    for _ in range(40):
        middle = (low + high) / 2
        too_low = binom.sf(seen, pairs, middle) + binom.pmf(seen, pairs, middle) / 2 < chance
        low, high = np.where(too_low, middle, low), np.where(too_low, high, middle)
    return low


METHODS = {
    "Wilson": wilson_limits,
    "Clopper-Pearson": clopper_pearson_limits,
    "Jeffreys": jeffreys,
    "mid-P": mid_p,
    "Agresti-Coull": agresti_coull,
}


def covered(limits, pairs, shares=SHARES):
    """Return the chance that the limits hold the share, for each of `shares`."""
    seen = np.arange(pairs + 1)
    low, high = limits(seen, np.full(pairs + 1, pairs))
    share = shares[:, None]
    return (binom.pmf(seen, pairs, share) * ((low <= share) & (share <= high))).sum(axis=1)


def inside(own):
    """Say of each chance whether it lies in 93 to 97 %."""
    return (own >= 0.93) & (own <= 0.97)


def kept_from(limits, shares):
    """Return the least number of pairs from which each share keeps to the bar up to `MOST`; None where none does."""
    for pairs in range(MOST, 9, -1):
        if not inside(covered(limits, pairs, shares)).all():
            return None if pairs == MOST else pairs + 1
    return 10


def lines():
    """Yield the table."""
    yield f"Intervals for a share of pairs, exact, {datetime.now(UTC):%Y-%m-%d}"
    for pairs, (name, limits) in product(PAIRS, METHODS.items()):
        own = covered(limits, pairs)
        ends = f"{own.min():.3f} to {own.max():.3f}, mean {own.mean():.3f}"
        yield f"{pairs} pairs, {name:16} {ends}, {inside(own).mean():.0%} of shares inside 93 to 97 %"
    for name, limits in METHODS.items():
        for shares in (SHARES, NEAR):
            least = kept_from(limits, shares)
            told = f"{least} pairs on" if least else f"no number up to {MOST} on"
            yield f"{name:16} keeps to 93 to 97 % at each share from 0.40 to {shares.max():.2f} from {told}"


if __name__ == "__main__":
    with Path(__file__).with_name("share_coverage.txt").open("w", encoding="utf-8") as kept:
        for line in lines():
            print(line)
            kept.write(line + "\n")
