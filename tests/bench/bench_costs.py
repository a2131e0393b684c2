"""Prints what the ledger costs: to open, to read, to save beside a reader, to keep, and to bring a sheet in.

Run: ``python -m tests.bench.bench_costs [OBSERVATIONS ...]`` (3,000, 30,000 and 108,000 by default), with ``--all``
also what a sheet of 20,000 rows takes and how soon a key pressed at the bench is on disk; ``costs.txt`` holds what
it printed last, with its day and the load of the machine.

Each part is a script of its own here, in a process of its own; all print ratios to a baseline of the same run.
"""

import os
import platform
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

HERE = Path(__file__).parent
SIZES = ("3000", "30000", "108000")


def run(title: str, *command: str) -> None:
    """Run a script and print what it prints below a title."""
    print(f"\n== {title} (load {os.getloadavg()[0]:.1f})", flush=True)
    done = subprocess.run([sys.executable, *command], check=False)
    if done.returncode:
        print(f"ended with {done.returncode}", flush=True)


def main(sizes: tuple[str, ...], whole: bool) -> None:
    """Print the figures of every part."""
    version = f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, {os.cpu_count()} cores"
    print(f"{datetime.now(UTC):%Y-%m-%d %H:%M} UTC; {version}", flush=True)
    run("A ledger opened", str(HERE / "bench_open.py"))
    run("Findings from disk, and saves beside them", "-m", "tests.bench.bench_reading", *sizes)
    if whole:
        run("A sheet brought in", "-m", "tests.bench.bench_import")
        run("Key to durable", str(HERE / "bench_pages.py"), "durable")


if __name__ == "__main__":
    given = tuple(one for one in sys.argv[1:] if one != "--all")
    main(given or SIZES, "--all" in sys.argv)
