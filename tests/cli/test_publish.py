"""An edition: nothing is published while something is missing, and what it said is recorded."""

import hashlib

import pytest

from qcledger.ledger import Ledger
from qcledger.records import Publication, Statement
from tests.screens.findings.support import shelf_ledger

WHOLE = (
    "--address",
    "example.org/card",
    "--disclosed",
    "Bought with our own money; no ties.",
    "--limits",
    "Sticks.",
    "--yes",
)


@pytest.fixture
def place(home, tmp_path):
    return shelf_ledger(tmp_path)


def rows(place, kind):
    with Ledger.open(place) as ledger:
        return ledger.rows(kind)


def test_nothing_is_published_while_something_is_missing(cli, place, tmp_path):
    """Each thing that is missing has its line; no file is written and nothing is recorded."""
    page = tmp_path / "card.html"
    refused = cli("publish", page, "--yes", "--ledger", place)
    assert refused.code == 2
    assert any("--address" in line for line in refused.error_lines)
    assert any("--disclosed" in line for line in refused.error_lines)
    assert not page.exists()
    assert rows(place, Publication) == []


def test_an_edition_is_numbered_and_recorded(cli, place, tmp_path):
    """The page bears its number, the record its bytes; the second is edition 2; a taken file is refused."""
    page = tmp_path / "card.html"
    done = cli("publish", page, *WHOLE, "--ledger", place)
    assert done.code == 0, done.err
    (edition,) = rows(place, Publication)
    assert (edition.number, edition.address, edition.reason) == (1, "example.org/card", "")
    assert edition.sha256 == hashlib.sha256(page.read_bytes()).hexdigest()
    text = page.read_text(encoding="utf-8")
    assert "Edition 1" in text
    assert "DRAFT" not in text
    assert "Bought with our own money; no ties." in text
    assert cli("publish", page, *WHOLE, "--ledger", place).code == 2
    assert len(rows(place, Publication)) == 1
    again = tmp_path / "second.html"
    assert cli("publish", again, *WHOLE, "--rule-changed", "half steps count", "--ledger", place).code == 0
    assert "rule changed: half steps count" in again.read_text(encoding="utf-8")
    assert sorted(one.number for one in rows(place, Publication)) == [1, 2]
    draft = cli("scorecard", "--as", "json", "--ledger", place)
    assert draft.code == 0
    assert len(rows(place, Publication)) == 2


def test_a_reason_is_printed_where_something_is_missing(cli, place, tmp_path):
    """Published all the same, the page and the record bear the reason; an empty one is refused."""
    page = tmp_path / "card.html"
    assert cli("publish", page, "--all-the-same", " ", "--yes", "--ledger", place).code == 2
    done = cli("publish", page, "--all-the-same", "A first try among friends.", "--yes", "--ledger", place)
    assert done.code == 0, done.err
    assert "Missing all the same" in done.out
    assert "A first try among friends." in page.read_text(encoding="utf-8")
    assert [one.reason for one in rows(place, Publication)] == ["A first try among friends."]
    for said in ("Money and ties: not told.", "Where the newest edition is found: not told."):
        assert said in page.read_text(encoding="utf-8")
        assert said in [one.sentence for one in rows(place, Statement) if one.standing == "missing"]


def test_without_an_agreement_nothing_is_recorded(cli, place, tmp_path):
    """Where nobody can be asked, and --yes was not said, it stays as it was."""
    page = tmp_path / "card.html"
    told = cli("publish", page, *WHOLE[:-1], "--ledger", place)
    assert "Nothing was changed" in told.out
    assert not page.exists()
    assert rows(place, Publication) == rows(place, Statement) == []
