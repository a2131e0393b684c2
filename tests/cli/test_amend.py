"""``qcledger amend``: another result in place of one that was recorded."""

import pytest

from qcledger.ledger import Ledger
from qcledger.records import Observation
from tests.small import graded, small_ledger


@pytest.fixture
def place(home, tmp_path):
    return graded(small_ledger(tmp_path)).place


def newest(place):
    with Ledger.open(place) as ledger:
        return max(ledger.rows(Observation), key=lambda seen: (seen.at, seen.id))


def test_then_now_and_the_counts_are_printed(cli, place):
    """A dry run says what would stand and writes nothing; then it stands, with the reason."""
    asked = ("amend", "OV 0002", "Edge", "--grade", 1, "--ledger", place)
    before = newest(place)
    tried = cli(*asked, "--dry-run")
    assert (tried.code, tried.err) == (0, "")
    assert newest(place) == before
    done = cli(*asked, "--reason", "misread the scale")
    assert (done.code, done.err) == (0, "")
    for line in ("then: 3", "now: 1", "Trellmere, half pan, edge: 3 of 3 before, 2 of 3 after"):
        assert line in tried.out
        assert line in done.out
    assert (newest(place).grade, newest(place).reason) == (1.0, "misread the scale")


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("--grade", 1), "--reason"),
        (("--grade", 9, "--reason", "x"), "grade 9"),
        (("--grade", 3, "--reason", "x"), "what stands already"),
        (("--grade", 1, "--take-back", "--reason", "x"), "--grade and --take-back"),
        (("--reading", "5", "--reason", "x"), "no reading for Edge"),
        (("--not-testable", " ", "--reason", "x"), "why it could not be tested"),
        (("--grade", 1, "--reason", "x", "--session", "S99"), "S99"),
    ],
)
def test_what_does_not_hold_is_refused_in_one_line(cli, place, given, said):
    """Nothing is written, the exit code is 2, and the line says what was found and what is allowed."""
    before = newest(place)
    refused = cli("amend", "OV 0002", "edge", *given, "--ledger", place)
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    assert said in refused.err
    assert newest(place) == before


def test_not_testable_note_and_take_back(cli, place):
    """Each becomes an amendment of what stands then."""
    for given, standing in (
        (("--not-testable", "used up"), "used up"),
        (("--grade", 2, "--note", "second look"), None),
        (("--take-back",), "taken back"),
    ):
        done = cli("amend", "OV 0002", "edge", *given, "--reason", "looked again", "--ledger", place)
        assert (done.code, done.err) == (0, "")
        assert newest(place).not_testable == standing
