"""Prints how soon the pages paint beside a bare Textual app, and how soon the demo's record shows its observations.

All are measured in this run, in turn, in a pseudo-terminal of 80 x 24. Run: ``python tests/bench/bench_pages.py``
"""

import fcntl
import os
import pty
import re
import select
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
    screen.press(b"4")
    found = screen.until(r"\d{3,} observations")
    return found, screen.end()


def main() -> None:
    """Measure all in turn and print medians."""
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


if __name__ == "__main__":
    main()
