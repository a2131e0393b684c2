"""What verify, export and backup cost on ledgers of two sizes: seconds for 1000 entries, and the most memory held.

Run: ``python -m tests.bench.bench_copies [OBSERVATIONS]`` (20,000 by default)

Each line compares the ledger with one a tenth as large: what streams keeps both ratios near 1.
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from qcledger.ledger import Ledger
from qcledger.settings import HOME_VARIABLE
from tests.ledger.given import basics, steady, tried

AT_ONCE = 2000
RUN = """
import resource, sys, time
from qcledger.cli import main
begun = time.perf_counter()
try:
    main()
except SystemExit as end:
    assert not end.code, end.code
print(time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, file=sys.stderr)
"""
NOTE = "a line about the wash, as long as testers write them"


def made(place: Path, observations: int) -> Path:
    """Make a ledger with so many trials of one observation each."""
    with Ledger.create(place, letters="OV", tester="Oda Vane", sources=steady()) as ledger:
        ledger.append(basics())
        for first in range(0, observations, AT_ONCE):
            numbers = range(first, min(first + AT_ONCE, observations))
            ledger.append([row for number in numbers for row in tried(f"{number:07d}", note=NOTE)])
    return place


def measured(*command: str) -> tuple[float, float]:
    """Return seconds, and the most memory held in MB, of a command in a process of its own."""
    run = subprocess.run([sys.executable, "-c", RUN, *command], capture_output=True, text=True, check=True)
    seconds, kilobytes = map(float, run.stderr.splitlines()[-1].split())
    return seconds, kilobytes / 1024


def main(observations: int) -> None:
    """Print what each command costs on both ledgers."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ[HOME_VARIABLE] = str(Path(folder) / "home")
        sizes = (observations // 10, observations)
        places = [made(Path(folder) / f"{size}.sqlite", size) for size in sizes]
        for name in ("verify", "export", "backup"):
            costs = []
            for place in places:
                to = [] if name == "verify" else [str(place.with_suffix(f".{name}"))]
                costs.append(measured(name, *to, "--ledger", str(place)))
            per_1000 = [seconds / size * 1000 for (seconds, _), size in zip(costs, sizes, strict=True)]
            print(
                f"{name:<8}{costs[1][0]:8.1f} s {costs[1][1]:7.0f} MB for {observations} observations;"
                f" against {sizes[0]}: {per_1000[1] / per_1000[0]:.2f} of the time for each,"
                f" {costs[1][1] / costs[0][1]:.2f} of the memory"
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20_000)
