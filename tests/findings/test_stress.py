"""A claim looked at again with one thing at a time left out."""

from dataclasses import replace

from qcledger.findings import find, gather
from qcledger.findings.model import SameFairFields
from qcledger.findings.pooled import LINE
from qcledger.findings.stress import SHIFTS, Worry, stress
from qcledger.findings.wording_of_checks import stands_in
from qcledger.vocab import Blinding, Extent, Standing, Why
from tests.findings.made import FROTH, HALF, confirming, field, only, paints, row


def worry(rows, extent, criterion=FROTH):
    """Return the claim of this extent, to be looked at again."""
    found = find(gather(rows, only(criterion)))
    one = next(one for one in found.findings if one.claim and one.claim.extent is extent)
    return Worry(one.claim, one.field, LINE)


def by_kind(found, kind):
    return {check.what: check.stands for check in found.checks if check.kind == kind}


def lot(code, bad, number=3, **more):
    return [row(lot=code, grade=5 if n < bad else 0, **more) for n in range(number)]


BAD_LOT = [*lot("L1", 4, 4), *lot("L2", 0, 4, parcel="P2", session="S2"), *lot("L3", 0, 4, parcel="P3"), *field("BC")]


def test_a_bad_lot_stands_or_falls_with_what_it_is_held_against():
    """Of two sound lots either may go; without the one seller of the bad lot there is nothing left of it."""
    found = stress(worry(BAD_LOT, Extent.LOT), only())
    assert set(by_kind(found, "lot")) == {"L2 of Red", "L3 of Red"}
    sellers = by_kind(found, "seller")
    assert sellers == {"seller of P1": False, "seller of P2": True, "seller of P3": True}
    assert by_kind(found, "session") == {"S1": False, "S2": True}
    assert found.stands + len(found.falls) == len(found.checks)


def test_moving_the_fault_line():
    """Grades of 5 stay faults wherever the line is; grades at the line do not once it is milder."""
    assert by_kind(stress(worry(BAD_LOT, Extent.LOT), only()), "fault line") == {}
    near = [replace(one, grade=3) if one.grade == 5 else one for one in BAD_LOT]
    told = by_kind(stress(worry(near, Extent.LOT), only()), "fault line")
    assert told == {"half a grade milder": False, "a grade milder": False}
    light = [replace(one, grade=2.5) if one.maker == "B" else one for one in BAD_LOT]
    assert by_kind(stress(worry(light, Extent.LOT), only()), "fault line") == {
        "half a grade stricter": True, "a grade stricter": True,
    }  # fmt: skip
    assert len(SHIFTS) == 4


def test_trials_that_were_not_blind_are_left_out_together():
    """Only where there are some: what changes nothing is no check."""
    assert by_kind(stress(worry(BAD_LOT, Extent.LOT), only()), "not blind") == {}
    seen = [replace(one, blinding=Blinding.OPEN) if one.lot_code == "L1" else one for one in BAD_LOT]
    assert by_kind(stress(worry(seen, Extent.LOT), only()), "not blind") == {"trials that were not blind": False}


def test_a_later_trial_steps_in_where_its_first_is_left_out():
    """A specimen tested again is judged by its second trial once the first session is gone."""
    again = [
        replace(one, observation=f"{one.observation}b", trial=f"{one.trial}b", session="S3", session_code="S3",
                trial_at=one.trial_at.replace(month=6))
        for one in BAD_LOT if one.lot_code == "L1"
    ]  # fmt: skip
    rows = [*BAD_LOT, *again]
    found = stress(worry(rows, Extent.LOT), only())
    assert by_kind(found, "session")["S2"]
    assert "S1" not in by_kind(found, "session") or by_kind(found, "session")["S1"]


def test_a_clear_maker_stands_without_each_lot():
    """Eight bad lots among forty sound ones: the fair-field statistic at one mode says so without any one of them."""
    rows = [*paints("A", bad=5), *field(), *confirming("A")]
    mine = worry(rows, Extent.MAKER_FORMAT)
    assert mine.claim.standing is Standing.HOLDS
    strength = SameFairFields.of(mine.everyone, LINE)
    found = stress(mine, only(), strength=strength)
    assert len(by_kind(found, "lot")) == 9
    assert all(by_kind(found, "lot").values())
    assert stands_in(found).startswith(f"It stands in {found.stands} of {len(found.checks)} stress checks")


def test_nothing_bought_as_planned_is_no_strength():
    """Evidence without a planned purchase passes nothing."""
    mine = worry([*paints("A", bad=5), *field(), *confirming("A")], Extent.MAKER_FORMAT)
    strength = SameFairFields.of(mine.everyone, LINE)
    none = [replace(one, why=Why.NOTE) for one in mine.rows]
    found = stress(mine, only(), strength=strength, moved=lambda _: iter([("buying", "nothing planned", none)]))
    assert "buying" not in {check.kind for check in found.checks}  # the counts are the same, so it is no check
    sound = [replace(one, grade=0) if place == 0 else one for place, one in enumerate(none)]
    found = stress(mine, only(), strength=strength, moved=lambda _: iter([("buying", "nothing planned", sound)]))
    assert by_kind(found, "buying") == {"nothing planned": False}


def test_further_changes_come_in_by_the_hook():
    """Grades moved by a tester's measured error are checks like the others."""

    def moved(rows):
        yield "tester", "one grade off", [replace(one, grade=max(one.grade - 4, 0)) for one in rows]

    assert by_kind(stress(worry(BAD_LOT, Extent.LOT), only(), moved=moved), "tester") == {"one grade off": False}


def test_stopped_it_ends_with_what_it_has():
    """Asked before each check."""
    assert stress(worry(BAD_LOT, Extent.LOT), only(), stop=lambda: True).checks == ()
    assert stands_in(stress(worry(BAD_LOT, Extent.LOT), only(), stop=lambda: True)).startswith("There is nothing")


def test_other_extents_are_looked_at_by_their_own_rules():
    """A format most makers show stands without any one lot; a single specimen without the others' lots."""
    hard = [*field("ABCDEF", bad=5), *field("ABCDEF", formats=(type(HALF)("tube"),))]
    mine = worry(hard, Extent.FORMAT)
    few = replace(mine.claim, lots=mine.claim.lots[:3])
    assert all(by_kind(stress(Worry(few, mine.everyone, LINE), only()), "lot").values())
    single = [*lot("L1", 1, number=4), *lot("L2", 0, parcel="P2"), *field("BC")]
    found = stress(worry(single, Extent.SPECIMEN), only())
    assert by_kind(found, "lot") == {"L2 of Red": True}
