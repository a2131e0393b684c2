"""Prints how often a maker no worse than its peers is confirmed when lots are bought again and again to confirm it.

Run: ``python -m tests.bench.bench_confirming [MAKERS]`` (40,000 makers a line by default)

Each round buys one lot of two or three specimens at the peers' rate. Counted are the makers that any round so far
would have confirmed, by the chance that findings ask for.
"""

import sys
from functools import lru_cache
from itertools import product

import numpy as np

from qcledger.findings.checks import ALIKE, EXACT_LEVEL, MIN_TO_CONFIRM
from qcledger.findings.strength import tail_p

ROUNDS = 6


@lru_cache
def needed(usual: float, each: int, lots: int) -> int:
    """Return the least faulty specimens of so many equal lots that confirm; one more than there are if none do."""
    for faulty in range(MIN_TO_CONFIRM, each * lots + 1):
        full, rest = divmod(faulty, each)
        counts = [each] * full + [rest] * (rest > 0) + [0] * (lots - full - (rest > 0))
        if tail_p([(count, each) for count in counts], usual, ALIKE) <= EXACT_LEVEL:
            return faulty
    return each * lots + 1


def main(makers: int) -> None:
    """Print one line for each rate of the peers, lot size and rho."""
    rng = np.random.default_rng(1)
    print(f"{makers} makers a line; per cent confirmed by any of 1, 3, 6 rounds")
    for usual, each, rho in product((0.08, 0.2), (2, 3), (0.15, 0.5)):
        strength = (1 - rho) / rho
        rates = rng.beta(usual * strength, (1 - usual) * strength, (makers, ROUNDS))
        faulty = rng.binomial(each, rates).cumsum(axis=1)
        confirmed = faulty >= [needed(usual, each, lots) for lots in range(1, ROUNDS + 1)]
        shares = (confirmed[:, :rounds].any(axis=1).mean() * 100 for rounds in (1, 3, 6))
        told = ", ".join(f"{share:.1f}" for share in shares)
        print(f"peers {usual:.0%}, lots of {each}, rho {rho}: {told}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40_000)
