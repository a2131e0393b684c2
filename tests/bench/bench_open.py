"""Prints what it costs to open a ledger in a fresh process beside importing SQLAlchemy alone, both in this run.

Run: ``python tests/bench/bench_open.py``; with it, what the SQLModel classes of `qcledger.tables` would add.
"""

import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from qcledger.ledger import Ledger

BARE = "import sqlalchemy"
OPEN = "from qcledger.ledger import Ledger; Ledger.open({place!r}).close()"
CLASSES = OPEN + "; from qcledger.ledger.models import classes; classes()"
RUNS = 9


def cpu_s(code: str) -> float:
    """Return the CPU time of one run of a fresh Python, in seconds."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-c", code], check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    """Time all in turn, so that a change of the machine's speed meets each, and print the medians."""
    with tempfile.TemporaryDirectory() as folder:
        place = str(Path(folder) / "ledger.sqlite")
        Ledger.create(place, letters="OV", tester="Oda Vane").close()
        codes = ("pass", BARE, OPEN.format(place=place), CLASSES.format(place=place))
        runs = [[cpu_s(code) for code in codes] for _ in range(RUNS)]
    nothing, bare, opened, classes = (statistics.median(column) for column in zip(*runs, strict=True))
    print(f"CPU, less a bare Python's {nothing * 1000:.0f} ms: import sqlalchemy {(bare - nothing) * 1000:.0f} ms")
    print(f"a ledger opened: {(opened - nothing) * 1000:.0f} ms, ratio {(opened - nothing) / (bare - nothing):.2f}")
    print(
        f"with the classes: {(classes - nothing) * 1000:.0f} ms, ratio {(classes - nothing) / (bare - nothing):.2f}"
    )


if __name__ == "__main__":
    main()
