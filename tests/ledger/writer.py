"""Terminals of their own: processes that open a ledger, save again and again, and say what was confirmed."""

import itertools
import multiprocessing
import os
from collections.abc import Iterator
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Self

from qcledger.ledger import Ledger, postgres, sqlite
from qcledger.settings import HOME_VARIABLE
from tests.ledger.given import tried

sqlite._SECONDS_TO_WAIT = postgres._SECONDS_TO_WAIT = 600  # as in tests/conftest.py, which is not read there
_CONTEXT = multiprocessing.get_context("forkserver")
_CONTEXT.set_forkserver_preload([__name__])  # so that a process is there in milliseconds, not seconds


class Terminal:
    """A process that saves observations in a ledger.

    Parameters
    ----------
    place
        The ledger.
    name
        What the ids of its observations begin with.
    count
        How many it saves before it closes the ledger; 0 goes on until it is killed.
    """

    def __init__(self, place: str | Path, name: str, count: int = 0) -> None:
        self._lines, theirs = _CONTEXT.Pipe(duplex=False)
        self._process = _CONTEXT.Process(target=_save, args=(place, name, count, theirs, os.environ[HOME_VARIABLE]))
        self._process.start()
        theirs.close()
        assert self._lines.recv() == "ready"

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._process.join()
        self._lines.close()

    @property
    def running(self) -> bool:
        """Whether it has not ended yet."""
        return self._process.is_alive()

    def kill(self) -> None:
        """Kill it at once, whatever it is doing."""
        self._process.kill()

    def confirmed(self) -> Iterator[str]:
        """Yield what it was told is saved, until its end."""
        while True:
            try:
                yield self._lines.recv()
            except EOFError:
                return

    def end(self) -> int | None:
        """Wait for its end and return its exit code."""
        self._process.join()
        return self._process.exitcode


def _save(place: str | Path, name: str, count: int, lines: Connection, home: str) -> None:
    os.environ[HOME_VARIABLE] = home
    with Ledger.open(place, write=True) as ledger:
        lines.send("ready")
        for number in itertools.islice(itertools.count(), count or None):
            saved = f"{name}-{number:05d}"
            ledger.append(tried(saved, note=saved * 20))
            lines.send(saved)
