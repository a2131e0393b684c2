"""Fixtures every test may use: a home of its own, and the command line run in this process."""

import os
import secrets
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import settings
from sqlalchemy import Dialect, Engine
from sqlalchemy.engine.default import DefaultDialect
from sqlalchemy.util import LRUCache

from qcledger import thing
from qcledger.cli import main
from qcledger.ledger import postgres, sqlite
from qcledger.pictures import apart
from qcledger.settings import HOME_VARIABLE

try:
    import fcntl
except ImportError:  # on Windows each process of a run works the demo out for itself
    fcntl = None  # type: ignore[assignment]

if TYPE_CHECKING:
    from tests.ledger.schemas import Schemas

settings.register_profile("house", deadline=None, derandomize=True, database=None, max_examples=40)
settings.register_profile("thorough", deadline=None, max_examples=100)
settings.load_profile("house")
"""No test says how long anything may take: a busy machine is no fault of the program's.

What is tried is the same in each run: a test that fails was broken by what was changed. By hand,
`--hypothesis-profile=thorough` looks for more, and elsewhere each time.
"""

_COMPILED: LRUCache[Any, Any] = LRUCache(5000)
"""Statements as they read on a kind of database; each test opens ledgers of its own, all with the same statements."""


def _key(dialect: Dialect) -> tuple[str, str]:
    return dialect.name, dialect.driver


def _compile_once() -> None:
    """Compile a statement once in a process, and not anew for each ledger: a quarter of the time of its tests."""
    Engine._compiled_cache = property(lambda _: _COMPILED, lambda _, __: None)  # type: ignore[assignment]
    DefaultDialect.__hash__ = lambda self: hash(_key(self))  # type: ignore[method-assign]
    DefaultDialect.__eq__ = lambda self, other: _key(self) == _key(other)  # type: ignore[method-assign]


_compile_once()

_SAFE = dict(sqlite._WRITE_SETTINGS)
"""How the program writes ledger files, see `durable`."""


def _wait_for_no_disk() -> None:
    """Leave it to the system when files reach the disk: it outlives every test, and a process that is killed."""
    sqlite._WRITE_SETTINGS |= {"synchronous": "OFF", "fullfsync": "OFF"}
    os.fsync = os.fstat  # type: ignore[assignment]  # which also refuses what is not open


_wait_for_no_disk()


def _be_patient() -> None:
    """Wait for a lock, and for a decoder, as long as it takes: on a busy machine a second's work may take a minute.

    A test of what is said when the wait is over sets a short one.
    """
    sqlite._SECONDS_TO_WAIT = postgres._SECONDS_TO_WAIT = apart.SECONDS = 600  # type: ignore[misc]


_be_patient()

NO_SKIPS = "QCLEDGER_NO_SKIPS"
"""Set where every outside tool must be there (.ci/run): a missing one then fails the test instead of skipping it."""


LONGEST = ("tests/studio/", "tests/bench/calibration/", "tests/stats/pooled/", "tests/findings/test_demo")
"""Where the tests are that take longest: begun first, so that no process is left alone with one at the end."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the longest tests first, each folder's in its own order."""
    items.sort(key=lambda item: not item.nodeid.startswith(LONGEST))


def missing(reason: str) -> None:
    """Skip the running test with `reason`, or fail it where nothing may be skipped."""
    if os.environ.get(NO_SKIPS):
        pytest.fail(f"not to be skipped here: {reason}")
    pytest.skip(reason)


def need_tool(name: str) -> str:
    """Return the path of an outside program; skip the test when the machine has none."""
    return shutil.which(name) or missing(f"{name} is not installed")  # type: ignore[return-value]


@pytest.fixture(autouse=True)
def home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Give each test its own settings and data folder, so that the tester's own are never touched.

    Each begins on a machine in one zone, wherever it really is.
    """
    monkeypatch.setenv("TZ", "Etc/UTC")
    if hasattr(time, "tzset"):
        time.tzset()
    folder = Path(
        tempfile.mkdtemp(prefix="home-", dir=tmp_path_factory.getbasetemp())
    )  # mktemp reads all names first
    monkeypatch.setenv(HOME_VARIABLE, str(folder))
    thing.speak(thing.PAINT)
    yield folder
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def durable(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let ledger files be written as the program writes them, each save on the disk."""
    monkeypatch.setattr(sqlite, "_WRITE_SETTINGS", _SAFE)


@dataclass(frozen=True)
class Outcome:
    """What a command printed and how it ended."""

    code: int
    out: str
    err: str

    @property
    def error_lines(self) -> list[str]:
        """Return the lines written to stderr."""
        return self.err.splitlines()


@pytest.fixture
def cli(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., Outcome]]:
    """Return a function that runs ``qcledger ARGS`` in this process and returns its `Outcome`."""

    def run(*args: object) -> Outcome:
        monkeypatch.setattr(sys, "argv", ["qcledger", *(str(arg) for arg in args)])
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            main()
        printed = capsys.readouterr()
        code = end.value.code
        return Outcome(code if isinstance(code, int) else int(bool(code)), printed.out, printed.err)

    return run


@pytest.fixture(scope="session")
def demo_file(tmp_path_factory) -> Path:
    """Return a ledger file with the committed demo in it, merged once a run; tests read it and leave it as it is."""
    from qcledger.exchange import merge_folder
    from qcledger.ledger import Ledger
    from tests.studio.make import DEMO

    place = tmp_path_factory.mktemp("demo") / "demo.ledger"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(HOME_VARIABLE, str(place.parent))
        with Ledger.create(place, letters="OV", tester="OV, Brinefold Studio") as ledger:
            merge_folder(ledger, DEMO)
    return place


@pytest.fixture(scope="session")
def demo_home(demo_file, tmp_path_factory) -> Path:
    """Return a home in which the demo's findings are worked out: once a run, whichever process asks first.

    Tests read answers from there and leave it as it is.
    """
    from qcledger.cli.findings import of_ledger
    from qcledger.ledger import Ledger

    home = of_the_run(tmp_path_factory) / "demo_home"
    with at_a_time(home.with_suffix(".lock")), pytest.MonkeyPatch.context() as patch:
        patch.setenv(HOME_VARIABLE, str(home))
        with Ledger.open(demo_file) as ledger:
            of_ledger(ledger)
    return home


def of_the_run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder that all processes of a run share; each of several has one of its own in it."""
    base = tmp_path_factory.getbasetemp()
    return base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base


@contextmanager
def at_a_time(lock: Path) -> Iterator[None]:
    """Let one process after the other do what follows."""
    with lock.open("w") as file:
        if fcntl is not None:
            fcntl.flock(file, fcntl.LOCK_EX)
        yield


@pytest.fixture(scope="session")
def schemas() -> Iterator["Schemas"]:
    """Give this process's schemas, in a database of its own: what others lock elsewhere is none of its."""
    import psycopg

    from tests.ledger.conftest import _server
    from tests.ledger.schemas import Schemas

    server, name = _server(), f"tests_{secrets.token_hex(4)}"
    own = f"{server.rpartition('/')[0]}/{name}"
    with psycopg.connect(server, autocommit=True) as admin:
        admin.execute(f"CREATE DATABASE {name}")
        try:
            with psycopg.connect(own, autocommit=True) as raw:
                yield Schemas(own, raw)
        finally:
            admin.execute(f"DROP DATABASE {name} WITH (FORCE)")
