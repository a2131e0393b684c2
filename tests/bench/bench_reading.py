"""Prints how long a save waits while everything that was tested is read, beside saves that nobody reads beside.

Run: ``python -m tests.bench.bench_reading [OBSERVATIONS]`` (30,000 by default)

A process of its own reads all observations again and again; this one saves a grade every 50 ms, as a fast hand would.
The reading is compared with what the driver takes to fetch the same columns in one statement.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from qcledger.ledger import Ledger
from qcledger.ledger.tested import Asked, read
from qcledger.settings import HOME_VARIABLE
from tests.bench.bench_copies import made
from tests.ledger.given import tried

SAVES = 200
PAUSE = 0.05
READER = """
import sys
from pathlib import Path
from qcledger.ledger import Ledger
with Ledger.open(Path(sys.argv[1])) as ledger:
    while True:
        ledger.tested_rows()
        print("read", flush=True)
"""


def saves(ledger: Ledger, first: int) -> list[float]:
    """Return the milliseconds of each of `SAVES` saves of a trial with one grade."""
    times = []
    for number in range(first, first + SAVES):
        rows = tried(f"s{number:06d}")
        begin = time.perf_counter()
        ledger.append(rows)
        times.append((time.perf_counter() - begin) * 1000)
        time.sleep(PAUSE)
    return times


def told(times: list[float]) -> str:
    """Return the median, the 99th percentile and the worst of some times."""
    cuts = statistics.quantiles(times, n=100)
    return f"median {cuts[49]:6.1f} ms, p99 {cuts[98]:7.1f} ms, worst {max(times):7.1f} ms"


def fetching(place: Path) -> tuple[float, float]:
    """Return the CPU seconds of reading all rows, and of fetching their columns with the driver alone."""
    with Ledger.open(place) as ledger:
        read(ledger.reading, Asked())  # what is loaded and compiled once
        begin = time.process_time()
        count = len(read(ledger.reading, Asked()))
        whole = time.process_time() - begin
        with ledger.reading() as connection:
            driver = connection.connection.driver_connection
            assert driver is not None
            begin = time.process_time()
            fetched = driver.execute(
                "SELECT o.*, t.*, r.role, s.paper FROM observation o JOIN trial t ON t.id = o.trial"
                " LEFT JOIN observation n ON n.supersedes = o.id LEFT JOIN run_row r ON r.id = t.run_row"
                " LEFT JOIN sheet s ON s.id = r.sheet WHERE n.id IS NULL ORDER BY o.id"
            ).fetchall()
            bare = time.process_time() - begin
    assert len(fetched) == count
    return whole, bare


def main(observations: int) -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ[HOME_VARIABLE] = str(Path(folder) / "home")
        place = made(Path(folder) / "ledger.sqlite", observations)
        whole, bare = fetching(place)
        print(
            f"{observations} observations: {whole:.2f} s CPU to read, {bare:.2f} s to fetch; ratio {whole / bare:.1f}"
        )
        with Ledger.open(place, write=True) as ledger:
            quiet = saves(ledger, 0)
            reader = subprocess.Popen([sys.executable, "-c", READER, str(place)], stdout=subprocess.PIPE, text=True)
            try:
                assert reader.stdout is not None
                reader.stdout.readline()  # it is at work
                busy = saves(ledger, SAVES)
            finally:
                reader.kill()
                reader.wait()
        print(f"a save, nobody reading:     {told(quiet)}")
        print(f"a save while all is read:   {told(busy)}")
        slow, quick = (statistics.quantiles(times, n=100)[98] for times in (busy, quiet))
        print(f"ratio of the 99th percentiles: {slow / quick:.1f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 30_000)
