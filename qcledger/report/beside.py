"""What the pooled model has to answer is worked out beside the pages, in a process of its own."""

import os
import signal
import sys
from collections.abc import Iterable, Sequence
from contextlib import redirect_stderr, suppress
from multiprocessing import current_process, get_context
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any, TypeVar

from qcledger.report import cores
from qcledger.report.kept import KeptFindings, WorkedOut
from qcledger.settings import log_error

T = TypeVar("T")
Place = str | Path

NICE = 10
"""The process yields to everything that answers keys."""
STOP_S = 2.0
"""Seconds that a stopped process has to be gone."""


class _NobodyAsks(Exception):
    """Whoever asked is gone, and nobody waits for the answer."""


class Beside:
    """At most one process, which opens the ledger for reading, works out what is missing, and keeps it on disk.

    `begin` is called from the reading thread, everything else from any one thread.
    """

    def __init__(self) -> None:
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None
        self._asked: frozenset[str] = frozenset()
        self.label, self.done, self.total = "", 0, 0

    @property
    def running(self) -> bool:
        """Whether something is being worked out."""
        return self._process is not None and self._process.is_alive()

    @property
    def told(self) -> str:
        """How far it is: ``pooled model 5 of 27``; empty when nothing is worked out."""
        if not self.running:
            return ""
        return f"{self.label.lower()} {self.done} of {self.total}" if self.total else "pooled model begins"

    def begin(self, place: Place, comparison: str | None, reading: WorkedOut) -> bool:
        """Begin to work out what `reading` still misses; return whether there was something new to begin.

        What was asked for and not answered is not asked for again: whatever hindered it would hinder it once more.
        """
        wanted = frozenset((*(one.key for one in reading.asked.values()), *map(str, reading.worries)))
        if self.running or wanted <= self._asked:
            return False
        self.stop()
        self._asked |= wanted
        self.label, self.done, self.total = "", 0, 0
        # A fresh interpreter: a fork of a program with threads may hang, and would hold the terminal.
        context = get_context("spawn")
        self._pipe, theirs = context.Pipe(duplex=False)
        self._process = context.Process(target=work_out, args=(place, comparison, theirs), daemon=True)
        # Within the pages stderr is a stand-in without a file, which a new process cannot be given.
        with redirect_stderr(sys.__stderr__):
            self._process.start()
        theirs.close()
        return True

    def news(self) -> bool:
        """Take in what the process has told since; return whether another answer is kept."""
        done, pipe = 0, self._pipe
        with suppress(EOFError, OSError):
            while pipe is not None and pipe.poll():
                self.label, self.done, self.total = pipe.recv()
                done += 1
        return done > 0

    def stop(self, *, again: bool = False) -> None:
        """End the process; with `again`, what it had not answered may be asked for once more."""
        process, pipe = self._process, self._pipe
        self._process = self._pipe = None
        if again:
            self._asked = frozenset()
        if process is not None:
            process.terminate()
            process.join(STOP_S)
        if pipe is not None:
            pipe.close()


def work_out(place: Place, comparison: str | None, pipe: "Connection[Any, Any]") -> None:
    """Work out and keep what the findings of a ledger miss, telling `pipe` how far it is; runs in its own process."""
    from qcledger.ledger import Ledger

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the pages' affair
    if sys.platform != "win32":  # where a process cannot be told to yield, it runs beside the pages all the same
        os.nice(NICE)
    # It is ended with the pages as it was begun, and may have processes of its own, which end with it.
    current_process().daemon = False

    def told(label: str, items: Sequence[T]) -> Iterable[T]:
        for done, item in enumerate(items):
            try:
                pipe.send((label, done, len(items)))
            except OSError as gone:  # the page that asked was left, or stopped this
                raise _NobodyAsks from gone
            yield item

    try:
        with Ledger.open(place) as ledger:
            KeptFindings().reading(ledger, comparison).work_out(progress=told, processes=cores.MOST)
    except _NobodyAsks:
        return
    except Exception as error:  # what it leaves open is said by the page, and `qcledger findings` says why
        with suppress(OSError):
            log_error(error)
