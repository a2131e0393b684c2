"""A small ledger with one sheet at work."""

from pathlib import Path

import pytest

from tests.small import Small, small_ledger


@pytest.fixture
def small(home: Path, tmp_path: Path) -> Small:
    """Return a ledger with three specimens on one open sheet."""
    return small_ledger(tmp_path)
