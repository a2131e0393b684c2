"""Fixtures for ledgers: each test that asks for `places` runs on SQLite and on PostgreSQL."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from qcledger.ledger import Ledger
from tests.conftest import missing
from tests.copies import copied
from tests.ledger.given import WRITTEN, Places, basics, graded, steady
from tests.ledger.schemas import Schemas

POSTGRES = "QCLEDGER_TEST_POSTGRES"
"""The URL of a PostgreSQL server the tests may make schemas in, as `.ci/postgres` prints it."""


@pytest.fixture(params=["sqlite", "postgresql"])
def places(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Places]:
    """Give places for ledgers on one kind of database, then on the other."""
    with _places(request, tmp_path, on_server=request.param == "postgresql") as found:
        yield found


@pytest.fixture
def server(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Give the URL of a place for a ledger on the server, for what only a server does."""
    with _places(request, tmp_path, on_server=True) as found:
        yield str(found.new("mine"))


@contextmanager
def _places(request: pytest.FixtureRequest, folder: Path, *, on_server: bool) -> Iterator[Places]:
    """Give places on a kind of database; on a server, new ledgers get the tables of ledgers that are gone."""
    schemas: Schemas | None = request.getfixturevalue("schemas") if on_server else None
    found = Places(folder, schemas)
    with pytest.MonkeyPatch.context() as patch:
        if schemas is not None:
            patch.setattr("qcledger.ledger.ledger.build", schemas.build)
        yield found
    found.drop()


def _server() -> str:
    url = os.environ.get(POSTGRES)
    if not url:
        missing(f"{POSTGRES} is not set; .ci/postgres starts a server and prints what to set it to")
    return str(url)


@pytest.fixture
def ledger(places: Places) -> Iterator[Ledger]:
    """Give a ledger with one trial that waits for its observations."""
    with Ledger.open(places.basics("mine"), write=True, sources=steady(asked=WRITTEN)) as made:
        yield made


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Give the path of a ledger file with one trial and one observation, closed."""
    return copied(tmp_path / "ledger.sqlite", "one observation", _one_observation)


def _one_observation(path: Path) -> None:
    with Ledger.create(path, letters="OV", tester="Oda Vane", sources=steady()) as made:
        made.append([*basics(), graded("first")])
