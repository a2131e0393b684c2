"""The pages on a small ledger."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.screens.stock.support import Shop
from tests.small import small_ledger


@pytest.fixture
def shop(home: Path, tmp_path: Path) -> Callable[..., Shop]:
    """Return a function that makes a small ledger with three specimens and the pages on it."""

    def make(first: str = "stock", lines: int = 3, **given: object) -> Shop:
        return Shop(small_ledger(tmp_path, lines=lines).place, first, **given)

    return make
