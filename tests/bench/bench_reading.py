"""Prints what findings cost from disk beside the driver's bare fetch, and how long a save waits while all is read.

Run: ``python -m tests.bench.bench_reading [OBSERVATIONS ...]`` (30,000 by default)

The ledger is an invented field: twenty makers with twelve paints each, specimens in lots of three, nine criteria a
trial. Where more than 3,000 observations are asked for, that ledger's rows and entries are written over again by SQL,
under other ids: they are read, and saved beside, as any, but their chain was never made.

The fetch takes the columns that findings need in one statement. Then a process of its own reads everything again and
again; this one saves a grade every 50 ms, as a fast hand would.
"""

import os
import random
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from qcledger.findings import find, gather
from qcledger.ledger import Ledger
from qcledger.ledger.tables import TABLE
from qcledger.ledger.tested import Filter, Reader
from qcledger.records import (
    TABLES,
    LabelVersion,
    Lot,
    Maker,
    Observation,
    Paint,
    Parcel,
    Record,
    Specimen,
    Trial,
    columns,
)
from qcledger.settings import HOME_VARIABLE
from qcledger.vocab import Format
from tests.ledger.given import NOON, RUBRIC, basics, graded, steady, tried

CRITERIA = (
    *("evenness", "froth_amount", "wash_faintness", "gradation_steps", "rub_off_weighted"),
    *("glazing_pick_up", "granulation", "staining", "backruns"),
)
PIGMENTS = ("PR101", "PY42", "PB29", "PG7", "PG18", "PV19", "PBr7", "PB15", "PR108", "PY35", "PB36", "PO20")
MAKERS, LOT, AT_ONCE = 20, 3, 250
TIMES_OVER = (Lot.TABLE, Specimen.TABLE, Trial.TABLE, Observation.TABLE)
ONCE = 3_000
"""Observations that are made as a tester makes them."""
SAVES = 200
PAUSE = 0.05
READER = """
import sys
from pathlib import Path
from qcledger.ledger import Ledger
from qcledger.ledger.tested import Filter, Reader
with Ledger.open(Path(sys.argv[1])) as ledger:
    while True:
        Reader(ledger.reading).read(Filter())
        print("read", flush=True)
"""
MEMORY = """
import sys, tracemalloc
from pathlib import Path
from qcledger.ledger import Ledger
with Ledger.open(Path(sys.argv[1])) as ledger:
    ledger.rubric(sys.argv[2])
    tracemalloc.start()
    rows = ledger.tested_rows()
    print(*(size / len(rows) for size in tracemalloc.get_traced_memory()))
"""


def shop() -> list[Record]:
    """Return makers, their paints with labels, and the parcels these came in."""
    rows: list[Record] = []
    for maker in range(MAKERS):
        rows.append(Maker(id=f"m{maker:02d}", name=f"Maker {maker:02d}"))
        for number, pigment in enumerate(PIGMENTS):
            paint = f"p{maker:02d}-{number:02d}"
            rows += [
                Paint(id=paint, maker=f"m{maker:02d}", name=f"Paint {number}"),
                LabelVersion(id=f"l{paint}", paint=paint, seen_on=NOON.date(), index_names=(pigment,)),
            ]
    parcel = next(row for row in basics() if isinstance(row, Parcel))
    return [*rows, *(replace(parcel, id=f"parcel-{number}", seller=f"Seller {number}") for number in range(9))]


def piece(number: int, chance: random.Random, lots: set[str]) -> list[Record]:
    """Return one specimen with its trial and a grade on each criterion, and its lot where that is new."""
    paint = f"p{number % MAKERS:02d}-{number // MAKERS % len(PIGMENTS):02d}"
    lot = f"{paint}-{number // MAKERS // len(PIGMENTS) // LOT}"
    new = [] if lot in lots else [Lot(id=lot, paint=paint, format=Format.HALF_PAN, code=lot)]
    lots.add(lot)
    given = next(row for row in basics() if isinstance(row, Specimen))
    known = {"sticker": f"OV {number + 10:05d}", "paint": paint, "lot": lot, "label_version": f"l{paint}"}
    specimen = replace(given, id=f"s{number:06d}", parcel=f"parcel-{chance.randrange(9)}", **known)
    trial = next(row for row in tried("") if isinstance(row, Trial))
    trial = replace(trial, id=f"t{number:06d}", specimen=specimen.id, at=NOON + timedelta(seconds=number))
    seen: list[Observation] = [
        graded(
            f"{trial.id}-{place}",
            4.0 if chance.random() < 0.08 else float(chance.randrange(3)),
            trial=trial.id,
            criterion=criterion,
            at=trial.at + timedelta(seconds=place),
        )
        for place, criterion in enumerate(CRITERIA)
    ]
    return [*new, specimen, trial, *seen]


def made(place: Path, observations: int) -> Path:
    """Make a ledger with so many observations."""
    chance, lots = random.Random(7), set[str]()
    pieces = observations // len(CRITERIA)
    sources = steady(NOON + timedelta(days=30))
    with Ledger.create(place, letters="OV", tester="Oda Vane", sources=sources) as ledger:
        ledger.append([*basics(), *shop()])
        for first in range(0, pieces, AT_ONCE):
            some = range(first, min(first + AT_ONCE, pieces))
            ledger.append([row for number in some for row in piece(number, chance, lots)])
    return place


