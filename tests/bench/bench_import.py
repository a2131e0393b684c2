"""Prints what it takes to bring in a large spreadsheet, beside what pandas and sqlite3 take for the same rows.

Run: ``python -m tests.bench.bench_import [ROWS]`` (20,000 by default), and ``... bench_import ROWS dry|first|again``
for where the time of one of the three commands goes.

The sheet is invented, as long testing leaves one: thirty makers share forty names of paints, some of them nearly
alike; a lot, a price, pigments and a note in most rows, and of four tests three in most. The commands run in
processes of their own, from start to end; so their seconds hold loading Python and ours, and their memory is the most
they had. pandas reads the same file into texts; sqlite3 stores the rows of the finished ledger, entries and tables,
in tables of the same make, and the cells of the sheet in one bare table.
"""

import cProfile
import csv
import os
import pstats
import random
import sqlite3
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from qcledger.settings import HOME_VARIABLE

HEADER = (
    *("No", "Brand", "Colour", "Pigments", "Pan/tube", "Batch", "Bought", "From", "Price", "Tested"),
    *("Froth", "Even", "Covers", "Grain", "Remarks"),
)
MAP = """\
row_key: [No]
new_makers: true
columns:
  No: leave out
  Brand: maker
  Colour: paint
  Pigments: pigments
  Pan/tube: {field: format, words: {hp: half pan, t: tube}}
  Batch: lot
  Bought: {field: bought_on, dates: day month year}
  From: seller
  Price: {field: price, currency: EUR}
  Tested: {field: tested_on, dates: day month year}
  Froth: {criterion: froth_amount, scale: {from: [1, 10]}}
  Even: {criterion: evenness}
  Covers: {criterion: opacity, words: {no: 0, half: 2.5, yes: 5}}
  Grain: {criterion: granulation}
  Remarks: note
"""
PIGMENTS = ("PR101", "PY42", "PB29", "PG7", "PG18", "PV19", "PBr7", "PB15", "PR108", "PY35", "PB36", "PO20")
SHADES = ("", "Deep ", "Pale ", "Warm ")
HUES = ("Rose", "Ochre", "Slate", "Fern", "Clay", "Marine", "Plum", "Straw", "Umbra", "Sky")
COMMANDS = ("dry", "first", "again")
TESTED = 0.75
"""The share of the cells of tests that are filled."""
MB = 1_000_000


def results(chance: random.Random) -> list[str]:
    """Return what four tests of a piece found."""
    return [
        str(chance.randrange(1, 11)),
        str(chance.choice([0, 0, 0.5, 1, 2, 3.5])),
        chance.choice(["no", "half", "yes"]),
        str(chance.choice([0, 1, 2, 3])),
    ]


def cells(number: int, chance: random.Random) -> list[str]:
    """Return one row of the sheet."""
    maker, hue = chance.randrange(30), chance.randrange(len(HUES))
    bought = (chance.choice((4, 11, 18, 25)), chance.randrange(1, 13), chance.randrange(2014, 2025))
    day = "{}.{}.{}"
    return [
        str(number),
        f"Brand {maker:02d}",
        chance.choice(SHADES) + HUES[hue],
        " ".join([PIGMENTS[(maker + hue) % len(PIGMENTS)]] * (chance.random() < 0.8)),
        chance.choice(["hp", "hp", "t"]),
        chance.choice(["", f"L{bought[2] % 100}{chance.choice('ab')}"]),
        day.format(*bought),
        f"Shop {chance.randrange(3)}",
        f"{chance.randrange(3, 14)}.{chance.randrange(100):02d}",
        day.format(bought[0], bought[1], bought[2] + 1),
        *(one if chance.random() < TESTED else "" for one in results(chance)),
        chance.choice(["", "", f"from the {chance.choice(HUES).lower()} set, box {chance.randrange(90)}"]),
    ]


def made(folder: Path, rows: int) -> None:
    """Write the sheet and its map into a folder, and an empty ledger."""
    from qcledger.ledger import Ledger

    chance = random.Random(19)
    with (folder / "old.csv").open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([HEADER, *(cells(number, chance) for number in range(1, rows + 1))])
    (folder / "map.yaml").write_text(MAP, encoding="utf-8")
    Ledger.create(folder / "ledger.sqlite", letters="OV", tester="Oda Vane", zone="Europe/Berlin").close()


def arguments(folder: Path, name: str) -> list[str]:
    """Return the arguments of one of the three commands."""
    dry = ["--dry-run"] * (name == "dry")
    source, ledger = folder / "old.csv", folder / "ledger.sqlite"
    return ["import", str(source), "--map", str(folder / "map.yaml"), "--ledger", str(ledger), *dry]


@dataclass(frozen=True)
class Cost:
    """What a process took from its start to its end."""

    wall: float
    cpu: float
    memory: float


def cost(command: list[str]) -> tuple[Cost, str]:
    """Run a process and return what it took, and what it printed."""
    begin = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    assert process.stdout is not None
    told = process.stdout.read()
    _, status, used = os.wait4(process.pid, 0)
    if status:
        raise SystemExit(told)
    return Cost(time.perf_counter() - begin, used.ru_utime + used.ru_stime, used.ru_maxrss * 1024 / MB), told


