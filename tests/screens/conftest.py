"""What every test of the pages begins with: it knows when they are at rest; where asked for, a slow ledger."""

import os
import random
import time
from collections.abc import Iterator
from typing import Any

import pytest

from qcledger.screens import desk
from tests.screens import quick, rest

rest.ask_the_loop()
quick.be_quick()

DELAY = "QCLEDGER_TEST_DELAY"
"""Seconds that each question and save takes at most, drawn anew each time: finds tests that look too early, and keys
that mean something else while the ledger is busy."""


@pytest.fixture(autouse=True)
def _known_threads(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let it be known which threads ask a ledger, and forget them with their test: each look goes through all."""
    make = desk._Thread.__init__

    def made(thread: desk._Thread, *args: Any) -> None:
        make(thread, *args)
        thread._queue = rest.Watched(thread._queue)  # type: ignore[assignment]
        rest.THREADS.add(thread)

    monkeypatch.setattr(desk._Thread, "__init__", made)
    yield
    rest.THREADS.clear()


@pytest.fixture(autouse=True)
def _slow_ledger(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hold what is asked of the ledger, where the environment says so."""
    longest = float(os.environ.get(DELAY, "0"))
    if longest <= 0:
        return
    ask = desk._Thread.ask

    def held(thread: desk._Thread, job: Any, *through: Any) -> Any:
        def late(ledger: Any) -> Any:
            time.sleep(random.uniform(0, longest))
            return job(ledger)

        return ask(thread, late, *through)

    monkeypatch.setattr(desk._Thread, "ask", held)