def multiplied(place: Path, times: int) -> Path:
    """Write every lot, specimen, trial and observation of a ledger file, and their entries, so many times over."""
    numbers = "WITH RECURSIVE n(k) AS (SELECT 2 UNION ALL SELECT k + 1 FROM n WHERE k < :times) "
    with sqlite3.connect(place) as file:
        for kind in TIMES_OVER:
            record, table = TABLES[kind], TABLE[kind]
            anew = {one.name for one in columns(record) if one.name == "id" or one.refers_to in TIMES_OVER}
            told = [f"{one.name} || '~' || k" if one.name in anew else one.name for one in table.columns]
            said = ", ".join(told).replace("sticker", "printf('OV %07d', substr(sticker, 4) + k * 10000)")
            file.execute(f"{numbers} INSERT INTO {kind} SELECT {said} FROM n, {kind}", {"times": times})
        seq = "(SELECT max(seq) FROM entry) + row_number() OVER ()"
        said = f"daybook, {seq}, prev, kind, subject || '~' || k, at, salt, body, body_hash, randomblob(32), replaces"
        kinds = ", ".join(f"'{kind}'" for kind in TIMES_OVER)
        rows = f"INSERT INTO entry SELECT {said} FROM n, entry WHERE kind IN ({kinds})"
        file.execute(numbers + rows, {"times": times})
    file.close()
    return place


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


def in_words(times: list[float]) -> str:
    """Return the median, the 99th percentile and the worst of some times."""
    cuts = statistics.quantiles(times, n=100)
    return f"median {cuts[49]:6.1f} ms, p99 {cuts[98]:7.1f} ms, worst {max(times):7.1f} ms"


def cpu(work: Callable[[], object]) -> float:
    """Return the CPU seconds of the quickest of three runs."""
    times = []
    for _ in range(3):
        begin = time.process_time()
        work()
        times.append(time.process_time() - begin)
    return min(times)


FETCH = """
SELECT o.id, o.trial, o.criterion, o.rubric, o.grade, o.choice, o.reading, o.censored, o.not_testable, o.at, o.tester,
o.daybook, t.at, t.occasion, t.mixed_with, t.session, t.specimen, t.daybook, r.role, s.paper
FROM observation o JOIN trial t ON t.id = o.trial LEFT JOIN observation n ON n.supersedes = o.id
LEFT JOIN run_row r ON r.id = t.run_row LEFT JOIN sheet s ON s.id = r.sheet WHERE n.id IS NULL ORDER BY o.id
"""


def reading(place: Path) -> None:
    """Print what columns, evidence and findings cost from disk, over the driver's fetch of the same columns."""
    with Ledger.open(place) as ledger:

        def criterion_of(hash_: str, key: str) -> object:
            return scales.setdefault(hash_, ledger.rubric(hash_)).criteria[key]

        def bare() -> None:
            with ledger.reading() as connection:
                assert connection.connection.driver_connection is not None
                connection.connection.driver_connection.execute(FETCH).fetchall()

        scales: dict[str, object] = {}
        rows = Reader(ledger.reading).read(Filter())  # loads and compiles what is needed once
        evidence = gather(rows, criterion_of)
        costs = {
            "driver's fetch": cpu(bare),
            "columns": cpu(lambda: len(Reader(ledger.reading).read(Filter()))),
            "evidence from them": cpu(lambda: gather(rows, criterion_of)),
            "findings from it": cpu(lambda: find(evidence)),
            "columns asked for again": cpu(ledger.tested_rows),
        }
    fetch = costs["driver's fetch"]
    for name, spent in costs.items():
        print(f"{name:24} {spent * 1000:8.1f} ms, {spent / fetch:5.2f} of the fetch")
    whole = sum(list(costs.values())[1:4])
    print(f"{'findings from disk':24} {whole * 1000:8.1f} ms, {whole / fetch:5.2f} of the fetch; {len(rows)} rows")
    size = place.stat().st_size
    print(f"{'the file':24} {size / 1e6:8.1f} MB, {size / len(rows):5.0f} bytes an observation, entries and all")


def main(observations: int) -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ[HOME_VARIABLE] = str(Path(folder) / "home")
        place = made(Path(folder) / "ledger.sqlite", min(observations, ONCE))
        if observations > ONCE:
            multiplied(place, observations // ONCE)
        reading(place)
        command = [sys.executable, "-c", MEMORY, str(place), RUBRIC.hash]
        told = subprocess.run(command, capture_output=True, text=True, check=True).stdout
        kept, most = map(float, told.split())
        print(f"memory                   {kept:8.0f} bytes a row kept, {most:.0f} while reading")
        with Ledger.open(place, write=True) as ledger:
            before = place.stat().st_size
            quiet = saves(ledger, 0)
            reader = subprocess.Popen([sys.executable, "-c", READER, str(place)], stdout=subprocess.PIPE, text=True)
            try:
                assert reader.stdout is not None
                reader.stdout.readline()  # it is at work
                busy = saves(ledger, SAVES)
            finally:
                reader.kill()
                reader.wait()
        print(f"a save, nobody reading:     {in_words(quiet)}")
        print(f"a save while all is read:   {in_words(busy)}")
        slow, quick = (statistics.quantiles(times, n=100)[98] for times in (busy, quiet))
        print(f"ratio of the 99th percentiles: {slow / quick:.1f}")
        grown = place.stat().st_size - before
        print(f"a saved trial with its grade:  {grown / 2 / SAVES:.0f} bytes of the file")


if __name__ == "__main__":
    for number in sys.argv[1:] or ["30000"]:
        print(f"\n{int(number)} observations")
        main(int(number))
