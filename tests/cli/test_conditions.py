"""``qcledger conditions``: what a stage was worked under, noted and amended from the command line."""

import pytest

from qcledger.ledger import Ledger
from qcledger.records import Stage
from tests.small import small_ledger


@pytest.fixture
def place(home, tmp_path):
    return small_ledger(tmp_path).place


def wet(place) -> Stage:
    with Ledger.open(place) as ledger:
        return ledger.get(Stage, "wet")


def test_conditions_are_noted_amended_and_listed(cli, place):
    """A dry run writes nothing; a change needs a reason; the list tells now, then and why."""
    asked = ("conditions", "S04", "--stage", "wet", "--ledger", place)
    tried = cli(*asked, "--water", "rain", "--temperature", "21.5", "--dry-run")
    assert (tried.code, wet(place).water) == (0, None)
    done = cli(*asked, "--water", "rain", "--temperature", "21.5")
    assert (done.code, done.err, done.out) == (0, "", "wet: water rain, temperature 21.5\n")
    assert (wet(place).water, wet(place).temperature_c, wet(place).brush) == ("rain", 21.5, None)
    refused = cli(*asked, "--water", "tap")
    assert (refused.code, "--reason" in refused.err, wet(place).water) == (2, True, "rain")
    assert cli(*asked, "--water", "tap", "--reason", "misread the bottle").code == 0
    told = cli("conditions", "s04", "--ledger", place).out
    assert "wet: water tap, temperature 21.5" in told
    assert "amended at wet: water tap, was rain; misread the bottle" in told


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("S04", "--water", "tap"), "--stage"),
        (("S04", "--stage", "noon", "--water", "tap"), "stage: found 'noon'"),
        (("S04", "--stage", "wet", "--humidity", "148"), "--humidity"),
        (("S04", "--stage", "wet", "--temperature", "warm"), "--temperature"),
        (("S04", "--stage", "wet", "--brush", ""), "what is noted already"),
        (("S99",), "S99"),
    ],
)
def test_what_does_not_hold_is_refused_in_one_line(cli, place, given, said):
    """Nothing is written, the exit code is 2, and the line names the option."""
    before = wet(place)
    refused = cli("conditions", *given, "--ledger", place)
    assert (refused.code, len(refused.error_lines)) == (2, 1)
    assert said in refused.err
    assert wet(place) == before
