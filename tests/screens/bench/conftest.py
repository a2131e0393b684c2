"""The bench page on a small ledger."""

from collections.abc import Callable
from pathlib import Path

import pytest

from qcledger.screens.bench import walking
from tests.screens.bench.support import Bench
from tests.small import small_ledger


@pytest.fixture(autouse=True)
def _unhurried(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a graded criterion stay until the next key, however long a test takes."""
    monkeypatch.setattr(walking, "MOMENT_S", 600.0)


@pytest.fixture
def bench(home: Path, tmp_path: Path) -> Callable[..., Bench]:
    """Return a function that makes a small ledger and the page on it."""

    def make(*, lines: int = 3, blind: bool = False, text: str | None = None, **settings: object) -> Bench:
        return Bench(small_ledger(tmp_path, lines=lines, blind=blind, text=text), **settings)

    return make
