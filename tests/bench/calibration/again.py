"""How a right accusation fares when it is looked at again: what the line of the second look was chosen by.

``python -m tests.bench.calibration.again 30`` makes so many ledgers a scenario with one maker, or one format, at
fault, takes the claims that accuse the guilty, and prints of how many the pattern is there whatever lot, session or
seller is left out, and how many times its line the worst p-value of the fair-field check comes to. The ledgers are
none of those that the guide reports.
"""

import sys
import zlib
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from qcledger.findings import find, gather
from qcledger.findings.model import answer, question, strength_left
from qcledger.findings.pool import Pool
from qcledger.findings.pooled import LINE
from qcledger.findings.stress import Worries, Worry, stress
from qcledger.stats.pooled.levels import AGAIN
from tests.bench.calibration.program import claimed, rows_of
from tests.bench.calibration.scenarios import SCENARIOS, make
from tests.findings.made import FROTH, only

NAMES = [name for name in SCENARIOS if name.startswith(("cell_half", "maker_half", "cell_third"))]
SHARES = (0.5, 0.8, 0.9, 0.95)
"""Shares of the right claims at which the worst p-value is read."""


class Again(NamedTuple):
    """A right claim looked at again: its pattern throughout, the worst p over the line, and whether it stands."""

    pattern: bool
    times: float
    bears_out: bool


def worries(name: str, ledger: int) -> Iterator[Worry]:
    """Yield the accusations of the guilty in a ledger that no other run makes."""
    truth = make(SCENARIOS[name], (zlib.crc32(f"again {name}".encode()), ledger))
    evidence = gather(rows_of(truth), only(FROTH))
    pool = Pool({}.get, Worries())
    find(evidence, pool=pool)
    (asked,) = pool.missing.values()
    if not asked.suspects:
        return
    put, told = question(asked.field, asked.suspects, asked.line), Worries()
    find(evidence, pool=Pool({asked.key: answer(put)}.get, told))
    for worry in told.missing.values():
        if worry.accused is not None and claimed(worry.claim)[1] == truth.guilty[1]:
            yield worry


def looked_at(worry: Worry) -> Again:
    """Look at one of them again."""
    kept: dict[str, np.ndarray] = {}
    found = stress(worry, only(FROTH), strength=lambda *asked: strength_left(*asked, kept))
    out = [check for check in found.checks if check.leaves_out and not check.too_little]
    strong = max((check.as_strong for check in out if check.as_strong is not None), default=found.fields)
    pattern = all(check.stands or check.as_strong is not None for check in out) and bool(out)
    return Again(pattern, (strong + 1) / (found.fields + 1) / LINE, found.bears_out)


def main() -> None:
    """Print a line for each scenario and one for all."""
    ledgers, every = int(sys.argv[1]), []
    for name in NAMES:
        seen = [looked_at(worry) for ledger in range(ledgers) for worry in worries(name, ledger)]
        every += seen
        print(_line(name, seen), flush=True)
    print(_line(f"all, at {AGAIN:g} times the line", every))


def _line(name: str, seen: list[Again]) -> str:
    if not seen:
        return f"{name}: no right claim"
    at = ", ".join(f"{share:.0%} {np.quantile([one.times for one in seen], share):.1f}" for share in SHARES)
    pattern, stands = (sum(getattr(one, what) for one in seen) for what in ("pattern", "bears_out"))
    return f"{name}: {len(seen)} right claims, pattern in {pattern}, stand {stands}; worst p over the line: {at}"


if __name__ == "__main__":
    main()
