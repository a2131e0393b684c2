"""What leads a cell: the claim that explains most of its faults. A pigment clears no maker with other bad paints."""

from dataclasses import replace

import pytest

from qcledger.findings import read
from qcledger.findings.leaning import likeliest_first
from qcledger.findings.pooled import Estimate, Level, Pooled
from qcledger.findings.wording import further, sentence
from qcledger.report.rows import finding_row
from qcledger.vocab import Extent, Standing
from tests.findings.made import SESSIONS, TUBE, field, only, paints, row

RANGE = tuple(f"P{n}" for n in range(12))
HARD = "PR108"


def finding(rows, maker="A", form=TUBE):
    """Return the finding on a maker's tubes."""
    return next(one for one in read(rows, only()).findings if (one.maker, one.format) == (maker, form))


def guilty(*, lots=2):
    """Return a field in which one pigment is hard for all and maker A's other tubes are bad at about 60 %."""
    hard = [one for maker in "ABCDEF" for one in paints(maker, bad=4, formats=(TUBE,), pigments=(HARD,), lots=("H",))]
    sound = field(formats=(TUBE,), pigments=RANGE)
    mine = [
        row(
            paint=f"Paint {name}", pigments=(name,), format=TUBE, lot=f"L{lot}", parcel=f"P{lot}",
            session=SESSIONS[(place + lot) % 3], grade=4 if (place * 2 + lot) % 5 < 3 else 0,
        )
        for place, name in enumerate(RANGE)
        for lot in range(lots)
    ]  # fmt: skip
    return [*hard, *sound, *mine]


def test_one_hard_pigment_clears_no_guilty_maker():
    """Tubes bad at 60 % beside one pigment that is hard for all: what leads is what explains most, in each output."""
    found = finding(guilty())
    pigment = next(one for one in (found.claim, *found.exceptions) if one.extent is Extent.PIGMENT)
    assert (pigment.standing, pigment.subject) == (Standing.SETTLED, (HARD,))
    assert found.claim.extent in (Extent.MAKER, Extent.MAKER_FORMAT)
    assert found.standing is Standing.TO_CONFIRM
    some, total = found.explains
    assert some == total - 1 > 10
    assert not found.clears
    assert "not to the maker" not in sentence(found)
    told = finding_row(found)
    assert (told["explains"], told["faulty"], told["shared_by_makers"]) == (some, total, 0)
    assert "settled: pigment PR108, 1 of " in told["exceptions"]


def test_faults_that_nothing_explains_leave_the_cell_open():
    """Too few paints to accuse anybody: the hard pigment stands beside the cell, and does not lead or clear it."""
    few = [one for one in guilty(lots=1) if one.maker != "A" or one.pigments[0] in (HARD, "P0", "P5", "P1")]
    found = finding(few)
    assert found.standing is Standing.OPEN
    assert found.claim is None or found.claim.extent is not Extent.PIGMENT
    assert [one.extent for one in found.exceptions if one.standing is Standing.SETTLED] == [Extent.PIGMENT]
    assert "not to the maker" not in sentence(found)


def test_a_stray_fault_does_not_keep_a_pigment_from_clearing():
    """One more faulty specimen among many sound ones is no more than others show."""
    hard = [one for maker in "ABCDEF" for one in paints(maker, bad=4, formats=(TUBE,), pigments=(HARD,))]
    rows = [*hard, *field("ABCDEF", formats=(TUBE,))]
    stray = [row(paint="Paint PB29", pigments=("PB29",), format=TUBE, lot="L3", parcel="P3", grade=5)]
    found = finding([*rows, *stray])
    assert (found.standing, found.extent, found.explains) == (Standing.SETTLED, Extent.PIGMENT, (2, 3))
    assert sentence(found).endswith("Common to several makers; none is blamed.")
    assert "that explains 2 of its 3 faulty ones." in " ".join(further(found))


def level(above):
    """Return a level of the pooled model with that chance."""
    return Level(Estimate(0.5, 0.1, 0.2, 0.8), above)


@pytest.mark.parametrize(("pigment", "first"), [(0.9, Extent.PIGMENT), (0.2, Extent.MAKER_FORMAT)])
def test_of_two_that_explain_as_much_the_likelier_is_pointed_to(pigment, first):
    """An open cell points to what the pooled model thinks likelier; without it, to the wider."""
    claim = finding(guilty()).claim
    wide = replace(claim, extent=Extent.PIGMENT, subject=("P0",), standing=Standing.OPEN, checks=())
    narrow = replace(claim, extent=Extent.MAKER_FORMAT, standing=Standing.OPEN, checks=())
    nothing = {name: {} for name in ("cells", "makers", "formats", "paints", "lots", "fair")}
    known = Pooled(**nothing, pigments={("P0",): level(pigment)}, line=0.01, warnings=())
    cell = ("A", TUBE)
    assert likeliest_first([wide, narrow], claim.explained, cell, known)[0].extent is first
    assert likeliest_first([wide, narrow], claim.explained, cell, None)[0].extent is Extent.PIGMENT


def test_a_claim_that_says_nothing_new_is_left_out():
    """Of two that explain the same specimens one is kept."""
    claim = replace(finding(guilty()).claim, standing=Standing.OPEN, checks=())
    assert len(likeliest_first([claim, claim], claim.explained, ("A", TUBE), None)) == 1
