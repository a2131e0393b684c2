"""Prints how often a format is named where only some makers' half pans are bad, which is those makers' own affair.

Run: ``python -m tests.bench.bench_few_makers [FIELDS]`` (300 fields a line by default)

Eight makers, 12 pigments, one lot of 1 or 2 specimens a paint; the bad half pans at 50 %, everything else at 8 %. A
format is named where four or more makers show it there, and more than are free of it.
"""

import sys
from itertools import product

import numpy as np

from qcledger.findings import read
from qcledger.vocab import Extent, Standing
from tests.bench.bench_accusations import SMALL, Scenario, grown
from tests.findings.made import FROTH, HALF, only

EIGHT = "ABCDEFGH"


def format_named(rows: list) -> bool:
    """Return whether half pans, or tubes, are named as a format."""
    return any(
        claim.extent is Extent.FORMAT and claim.standing is Standing.SETTLED
        for finding in read(rows, only(FROTH)).findings
        for claim in (finding.claim, *finding.exceptions)
        if claim
    )


def main(fields: int) -> None:
    """Print one line for each number of bad makers and rho."""
    for bad, rho in product((2, 3, 4), (0.15, 0.5)):
        worse = frozenset((maker, str(HALF)) for maker in EIGHT[:bad])
        scenario = Scenario(f"{bad} of 8, rho {rho}", **SMALL, rho=rho, worse=worse, rate=0.5, makers=EIGHT)
        named = sum(format_named(grown(np.random.default_rng([seed, bad]), scenario)) for seed in range(fields))
        print(f"{scenario.name}: format named in {named} of {fields} fields, {named / fields:.1%}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
