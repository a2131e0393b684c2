"""What a dry run lets pass, the real run keeps; what the real run refuses, the dry run refuses in the same words."""

from dataclasses import replace

import pytest

from qcledger.exchange import merge_folder, to_folder
from qcledger.ledger import Ledger
from qcledger.records import Maker, Session
from tests.small import START, graded, small_ledger


@pytest.fixture
def place(home, tmp_path):
    """Return a ledger with graded pieces of one's own, and another tester's session S04 beside it."""
    (tmp_path / "other").mkdir()
    theirs = graded(small_ledger(tmp_path))
    with theirs.open(write=True) as ledger:
        ledger.append([replace(ledger.get(Session, "se"), closed_at=START.replace(day=16))])
        ledger.append([Maker(id="mk2", name="Quernlow")])
        to_folder(ledger, tmp_path / "out")
    mine = tmp_path / "mine.sqlite"
    with Ledger.create(mine, letters="TL", tester="Tilo", zone="Etc/UTC") as ledger:
        merge_folder(ledger, tmp_path / "out")
    return {"own": theirs.place, "merged": mine}


@pytest.mark.parametrize(
    ("where", "given"),
    [
        ("own", ("amend", "OV 0002", "--received-on", "2026-04-01")),
        ("own", ("same-as", "maker", "Quernlow", "quernlow")),
        ("merged", ("conditions", "S04", "--stage", "wet", "--water", "rain water")),
        ("merged", ("amend", "OV 0002", "edge", "--grade", "1")),
        ("merged", ("amend", "OV 0002", "--price", "5")),
        ("merged", ("label", "OV 0002", "--pigments", "PB29")),
    ],
)
def test_what_is_refused_is_refused_when_tried(cli, place, where, given):
    """Each such check was made by the real run alone, or might be: both lines are one, and nothing is written."""
    before = place[where].read_bytes()
    asked = (*given, "--reason", "looked again", "--ledger", place[where])
    tried = cli(*asked, "--dry-run")
    assert place[where].read_bytes() == before
    done = cli(*asked)
    assert (tried.code, done.code) == (2, 2), (tried.out, done.out)
    assert tried.err == done.err
    assert len(done.error_lines) == 1


@pytest.mark.parametrize(
    "given",
    [
        ("amend", "OV 0002", "edge", "--grade", "1"),
        ("amend", "OV 0002", "--price", "5"),
        ("label", "OV 0002", "--pigments", "PB29"),
    ],
)
def test_a_reason_that_is_needed_is_said_when_tried(cli, place, given):
    """A dry run may come before the reason; it says that keeping will need one, and with one says nothing of it."""
    asked = (*given, "--ledger", place["own"])
    tried = cli(*asked, "--dry-run")
    assert (tried.code, "it will need a --reason" in " ".join(tried.out.split())) == (0, True)
    assert cli(*asked).code == 2
    given_one = cli(*asked, "--dry-run", "--reason", "misread")
    assert (given_one.code, "--reason" in given_one.out) == (0, False)
    assert cli(*asked, "--reason", "misread").code == 0
