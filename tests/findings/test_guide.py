"""The guide says the numbers that the rules use."""

import re

import pytest

from qcledger.findings import checks
from qcledger.findings.pooled import FLOOR, LINE, SURE
from qcledger.settings import shipped
from qcledger.stats.pooled.levels import AGAIN
from qcledger.vocab import MARKS, Extent, Standing

GUIDE = " ".join((shipped("guide") / "findings.md").read_text(encoding="utf-8").split())


@pytest.mark.parametrize("standing", Standing)
def test_every_standing_is_explained(standing):
    """Each standing stands in the table beside its mark."""
    assert f"| `{MARKS[standing]}` | {standing} |" in GUIDE


def test_every_extent_has_its_needs():
    """Extents stand in the order of the rules; our own session is told to be none of them."""
    places = [GUIDE.index(f"| {extent} |") for extent in Extent if extent is not Extent.SESSION]
    assert places == sorted(places)
    assert "*Our own session* is no rule" in GUIDE


@pytest.mark.parametrize(
    "said",
    [
        f"{checks.MIN_FIELD_MAKERS} or more makers show it with that pigment",
        f"with {checks.MIN_TO_CLEAR} or more specimens and no such rate",
        f"{checks.DELTA / 2 * 100:.0f} points whichever two makers are left out",
        f"more than {checks.DELTA * 100:.0f} points above the peers",
        f"{checks.MIN_PAINTS} or more paints and lots",
        f"{checks.MIN_PEER_PIGMENTS} or more pigments that {checks.MIN_PEER_MAKERS} or more other makers",
        f"({checks.MIN_FIELD_MAKERS} for what may be a trait)",
        f"{checks.MIN_SESSIONS} or more sessions",
        f"{checks.MIN_FAULTY} or more faulty in it beside {checks.MIN_SOUND_LOTS} or more sound lots",
        f"one faulty beside {checks.MIN_SOUND_IN_LOT} or more sound",
        f"P(excess > 0) at {FLOOR:g} or more",
        f"P(excess > 0.10) is {SURE:g} or more",
        f"must not be above {LINE:g} divided by the number of criteria",
        f"by exact tests at {checks.WIDE_LEVEL:g}",
        f"{checks.SCORECARD * 100:g} % for everything that a scorecard says",
        f"{checks.NARROW_SHARE:g} each for paints, for paints beyond what is shared, for parcels, and for lots",
        f"at {checks.EXACT_LEVEL:g} within its criterion",
        f"{AGAIN:g} times its line",
        f"be faults in {checks.MIN_FAULTY} paints or more, more than ten points above the peers",
        f"and p {checks.SPREAD_LEVEL:g} or less by exchanging lots with these",
        f"times the number of parcels of {checks.MIN_FAULTY} or more specimens, p {checks.EXACT_LEVEL:g} or less)",
        f"bought to confirm, {checks.MIN_TO_CONFIRM} or more faulty",
        f"{checks.MIN_NONE_SPECIMENS} or more specimens of {checks.MIN_NONE_LOTS} or more lots",
        f"plus {2 * checks.DELTA * 100:.0f} points",
    ],
)
def test_numbers_are_those_of_the_rules(said):
    """Each limit in the guide is the one in the code."""
    assert said in GUIDE


def test_no_defect_in_the_guide():
    """The word with a legal meaning is not used."""
    assert not re.search(r"\bdefect", GUIDE)
