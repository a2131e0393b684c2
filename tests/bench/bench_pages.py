"""Prints how soon the pages paint, how soon a pressed key is on the disk, and how soon one is answered.

All are measured in this run, in turn, in a pseudo-terminal of 80 x 24, each beside a baseline: a bare Textual app, a
bare SQLite commit under the same pragmas, the same key while nothing is worked out.
Run: ``python tests/bench/bench_pages.py [paint] [durable] [keys]``
"""

import fcntl
import os
import pty
import re
import select
import sqlite3
import statistics
import struct
import sys
import tempfile
import termios
import time
from pathlib import Path

BARE = """
from textual.app import App
from textual.widgets import Static
class Bare(App):
    def compose(self):
        yield Static("painted")
Bare().run()
"""
OURS = ["-c", "import sys; from qcledger.cli import main; sys.exit(main())", "demo"]
"""What the installed script does."""
RUNS = 11
PRESSES = 100
"""Digits pressed, each then taken back."""
CLONES = 50
"""How often each specimen of the demo stands in the large ledger once more."""
PATIENCE_S = 60


class Screen:
    """A program in a pseudo-terminal."""

    def __init__(self, args: list[str], home: Path) -> None:
        self.begin = time.perf_counter()
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.environ["QCLEDGER_HOME"] = str(home)
            os.environ["TERM"] = "xterm-256color"
            os.execv(sys.executable, [sys.executable, *args])
        fcntl.ioctl(self.fd, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self._drawn = ""

    def until(self, pattern: str) -> float:
        """Return the seconds from the start until a text was drawn."""
        while time.perf_counter() - self.begin < PATIENCE_S:
            ready, _, _ = select.select([self.fd], [], [], 0.05)
            if ready:
                self._drawn += os.read(self.fd, 65536).decode("utf-8", "replace")
                plain = re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", self._drawn)
                if re.search(pattern, plain):
                    return time.perf_counter() - self.begin
        raise TimeoutError(self._drawn[-2000:])

    def answer(self, key: bytes, pattern: str, journal: Path | None = None) -> tuple[float, float, str]:
        """Press a key; return when `journal` had come and gone, when a text was drawn, in seconds, and what was."""
        self._drawn, durable, begun = "", 0.0, False
        at = time.perf_counter()
        os.write(self.fd, key)
        while time.perf_counter() - at < PATIENCE_S:
            if journal is not None and not durable:
                there = journal.exists()
                durable = time.perf_counter() - at if begun and not there else 0.0
                begun = begun or there
            if select.select([self.fd], [], [], 0.0002)[0]:
                self._drawn += os.read(self.fd, 65536).decode("utf-8", "replace")
                plain = re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", self._drawn)
                if re.search(pattern, plain):
                    return durable, time.perf_counter() - at, plain
        raise TimeoutError(self._drawn[-2000:])

    def drain(self, seconds: float) -> str:
        """Read what is drawn until nothing was for so long, and return it without escapes."""
        drawn = ""
        while select.select([self.fd], [], [], seconds)[0]:
            drawn += os.read(self.fd, 65536).decode("utf-8", "replace")
        return re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", drawn)

    def press(self, key: bytes) -> None:
        """Press a key."""
        os.write(self.fd, key)

    def end(self) -> float:
        """Leave, and return the seconds of processor time it took."""
        os.write(self.fd, b"\x11")
        while True:
            try:
                if not os.read(self.fd, 65536):
                    break
            except OSError:
                break
        _, _, usage = os.wait4(self.pid, 0)
        os.close(self.fd)
        return usage.ru_utime + usage.ru_stime


def painted(args: list[str], pattern: str, home: Path) -> float:
    """Return the seconds until a program has painted."""
    screen = Screen(args, home)
    found = screen.until(pattern)
    screen.until(pattern)
    time.sleep(0.1)
    screen.end()
    return found


def with_data(home: Path) -> tuple[float, float]:
    """Return the seconds until the demo's record shows its observations, and the processor time of it all."""
    screen = Screen(OURS, home)
    screen.until("all keys")
    screen.press(b",r")
    found = screen.until(r"\d{3,} observations")
    return found, screen.end()


def at_percent(times: list[float], share: int) -> float:
    """Return a percentile in milliseconds."""
    return 1000 * statistics.quantiles(times, n=100, method="inclusive")[share - 1]


def told(name: str, times: list[float], beside: list[float] | None = None) -> None:
    """Print median and 99th percentile, and their ratios to a baseline."""
    halves = [(share, at_percent(times, share)) for share in (50, 99)]
    line = f"{name}: " + ", ".join(f"p{share} {value:.1f} ms" for share, value in halves)
    if beside:
        ratios = ", ".join(f"p{share} {value / at_percent(beside, share):.1f} x" for share, value in halves)
        line += f" ({ratios})"
    print(f"{line}, n = {len(times)}")


class BareCommit:
    """SQLite under the ledger's pragmas, one row a commit."""

    def __init__(self, place: Path) -> None:
        self._file = sqlite3.connect(place, isolation_level=None)
        for pragma in ("journal_mode = DELETE", "synchronous = EXTRA"):
            self._file.execute(f"PRAGMA {pragma}")
        self._file.execute("CREATE TABLE entry (seq INTEGER PRIMARY KEY, body TEXT)")

    def __call__(self) -> float:
        """Return the seconds of one commit."""
        at = time.perf_counter()
        self._file.execute("BEGIN IMMEDIATE")
        self._file.execute("INSERT INTO entry (body) VALUES (?)", ("x" * 600,))
        self._file.execute("COMMIT")
        return time.perf_counter() - at


def durable(home: Path) -> None:
    """Press digits on the demo's sheet at work, take each back, and print how soon each was on the disk."""
    screen = Screen(OURS, home)
    screen.until("all keys")
    screen.press(b",b")
    screen.until("session S10, wet")
    (place,) = home.rglob("*.sqlite")
    journal, bare = place.with_name(f"{place.name}-journal"), BareCommit(place.with_name("bare.sqlite"))
    disk, shown, plain = [], [], []
    for _ in range(PRESSES):
        for key in (b"1", b"z"):
            screen.drain(0.4)
            plain.append(bare())
            times = screen.answer(key, r"saved \d\d:\d\d:\d\d", journal)
            disk.append(times[0])
            shown.append(times[1])
    screen.end()
    missed = disk.count(0.0)
    disk = [seconds for seconds in disk if seconds]
    told("bare SQLite commit, DELETE and EXTRA", plain)
    told("key to commit on disk", disk, plain)
    told('key to "saved" on the page', shown, plain)
    print(f"presses whose journal came and went between two looks: {missed}")


def large(home: Path) -> Path:
    """Return a ledger in which every specimen of the demo, and what its unpacking showed, stands more than once."""
    os.environ["QCLEDGER_HOME"] = str(home)
    from dataclasses import replace

    from qcledger.exchange import merge_folder
    from qcledger.ledger import Ledger, new_id
    from qcledger.records import Observation, Specimen, Trial
    from qcledger.settings import shipped
    from qcledger.vocab import Occasion

    place = home / "large.sqlite"
    with Ledger.create(place, letters="LA", tester="LA") as ledger:
        merge_folder(ledger, shipped("demo_ledger"))
        specimens, number = ledger.rows(Specimen), 0
        trials = {one.specimen: one for one in ledger.rows(Trial, occasion=Occasion.UNPACKING)}
        for _ in range(CLONES):
            records = []
            for one in specimens:
                number += 1
                piece = replace(one, id=new_id(), sticker=f"LA {number:05}")
                records.append(piece)
                if (seen := trials.get(one.id)) is not None:
                    trial = replace(seen, id=new_id(), specimen=piece.id)
                    found = ledger.rows(Observation, trial=seen.id, supersedes=None)
                    records += [trial, *(replace(what, id=new_id(), trial=trial.id) for what in found)]
            ledger.append(records)
    return place


def keys_answered(home: Path) -> None:
    """Mark lines of Loose ends while its findings are worked out, and afterwards, and print how soon each moved."""
    place = large(home)
    screen = Screen([*OURS[:-1], "--ledger", str(place)], home)
    screen.until("still looking")
    screen.drain(0.01)
    busy, idle, ended = [], [], False
    for turn in range(5000):
        key = (b"\x1b[B", b"\x1b[A")[turn % 2]
        times = screen.answer(key, ".")
        ended = ended or re.search(r"Loose ends +\d+ to do", times[2] + screen.drain(0.02)) is not None
        (idle if ended else busy).append(times[1])
        if len(idle) >= PRESSES:
            break
    screen.end()
    told("key to moved mark, nothing worked out", idle)
    told("key to moved mark, findings being worked out", busy, idle)


def paint() -> None:
    """Print how soon the pages paint and show their data."""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        pairs, again = [], []
        for run in range(RUNS):
            first = home / str(run)
            bare = painted(["-c", BARE], "painted", first)
            ours = painted(OURS, "all keys", first / "paint")
            pairs.append((bare, ours))
            again.append((with_data(first / "data"), with_data(first / "data")))
    bare, ours = (statistics.median(times) for times in zip(*pairs, strict=True))
    ratio = statistics.median(ours / bare for bare, ours in pairs)
    print(f"first paint: {ours:.2f} s; a bare Textual app: {bare:.2f} s; {RUNS} runs")
    print(f"median ratio of the two: {ratio:.2f} (bar: 1.3)")
    for name, place in (("first start, copy of the demo made", 0), ("later starts", 1)):
        times = [run[place] for run in again]
        wall, cpu = (statistics.median(values) for values in zip(*times, strict=True))
        print(f"demo's record with data, {name}: {wall:.2f} s, {cpu:.2f} s of it on the processor (bar: 2.5 s)")


def main() -> None:
    """Measure what was asked for, or all."""
    wanted = sys.argv[1:] or ["paint", "durable", "keys"]
    if "paint" in wanted:
        paint()
    for name, measure in (("durable", durable), ("keys", keys_answered)):
        if name in wanted:
            with tempfile.TemporaryDirectory() as folder:
                measure(Path(folder))


if __name__ == "__main__":
    main()
