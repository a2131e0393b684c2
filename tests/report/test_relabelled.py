"""What a label put right does to the peers of findings."""

import pytest

from qcledger.bench import correcting
from qcledger.ledger import Ledger
from qcledger.report.relabelled import NO_PIECE, SAME, peers_words
from tests.screens.findings.support import shelf_ledger

HALF, HALF_LATER, TUBE = "sp1.0.0.0", "sp1.0.0.1", "sp1.0.1.0"
"""Two half pans and a tube of one maker's PG18."""


@pytest.fixture
def ledger(tmp_path):
    with Ledger.open(shelf_ledger(tmp_path), write=True) as found:
        yield found


def weighed(ledger, names, only=None):
    label = correcting.label_of(ledger, HALF)
    return correcting.weigh(ledger, label, {"index_names": names}, ledger.new_id, only=only)


def test_peers_until_now_and_from_now_on_are_those_the_findings_count(ledger):
    """Each format in a line; what is said of from now on is what the rows of the ledger say once it is kept."""
    told = peers_words(ledger, weighed(ledger, ("pr 101",), [HALF, HALF_LATER]))
    assert told == [
        "half pan: compared with eight specimens of four other makers (PG18) until now, "
        "with eight specimens of four other makers (PR101) from now on."
    ]
    assert len(peers_words(ledger, weighed(ledger, ("PR101",)))) == 2
    correcting.keep(ledger, weighed(ledger, ("PR101",), [HALF]), "m")
    found = {row.specimen: row.pigments for row in ledger.tested_rows()}
    assert (found[HALF], found[HALF_LATER], found[TUBE]) == (("PR101",), ("PG18",), ("PG18",))


def test_a_pigment_that_nobody_else_has_leaves_no_peers(ledger):
    """It says so; another order or spelling of the same pigments changes no peers."""
    (told,) = peers_words(ledger, weighed(ledger, ("PB29",), [HALF]))
    assert told.endswith("with no other maker's (PB29) from now on.")
    (none,) = peers_words(ledger, weighed(ledger, (), [HALF]))
    assert none.endswith("with no other maker's (no pigments) from now on.")
    assert peers_words(ledger, weighed(ledger, ("PG 18",), [HALF])) == [SAME]


def test_a_new_print_that_no_piece_has_yet_changes_no_finding(ledger):
    """It is said that no piece carries it."""
    label = correcting.label_of(ledger, HALF)
    wanted = correcting.weigh(
        ledger, label, {"index_names": ("PB29",)}, ledger.new_id, since=ledger.day(),
    )  # fmt: skip
    assert peers_words(ledger, wanted) == [NO_PIECE]
