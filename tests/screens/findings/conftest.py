"""Answers of the pooled model for the pages under test: worked out once, and beside no page unless a test asks."""

import pytest

from qcledger.ledger import Ledger
from qcledger.report.kept import KeptFindings
from qcledger.report.store import Store
from tests.screens.findings.support import shelf_ledger


@pytest.fixture(scope="session")
def answers(tmp_path_factory):
    """Return a folder with the answers that the shelf's ledger asks for."""
    folder = tmp_path_factory.mktemp("answers")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("QCLEDGER_HOME", str(tmp_path_factory.mktemp("home")))
        with Ledger.open(shelf_ledger(folder)) as ledger:
            KeptFindings(Store(folder / "worked_out")).reading(ledger).work_out()
    return folder


@pytest.fixture(autouse=True)
def _answered(request, monkeypatch):
    """Give each page these answers, unless its test is about what happens while they are missing."""
    if "unanswered" not in request.fixturenames:
        folder = request.getfixturevalue("answers")
        monkeypatch.setattr("qcledger.report.store.data_folder", lambda: folder)
        monkeypatch.setattr("qcledger.report.beside.Beside.begin", lambda *args: False)


@pytest.fixture
def unanswered():
    """Let the page begin without answers, and work them out beside it."""
