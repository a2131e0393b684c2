"""Prints how long findings take beside a bare pandas groupby of the same rows, both measured in this run.

Run: ``python -m tests.bench.bench_findings [SPECIMENS] [CRITERIA]`` (10,000 specimens on 18 criteria by default)

The groupby counts specimens and faults by criterion, maker and format from columns that are already there; findings
start from rows each time, and also count lots, compare peers, compute intervals and decide extents.
"""

import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pandas as pd

from qcledger.findings import find, gather
from qcledger.findings.evidence import CriterionOf
from qcledger.findings.trail import recurrence
from qcledger.records import TestedRow
from tests.findings.made import criterion, only, row

FORMATS = ("half pan", "tube", "full pan", "stick")
RUNS = 5


def ledger(specimens: int, criteria: int) -> list[TestedRow]:
    """Return a large ledger: 40 makers, 4 formats, 30 pigments, lots of two or three specimens, 8 % faults by lot."""
    chance = np.random.default_rng(7)
    rows: list[TestedRow] = []
    places = list(product(range(40), FORMATS, range(30)))
    for number in range(specimens):
        maker, form, pigment = places[number % len(places)]
        lot = f"L{number // len(places) // 3}"
        made = {"maker": f"M{maker}", "format": form, "lot": lot, "parcel": f"P{pigment % 6}"}
        base = row(paint=f"P{pigment}", pigments=(f"PX{pigment}",), **made)
        bad = chance.random(criteria) < 0.08
        rows += [
            replace(
                base, criterion=f"c{key}", observation=f"{base.observation}.{key}", grade=4.0 if bad[key] else 0.0
            )
            for key in range(criteria)
        ]
    return rows


STAGES = ("rows to evidence", "recurrence", "findings")


def stages(rows: list[TestedRow], known: CriterionOf) -> tuple[float, ...]:
    """Return the CPU time in seconds of each of `STAGES`, from rows anew: nothing is kept from the run before."""
    times = [time.process_time()]
    evidence = gather(rows, known)
    times.append(time.process_time())
    recurring = recurrence(evidence)
    times.append(time.process_time())
    found = find(evidence, recurring=recurring)
    del found, recurring, evidence  # freeing them is part of the work
    times.append(time.process_time())
    return tuple(after - before for before, after in pairwise(times))


def seconds(work: Callable[[], object]) -> float:
    """Return the median CPU time of several runs, which other work on the machine disturbs the least."""
    times = []
    for _ in range(RUNS):
        begin = time.process_time()
        work()
        times.append(time.process_time() - begin)
    return statistics.median(times)


def main() -> None:
    """Time both and print the ratio."""
    specimens, criteria = (int(arg) for arg in (*sys.argv[1:], "10000", "18")[:2])
    if len(sys.argv) == 2:
        criteria = 18
    rows = ledger(specimens, criteria)
    known = only(*(criterion(f"c{key}") for key in range(criteria)))
    frame = pd.DataFrame(
        [(one.criterion, one.maker, str(one.format), one.grade >= 3) for one in rows],
        columns=["criterion", "maker", "format", "faulty"],
    )
    by = ["criterion", "maker", "format"]
    bare = seconds(lambda: frame.groupby(by)["faulty"].agg(["size", "sum"]))
    begin = time.perf_counter()
    runs = [stages(rows, known) for _ in range(RUNS)]
    wall = (time.perf_counter() - begin) / RUNS
    cells = len(find(gather(rows, known)).findings)
    print(f"{specimens} specimens x {criteria} criteria = {len(rows)} rows, {cells} findings; median of {RUNS} runs")
    told = {"bare groupby": bare, **dict(zip(STAGES, map(statistics.median, zip(*runs, strict=True)), strict=True))}
    print("; ".join(f"{name} {spent * 1000:.0f} ms" for name, spent in told.items()))
    whole = sorted(map(sum, runs))
    middle = statistics.median(whole)
    print(
        f"ratio {middle / bare:.1f}; in all {middle * 1000:.0f} ms, {whole[0] * 1000:.0f} to {whole[-1] * 1000:.0f} "
        f"(bar: 500 ms); by the clock on the wall {wall * 1000:.0f} ms a run"
    )


if __name__ == "__main__":
    main()
