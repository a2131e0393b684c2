"""What would settle a finding."""

from dataclasses import replace
from datetime import timedelta

import pytest

from qcledger.findings import read
from qcledger.findings.settle import Buy, Purchase, purchases
from qcledger.findings.wording_of_settling import would_settle
from qcledger.vocab import Occasion, Standing
from tests.findings.made import FROTH, PIGMENTS, confirming, field, only, paints, row


def wanted(rows):
    """Return what would settle the finding on maker A."""
    return purchases(next(one for one in read(rows, only()).findings if one.maker == "A"))


def test_settled_findings_ask_for_nothing():
    """Neither what holds nor what was not found needs a purchase."""
    assert wanted(paints("A", bad=4) + confirming("A") + field()) == ()
    assert wanted(paints("A", each=2, lots=("L1", "L2", "L3", "L4")) + field()) == ()


def test_a_comparison_asks_for_what_the_worst_grade_asks_for():
    """A bad lot, but two of its three specimens differ from other makers' by comparison only."""
    compared = replace(FROTH, conditions=("number of other makers on the sheet",))
    rows = [row(lot=lot, grade=grade) for lot, grade in (("L2", 5), ("L2", 3), ("L2", 4))]
    rows += [row(lot=lot) for lot in ("L1", "L3") for _ in "123"]
    (found,) = read(rows, only()).findings
    assert purchases(found) == (Purchase(Buy.CONFIRM_LOT, 1),)
    assert would_settle(found) == "A further specimen of lot L2, from any seller, bought to confirm."
    (found,) = read(rows, only(compared)).findings
    assert purchases(found) == (Purchase(Buy.ANALYSIS, 2),)
    assert would_settle(found) == "Of two specimens, what grade 5 asks for: anchor 5."


def test_an_accusation_asks_for_confirmation():
    """Two specimens to confirm."""
    assert wanted(paints("A", bad=4) + field()) == (Purchase(Buy.CONFIRM, 2),)


def test_a_lonely_bad_specimen_asks_for_its_lot():
    """1 of 2: two more of the lot."""
    assert wanted([row(grade=5), row()]) == (Purchase(Buy.OF_THE_LOT, 2),)
    (found,) = read([row(grade=5), row()], only()).findings
    assert would_settle(found) == "Look at, or buy, two more specimens of lot L1."


def test_a_bad_lot_asks_for_other_lots():
    """2 of 2 with no other lot: two other lots, which also decide the exact test."""
    assert wanted([row(grade=5), row(grade=5)]) == (Purchase(Buy.LOTS_OF_PAINT, 2),)


def test_no_code_asks_for_a_code():
    """Units without a batch code: some that have one."""
    assert wanted([row(grade=5, lot=None)]) == (Purchase(Buy.WITH_CODE, 1),)


def test_where_the_missing_code_is_the_fault_no_code_is_asked_for():
    """All without a code are faulty and none with one: a code would tell no lots apart, another parcel would."""
    bare = [row(grade=5, lot=None), row(grade=5, lot=None)]
    found = {one.what for one in wanted([*bare, row(lot="L1"), row(lot="L2")])}
    assert Buy.WITH_CODE not in found
    assert Buy.SELLER in found
    assert Buy.WITH_CODE in {one.what for one in wanted([*bare, row(lot="L1", grade=5), row(lot="L2")])}


def test_minimum_evidence_is_asked_for_by_name():
    """A maker with too few paints, peers and sellers is told so, each with its number."""
    rows = paints("A", bad=4, pigments=PIGMENTS[:2]) + field("BC")
    asked = {purchase.what for purchase in wanted(rows)}
    assert Buy.PAINTS in asked
    assert Buy.PEERS in asked


def test_what_is_asked_of_other_sellers_is_named():
    """One bad parcel and no other: that format of that maker from other sellers."""
    found = next(one for one in read(paints("A", bad=4, parcel="P1") + field(), only()).findings if one.maker == "A")
    assert would_settle(found) == "Half pans of Maker A from two other sellers."


def test_the_lots_asked_for_are_enough_and_one_less_is_not():
    """As many further sound lots as said make it none found; one fewer leaves it open."""
    sound = [row(paint=f"Paint {place}", lot="L1") for place in range(4)] + field()
    (purchase,) = wanted(sound)
    assert purchase.what is Buy.LOTS_OF_FORMAT
    for number, standing in ((purchase.number, Standing.NONE_FOUND), (purchase.number - 1, Standing.OPEN)):
        more = sound + [row(paint="New", lot=f"N{place}") for place in range(number)]
        assert next(one for one in read(more, only()).findings if one.maker == "A").standing is standing


def test_too_many_lots_are_not_counted_out():
    """Where even sixty further sound lots would not do, no number is given."""
    rows = [row(paint=f"Paint {place}", lot=f"L{place % 5}", grade=4 * (place % 2)) for place in range(60)]
    rows += field("BC")
    found = next(one for one in read(rows, only()).findings if one.maker == "A")
    if found.claim is None:
        assert purchases(found) == (Purchase(Buy.LOTS_OF_FORMAT, 0),)


@pytest.mark.parametrize("rows", [[row(grade=5)], [row()], paints("A", bad=4), paints("A", bad=4, lots=(None,))])
def test_open_findings_ask_for_something(rows):
    """Whatever is not settled names what would settle it."""
    assert wanted(rows)


def unpacked(rows, days=0):
    """Return rows as they were seen when unpacked, so many days later than made."""
    return [
        replace(
            one, session=None, session_code=None, blinding=None, occasion=Occasion.UNPACKING, comparison=None,
            day=one.day + timedelta(days=days), sitting=f"{one.maker} {one.parcel} {days}",
        )
        for one in rows
    ]  # fmt: skip


def test_no_session_is_asked_for_what_is_judged_at_unpacking():
    """Faults in two parcels, other makers' unpacked half a year later: those are missing, near in time."""
    wrapper = replace(FROTH, seen_at=Occasion.UNPACKING)

    def asked(mine, others):
        rows = [*unpacked(mine), *unpacked(field(), others)]
        found = next(one for one in read(rows, only(wrapper)).findings if one.maker == "A")
        return {purchase.what for purchase in purchases(found)}, would_settle(found)

    far, words = asked(paints("A", bad=4), 200)
    assert Buy.UNPACKED_PEERS in far
    assert not far & {Buy.SESSION, Buy.TOGETHER}
    assert "alf pans of other makers, unpacked within 91 days of its faulty ones" in words
    assert "session" not in words
    near, _ = asked(paints("A", bad=4), 80)
    assert near == {Buy.CONFIRM}


def test_a_lot_is_compared_with_what_was_unpacked_near():
    """A bad lot unpacked long after the sound ones asks for some unpacked near it."""
    wrapper = replace(FROTH, seen_at=Occasion.UNPACKING)
    bad = unpacked([row(lot="L1", grade=5) for _ in "123"])
    sound = [one for lot in ("L2", "L3") for one in unpacked([row(lot=lot) for _ in "123"], 200)]
    (found,) = read([*bad, *sound], only(wrapper)).findings
    assert purchases(found) == (Purchase(Buy.UNPACKED_TOGETHER, 1),)
    assert would_settle(found) == "Specimens it is compared with, unpacked within 91 days of it."
