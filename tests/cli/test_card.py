"""The command for supporters' cards: planned and recorded, printed, listed, and typed back."""

import pytest

from qcledger.ledger import Ledger
from qcledger.records import Card, Specimen
from tests.public.read import ReadPage, flat
from tests.screens.findings.support import shelf_ledger


@pytest.fixture
def place(home, tmp_path):
    return shelf_ledger(tmp_path)


def kept(place):
    with Ledger.open(place) as ledger:
        return sorted(ledger.rows(Card), key=lambda one: one.code)


def test_cards_are_planned_printed_and_typed_back(cli, place, tmp_path):
    """A dry run keeps nothing; planned cards are recorded with their specimens; a number leads to what was found."""
    page = tmp_path / "cards.html"
    dry = cli("card", "--plan", 3, "--places", 4, "--dry-run", "--ledger", place)
    assert dry.code == 0, dry.err
    assert kept(place) == []
    assert cli("card", "--plan", 3, "--ledger", place).out.count("Nothing was changed") == 1
    assert cli("card", "--plan", 0, "--yes", "--ledger", place).code == 2
    done = cli("card", "--plan", 3, "--places", 4, "--yes", "--print", page, "--ledger", place)
    assert done.code == 0, done.err
    rows = kept(place)
    assert [one.code for one in rows] == ["OV K0001", "OV K0002", "OV K0003"]
    with Ledger.open(place) as ledger:
        assert {id_ for one in rows for id_ in one.specimens} <= {one.id for one in ledger.rows(Specimen)}
        assert ledger.verify() == []
    seen = ReadPage(page.read_text(encoding="utf-8"))
    assert [flat(one.text) for one in seen.named("h1")] == [one.code for one in rows]
    assert len(seen.named("li")) == 12
    more = cli("card", "--plan", 1, "--yes", "--ledger", place)
    assert more.code == 0
    assert kept(place)[-1].code == "OV K0004"
    assert "OV K0002: 4 swatches" in cli("card", "--ledger", place).out
    told = cli("card", "ovk2", "--ledger", place)
    assert told.code == 0, told.err
    assert told.out.startswith("OV K0002\n- ")
    assert "tested." in told.out
    refused = cli("card", "ovk9", "--ledger", place)
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    draft = cli("scorecard", "--as", "json", "--ledger", place)
    assert '"code": "OV K0004"' in draft.out
