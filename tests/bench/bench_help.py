"""Prints how long ``qcledger --help`` takes beside a bare click program, both measured in this run.

Run: ``python tests/bench/bench_help.py``
"""

import statistics
import subprocess
import sys
import time

BARE = "import click; click.Group('bare', help='A group.').main(['--help'], standalone_mode=False)"
RUNS = 21


def seconds(*command: str) -> float:
    """Return the wall time of one run of a fresh Python."""
    begin = time.perf_counter()
    subprocess.run([sys.executable, *command], check=True, capture_output=True)
    return time.perf_counter() - begin


def main() -> None:
    """Time both in turn, so that a change of the machine's speed meets both, and print the medians."""
    pairs = [(seconds("-c", BARE), seconds("-m", "qcledger", "--help")) for _ in range(RUNS)]
    bare, ours = (statistics.median(times) for times in zip(*pairs, strict=True))
    print(f"--help: {ours * 1000:.0f} ms; a bare click program: {bare * 1000:.0f} ms")
    print(f"ratio {ours / bare:.2f}, difference {(ours - bare) * 1000:.0f} ms (bar: 100 ms); {RUNS} runs each")


if __name__ == "__main__":
    main()
