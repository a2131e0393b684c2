"""A real terminal for the pages: a tmux of its own, and what is drawn in it."""

import os
import shlex
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from qcledger.settings import HOME_VARIABLE
from tests.conftest import need_tool

PATIENCE_S = 20
"""How long a test waits for something to be drawn, on the slowest machine."""


class Terminal:
    """One shell in a tmux server of its own."""

    def __init__(self, socket: Path, size: tuple[int, int], home: Path) -> None:
        self._tmux = [need_tool("tmux"), "-S", str(socket), "-f", "/dev/null"]
        self.home = home
        env = {**os.environ, HOME_VARIABLE: str(home), "ENV": ""}
        for told in ("COLUMNS", "LINES"):  # set by runners of tests; they would stand for the window's own size
            env.pop(told, None)
        shape = ["-x", str(size[0]), "-y", str(size[1])]
        subprocess.run([*self._tmux, "new-session", "-d", *shape, "/bin/sh"], env=env, check=True)
        self.until(lambda drawn: drawn.strip() != "")
        self.type("PS1='ready''> '; clear")
        self.sees("ready>")

    def ask(self, *command: str) -> str:
        """Run a command of tmux and return what it prints."""
        return subprocess.run([*self._tmux, *command], capture_output=True, text=True, check=True).stdout

    def type(self, line: str) -> None:
        """Type a line and Enter."""
        self.ask("send-keys", "-l", line)
        self.ask("send-keys", "Enter")

    def press(self, *keys: str) -> None:
        """Press keys, as tmux names them."""
        self.ask("send-keys", *keys)

    def program(self, *args: str, before: str = "") -> None:
        """Start ``qcledger ARGS`` and print its exit code after it."""
        command = shlex.join([sys.executable, "-m", "qcledger", *args])
        self.type(f"{before} {command}; echo code=$?")

    @property
    def picture(self) -> str:
        """What is drawn."""
        return self.ask("capture-pane", "-p")

    @property
    def colours(self) -> str:
        """What is drawn, with the escapes that colour it."""
        return self.ask("capture-pane", "-p", "-e")

    def until(self, true: Callable[[str], bool]) -> str:
        """Wait until what is drawn is so."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            drawn = self.picture
            if true(drawn):
                return drawn
            time.sleep(0.05)
        raise AssertionError(self.picture)

    def sees(self, *texts: str) -> str:
        """Wait until all these texts are drawn."""
        return self.until(lambda drawn: all(text in drawn for text in texts))

    def pid(self, name: str = "qcledger") -> int:
        """Return the process of the program in the shell."""
        shell = self.ask("display-message", "-p", "#{pane_pid}").strip()
        found = subprocess.run(
            ["ps", "-o", "pid=,args=", "--ppid", shell], capture_output=True, text=True, check=True
        )
        return next(int(line.split()[0]) for line in found.stdout.splitlines() if name in line)


@contextmanager
def terminal(folder: Path, size: tuple[int, int] = (80, 24)) -> Iterator[Terminal]:
    """Give a terminal that is gone afterwards."""
    made = Terminal(folder / "tmux", size, folder)
    try:
        yield made
    finally:
        subprocess.run([*made._tmux, "kill-server"], capture_output=True, check=False)
