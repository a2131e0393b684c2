"""Fixtures for ledgers: each test that asks for `places` runs on SQLite and on PostgreSQL."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from qcledger.ledger import Ledger
from tests.conftest import missing
from tests.copies import copied
from tests.ledger.given import Places, basics, graded, steady

POSTGRES = "QCLEDGER_TEST_POSTGRES"
"""The URL of a PostgreSQL server the tests may make schemas in, as `.ci/postgres` prints it."""


@pytest.fixture(params=["sqlite", "postgresql"])
def places(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Places]:
    """Give places for ledgers on one kind of database, then on the other."""
    found = Places(tmp_path, _server() if request.param == "postgresql" else None)
    yield found
    found.drop()


@pytest.fixture
def server(tmp_path: Path) -> Iterator[str]:
    """Give the URL of a place for a ledger on the server, for what only a server does."""
    found = Places(tmp_path, _server())
    yield str(found.new("mine"))
    found.drop()


def _server() -> str:
    url = os.environ.get(POSTGRES)
    if not url:
        missing(f"{POSTGRES} is not set; .ci/postgres starts a server and prints what to set it to")
    return str(url)


@pytest.fixture
def ledger(places: Places) -> Iterator[Ledger]:
    """Give a ledger with one trial that waits for its observations."""
    with Ledger.create(places.new("mine"), letters="OV", tester="Oda Vane", sources=steady()) as made:
        made.append(basics())
        yield made


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Give the path of a ledger file with one trial and one observation, closed."""
    return copied(tmp_path / "ledger.sqlite", "one observation", _one_observation)


def _one_observation(path: Path) -> None:
    with Ledger.create(path, letters="OV", tester="Oda Vane", sources=steady()) as made:
        made.append([*basics(), graded("first")])
