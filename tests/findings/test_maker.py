"""Accusing a maker or its format: each thing that is needed, taken away one at a time."""

from dataclasses import replace

import pytest

from qcledger.findings import read
from qcledger.findings.finding import What
from qcledger.vocab import Extent, Format, Nature, Standing, Why
from tests.findings.made import FROTH, HALF, PIGMENTS, TUBE, confirming, criterion, field, only, paints, row

BOTH = (HALF, TUBE)
FOUR = "BCDE"


def finding(rows, form=HALF, one=FROTH):
    """Return the finding on maker A in a format."""
    return next(found for found in read(rows, only(one)).findings if (found.maker, found.format) == ("A", form))


def unmet(found):
    """Return the names of the checks that are not met."""
    return {check.name for check in found.checks if not check.met}


def test_a_maker_format_holds_once_confirmed():
    """Faults over paints, lots and parcels, sound peers, and a new lot from another seller that bears it out."""
    found = finding(paints("A", bad=4) + confirming("A") + field())
    assert (found.standing, found.extent) == (Standing.HOLDS, Extent.MAKER_FORMAT)
    assert all(check.met for check in found.checks)


def test_before_that_it_is_to_confirm():
    """Everything but the confirmation leaves it private."""
    found = finding(paints("A", bad=4) + field())
    assert (found.standing, found.extent, unmet(found)) == (
        Standing.TO_CONFIRM,
        Extent.MAKER_FORMAT,
        {What.CONFIRMED},
    )


@pytest.mark.parametrize(
    "confirms",
    [
        confirming("A", bad=0),
        confirming("A", number=1),
        [replace(one, lot="A/Paint PR101/half pan/L1", lot_code="L1") for one in confirming("A")],
        [replace(one, seller="seller of P0") for one in confirming("A")],
        [replace(one, lot=None, lot_code=None) for one in confirming("A")],
        [replace(one, why=Why.PLANNED) for one in confirming("A")],
        [replace(one, why=Why.NOTE) for one in confirming("A")],
    ],
    ids=[
        "sound",
        "one only",
        "same lot",
        "same seller",
        "no batch code",
        "not bought to confirm",
        "because of a note",
    ],
)
def test_what_does_not_confirm(confirms):
    """Confirmation is two faulty specimens of another lot from another seller, bought for it."""
    found = finding(paints("A", bad=4) + confirms + field())
    assert found.standing is Standing.TO_CONFIRM
    assert What.CONFIRMED in unmet(found)


def test_a_maker_over_its_formats():
    """Pans and tubes alike, with sound peers in both: the maker, told of each of its formats."""
    rows = paints("A", bad=4, formats=BOTH) + confirming("A") + field(formats=BOTH)
    assert [finding(rows, form).extent for form in BOTH] == [Extent.MAKER] * 2


def test_one_sound_format_narrows_it():
    """Sound tubes beside bad pans: this maker's format, and nothing against the tubes."""
    rows = paints("A", bad=4) + paints("A", formats=(TUBE,)) + confirming("A") + field(formats=BOTH)
    assert finding(rows).extent is Extent.MAKER_FORMAT
    assert finding(rows, TUBE).claim is None


LACKING = {
    "paints": (paints("A", bad=4, pigments=PIGMENTS[:2]), field(), What.PAINTS),
    "peers": (paints("A", bad=4, pigments=("X1", "X2", "X3")), field(), What.PEERS),
    "peers of two pigments": (
        paints("A", bad=4, pigments=("PR101", "PY42", "X3", "X4")),
        field(),
        What.PEERS,
    ),
    "two other makers": (paints("A", bad=4), field("BC"), What.PEERS),
    "sessions": (paints("A", bad=4, session="S9"), field(), What.SESSIONS),
}


@pytest.mark.parametrize(("ours", "theirs", "name"), LACKING.values(), ids=LACKING)
def test_minimum_evidence(ours, theirs, name):
    """Whatever is lacking leaves it not settled, and is named."""
    found = finding(ours + theirs)
    assert found.standing is Standing.NOT_SETTLED
    assert found.leaning in (Extent.MAKER_FORMAT, Extent.PAINT)
    assert name in unmet(found)


def test_a_specialist_is_not_accused():
    """Pigments that nobody else sells cannot be compared, however bad they are."""
    found = finding(paints("A", bad=5, pigments=tuple(f"X{n}" for n in range(8)), each=3) + confirming("A") + field())
    assert found.standing is not Standing.HOLDS


def test_one_bad_lot_carries_no_maker():
    """Six faulty specimens of one lot are a lot, not a maker, whatever their number."""
    rows = [row(maker="A", paint="Paint PR101", lot="L7", grade=5, parcel=f"P{n}") for n in range(6)]
    found = finding(rows + paints("A", each=2) + field())
    assert found.extent in (Extent.LOT, None)


def test_one_parcel_is_the_parcel():
    """Faults in one purchase only may be heat in the post: neither the maker nor its format is named."""
    bad = [replace(one, parcel="A/P1", seller="one shop") for one in paints("A", bad=4)]
    found = finding(bad + field())
    assert (found.standing, found.leaning) == (Standing.NOT_SETTLED, Extent.PARCEL)


def test_lots_without_a_code_are_no_lots():
    """Specimens without a batch code never count towards a lot minimum."""
    found = finding(paints("A", bad=4, lots=(None, None)) + confirming("A") + field())
    assert found.extent is None


def test_what_may_be_a_trait_needs_four_peers():
    """For a fault that some paints simply have, three other makers are no baseline."""
    rows = paints("A", bad=4, formats=BOTH) + field("BCD", formats=BOTH)
    trait = criterion(nature=Nature.FAULT_OR_TRAIT)
    assert What.PEERS not in unmet(finding(rows))
    assert What.PEERS in unmet(finding(rows, one=trait))


def test_unpacked_on_one_day_is_one_session():
    """At unpacking there are no sessions: two days are needed instead."""
    rows = paints("A", bad=4, session=None) + field(session=None)
    assert What.SESSIONS in unmet(finding(rows))


def test_nobody_else_tested():
    """Without another maker there is nothing to compare with, and nobody is accused."""
    found = finding(paints("A", bad=4) + confirming("A"))
    assert found.extent is None


def test_a_bad_lot_within_a_faint_maker_is_an_exception():
    """A wider extent does not hide a lot that stands out from sound lots of its paint."""
    faint = paints("A", bad=4, pigments=PIGMENTS[1:], lots=("L1", "L2", "L3"), each=2)
    lots = [
        row(maker="A", paint="Paint PR101", lot=lot, grade=5 if lot == "L2" else 0, parcel=f"P{n}", session="S1")
        for lot in ("L1", "L2", "L3")
        for n in range(3)
    ]
    found = finding(faint + lots + field())
    assert found.extent is Extent.MAKER_FORMAT
    assert [(claim.extent, claim.subject[-1]) for claim in found.exceptions] == [(Extent.LOT, "L2")]


def test_format_names_are_not_confused():
    """Each format of a maker has its own finding."""
    rows = paints("A", bad=4, formats=(Format.FULL_PAN,)) + paints("A", formats=BOTH)
    assert {found.format for found in read(rows, only()).findings} == {Format.FULL_PAN, *BOTH}
