"""Cost of the pooled model: processor seconds by number of lots, and how the cost per lot grows.

``python -m tests.bench.bench_pooled`` prints; nothing is asserted. One thread: set OMP_NUM_THREADS=1.
"""

import time

from qcledger.stats.pooled.design import PooledLot, arrange
from qcledger.stats.pooled.fit import fit
from tests.reference.ledgers import LEDGERS, draw

SIZES = {
    "532 lots": LEDGERS["lots_532"],
    "5,000 lots": lambda: draw(1, makers=20, formats=3, pigments=42, lots=(1, 3), specimens=(1, 3)),
    "50,000 lots": lambda: draw(1, makers=40, formats=5, pigments=100, lots=(1, 4), specimens=(1, 3)),
    "50,000 lots, few paints": lambda: draw(1, makers=12, formats=2, pigments=22, lots=(80, 110), specimens=(1, 3)),
}


def seconds(lots: list[PooledLot]) -> tuple[float, float]:
    """Return processor seconds to fit `lots` and read off probabilities, and the largest Monte-Carlo error."""
    began = time.process_time()
    found = fit(arrange(lots), seed=1)
    found.probability("cell")
    return time.process_time() - began, found.health.worst_error


def main() -> None:
    """Print the table."""
    seconds(SIZES["532 lots"]())
    first = None
    for name, make in SIZES.items():
        lots = make()
        took, error = seconds(lots)
        first = first or took / len(lots)
        per_lot = took / len(lots)
        print(
            f"{name}: {len(lots)} lots, {took:.2f} s, {1e6 * per_lot:.0f} us a lot, "
            f"{per_lot / first:.2f} x the first, probabilities to {error:.3f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
