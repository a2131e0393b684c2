"""How often intervals for a share hold it, exactly: ``python tests/bench/bench_shares.py``.

The share is that of pairs with equal grades, or of pairs within one grade. Its chance is summed over what may be
seen, for every share from 0.40 to 0.95 in steps of 0.005. The table is kept in share_coverage.txt.
"""

from datetime import UTC, datetime
from itertools import product
from pathlib import Path

import numpy as np
from scipy.optimize import brentq
from scipy.stats import beta, binom

from qcledger.stats.proportion import clopper_pearson_limits, wilson_limits

PAIRS = (10, 20, 40)
SHARES = np.arange(0.4, 0.951, 0.005)


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
    return tuple(np.array(part) for part in zip(*map(_mid_p, seen, pairs), strict=True))


def _mid_p(seen, pairs):
    def above(share):
        return binom.sf(seen, pairs, share) + binom.pmf(seen, pairs, share) / 2 - 0.025

    def below(share):
        return binom.cdf(seen, pairs, share) - binom.pmf(seen, pairs, share) / 2 - 0.025

    low = 0.0 if seen == 0 else brentq(above, 1e-12, 1 - 1e-12)
    return low, 1.0 if seen == pairs else brentq(below, 1e-12, 1 - 1e-12)


METHODS = {
    "Wilson": wilson_limits,
    "Clopper-Pearson": clopper_pearson_limits,
    "Jeffreys": jeffreys,
    "mid-P": mid_p,
    "Agresti-Coull": agresti_coull,
}


def covered(limits, pairs):
    """Return the chance that the limits hold the share, for each of `SHARES`."""
    seen = np.arange(pairs + 1)
    low, high = limits(seen, np.full(pairs + 1, pairs))
    share = SHARES[:, None]
    return (binom.pmf(seen, pairs, share) * ((low <= share) & (share <= high))).sum(axis=1)


def lines():
    """Yield the table."""
    yield f"Intervals for a share of pairs, exact, {datetime.now(UTC):%Y-%m-%d}"
    for pairs, (name, limits) in product(PAIRS, METHODS.items()):
        own = covered(limits, pairs)
        inside = ((own >= 0.93) & (own <= 0.97)).mean()
        ends = f"{own.min():.3f} to {own.max():.3f}, mean {own.mean():.3f}"
        yield f"{pairs} pairs, {name:16} {ends}, {inside:.0%} of shares inside 93 to 97 %"


if __name__ == "__main__":
    with Path(__file__).with_name("share_coverage.txt").open("w", encoding="utf-8") as kept:
        for line in lines():
            print(line)
            kept.write(line + "\n")