def read_by_pandas(path: Path) -> float:
    """Return the CPU seconds in which pandas reads the sheet; for a process of its own."""
    import pandas

    begin = time.process_time()
    pandas.read_csv(path, dtype=str, keep_default_na=False)
    return time.process_time() - begin


def stored_bare(path: Path, place: Path) -> float:
    """Return the CPU seconds in which sqlite3 stores the cells of a sheet in one table."""
    with path.open(encoding="utf-8", newline="") as stream:
        header, *rows = csv.reader(stream)
    begin = time.process_time()
    with sqlite3.connect(place) as other:
        other.execute(f"CREATE TABLE cells ({', '.join(f'c{at} TEXT' for at in range(len(header)))})")
        other.executemany(f"INSERT INTO cells VALUES ({', '.join('?' * len(header))})", rows)
    other.close()
    return time.process_time() - begin


def stored_alike(ledger: Path, place: Path) -> float:
    """Return the CPU seconds in which sqlite3 stores all rows of a ledger in empty tables of the same make."""
    source = sqlite3.connect(ledger)
    made_by = [sql for (sql,) in source.execute("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL")]
    tables = [name for (name,) in source.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")]
    rows = {name: source.execute(f'SELECT * FROM "{name}"').fetchall() for name in tables}
    source.close()
    begin = time.process_time()
    with sqlite3.connect(place) as other:
        for sql in made_by:
            other.execute(sql)
        for name, found in rows.items():
            if found:
                other.executemany(f'INSERT INTO "{name}" VALUES ({", ".join("?" * len(found[0]))})', found)
    other.close()
    return time.process_time() - begin


def room(ledger: Path) -> list[tuple[str, float, int]]:
    """Return what takes room in a ledger: a table or index, its MB and its rows, the largest first."""
    with sqlite3.connect(ledger) as file:
        try:
            sizes = file.execute("SELECT name, sum(pgsize), sum(ncell) FROM dbstat GROUP BY name").fetchall()
        except sqlite3.OperationalError:  # this SQLite was made without dbstat
            return []
    return sorted(((name, size / MB, rows) for name, size, rows in sizes), key=lambda one: -one[1])


def profiled(folder: Path, name: str) -> None:
    """Print where the time of one command goes, after those before it."""
    from qcledger.cli import program

    for before in COMMANDS[: COMMANDS.index(name)]:
        cost([sys.executable, "-m", "qcledger", *arguments(folder, before)])
    profile = cProfile.Profile()
    profile.enable()
    try:
        program.main(arguments(folder, name), standalone_mode=False)
    finally:
        profile.disable()
        pstats.Stats(profile).sort_stats("cumulative").print_stats(70)
        pstats.Stats(profile).sort_stats("tottime").print_stats(40)


def measured(folder: Path, rows: int) -> None:
    """Print the figures of the three commands, and what they are held against."""
    one, two, three = os.getloadavg()
    print(f"{rows} rows, {(folder / 'old.csv').stat().st_size / MB:.1f} MB; load {one:.2f} {two:.2f} {three:.2f}")
    costs = {}
    for name in COMMANDS:
        costs[name], told = cost([sys.executable, "-m", "qcledger", *arguments(folder, name)])
        end = next(line for line in told.splitlines() if "already here" in line)
        print(f"  {name}: {end}; {len(told.splitlines())} lines")
    read = float(cost([sys.executable, "-m", __spec__.name, "pandas", str(folder / "old.csv")])[1])
    bare = stored_bare(folder / "old.csv", folder / "bare.sqlite")
    alike = stored_alike(folder / "ledger.sqlite", folder / "alike.sqlite")
    print(
        f"CPU: pandas reads it in {read:.2f} s; sqlite3 stores its cells in {bare:.2f}, all our rows in {alike:.2f} s"
    )
    print(f"{'':8}{'wall s':>8}{'CPU s':>8}{'memory MB':>11}{'of pandas':>11}{'of cells':>10}{'of our rows':>13}")
    for name, took in costs.items():
        ratios = f"{took.cpu / read:>11.0f}{took.cpu / bare:>10.0f}{took.cpu / alike:>13.1f}"
        print(f"{name:8}{took.wall:>8.1f}{took.cpu:>8.1f}{took.memory:>11.0f}{ratios}")
    print(f"ledger {(folder / 'ledger.sqlite').stat().st_size / MB:.0f} MB, of that:")
    for name, size, count in room(folder / "ledger.sqlite")[:20]:
        print(f"  {name:32}{size:>7.1f} MB{count:>9}")
    print("bars on an idle machine, 20,000 rows: dry 10 s, first 30 s, again 5 s, each 300 MB; ledger 110 MB")


def main(rows: int, part: str = "") -> None:
    """Print the figures, or where the time of one command goes."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        os.environ[HOME_VARIABLE] = str(folder / "home")
        subprocess.run([sys.executable, "-m", __spec__.name, "made", str(folder), str(rows)], check=True)
        if part:
            profiled(folder, part)
        else:
            measured(folder, rows)


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["pandas", path]:
            print(read_by_pandas(Path(path)))
        case ["made", folder, rows]:
            made(Path(folder), int(rows))
        case [rows, part]:
            main(int(rows), part)
        case given:
            main(int(given[0]) if given else 20_000)
