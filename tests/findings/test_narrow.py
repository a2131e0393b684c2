"""A paint, a lot, a parcel, a specimen: each with what it needs."""

from dataclasses import replace
from datetime import timedelta

import pytest

from qcledger.findings import read
from qcledger.findings.finding import CheckName
from qcledger.findings.wording_of_settling import would_settle
from qcledger.vocab import Extent, Severity, Standing, WhyBought
from tests.findings.made import HALF, PIGMENTS, criterion, field, only, paints, row
from tests.findings.spoken import spoken


def finding(rows, one=None):
    """Return the finding on maker A's half pans."""
    found = read(rows, only(one) if one else only()).findings
    return next(one for one in found if (one.maker, one.format) == ("A", HALF))


def reach(rows):
    """Return standing and extent, said or pointed to."""
    found = finding(rows)
    return found.standing, found.claim and found.claim.extent


def red(lot, *grades, parcel="P1", **more):
    """Return specimens of one lot of maker A's red, each in a parcel of its own unless named."""
    return [
        row(paint="Paint PR101", lot=lot, grade=grade, parcel=f"{parcel}{n}", **more)
        for n, grade in enumerate(grades)
    ]


def test_a_bad_lot_beside_two_sound_ones():
    """3 of 3 against 0 of 6 in two lots: the lot, once a further specimen of it is faulty too."""
    rows = red("L1", 0, 0, 0) + red("L2", 5, 3, 4) + red("L3", 0, 1, 0)
    assert reach(rows) == (Standing.TO_CONFIRM, Extent.LOT)
    assert [check.name for check in finding(rows).claim.unmet] == [CheckName.CONFIRMED]
    for further, holds in (((4,), True), ((0,), False), ((0, 0, 4), False)):
        found = finding(rows + red("L2", *further, parcel="later", why=WhyBought.TO_CONFIRM))
        assert (found.standing is Standing.SETTLED) == holds


def test_a_lot_may_say_enough_by_itself():
    """6 of 6 beside 0 of 6 is beyond what a whole scorecard may say by chance: no further specimen is needed."""
    rows = red("L1", 0, 0, 0) + red("L2", 5, 5, 5, 5, 5, 5) + red("L3", 0, 0, 0)
    assert reach(rows) == (Standing.SETTLED, Extent.LOT)
    every = [replace(one, criterion=key, observation=f"{one.observation} {key}") for one in rows for key in "abc"]
    found = read(every, only(*map(criterion, "abc"))).findings
    assert {one.standing for one in found} == {Standing.TO_CONFIRM}


def test_what_confirms_a_lot_does_not_make_it():
    """2 of 2 says nothing by chance; a third, bought to confirm, makes it 3 of 3 and cannot confirm that as well."""
    rows = red("L1", 0, 0, 0) + red("L2", 5, 3) + red("L3", 0, 1, 0)
    more = red("L2", 4, parcel="later", why=WhyBought.TO_CONFIRM)
    assert reach(rows)[0] is Standing.TO_CONFIRM  # 1 in 28, and no other lot of so few faults could have told
    others = [
        row(paint=f"Green {number}", lot=lot, grade=grade, pigments=("PG7",))
        for number in range(6)
        for lot, grade in (("L1", 0), ("L1", 5), ("L2", 0), ("L2", 5), ("L2", 0), ("L3", 0), ("L3", 0), ("L3", 0))
    ]
    assert reach(rows + others)[0] is Standing.OPEN
    assert reach(rows + others + more)[0] is not Standing.SETTLED


def test_one_sound_lot_is_not_enough():
    """Beside one sound lot it is not settled, and another lot is asked for."""
    found = finding(red("L1", 0, 0, 0, 0) + red("L2", 5, 3, 4))
    assert (found.standing, found.leaning) == (Standing.OPEN, Extent.LOT)
    assert [check.name for check in found.claim.unmet] == [CheckName.SOUND_LOTS, CheckName.CONFIRMED]


def test_a_lot_must_be_beyond_chance():
    """2 of 3 beside two lots of one: 1 in 3.3 by chance."""
    found = finding(red("L1", 0) + red("L2", 5, 3, 0) + red("L3", 0))
    assert [check.name for check in found.claim.unmet] == [CheckName.BEYOND_CHANCE, CheckName.CONFIRMED]


def test_one_faulty_is_no_lot():
    """A lot needs two faulty specimens."""
    assert reach(red("L1", 0, 0) + red("L2", 5, 0) + red("L3", 0, 0))[1] is not Extent.LOT


def test_one_specimen_beside_three_sound():
    """1 of 4 of its lot: this specimen only."""
    found = finding(red("L1", 0, 0, 5, 0))
    assert (found.standing, found.extent) == (Standing.SETTLED, Extent.SPECIMEN)
    assert found.claim.subject[-1].startswith("OV")


@pytest.mark.parametrize("grades", [(5,), (5, 0), (5, 0, 0)])
def test_fewer_sound_ones_settle_nothing(grades):
    """Beside fewer than three sound ones of its lot a bad specimen may be one of many."""
    assert reach(red("L1", *grades)) == (Standing.OPEN, Extent.SPECIMEN)


def test_a_second_bad_one_elsewhere_refutes_the_specimen():
    """Where another lot of the paint has a fault too, it is no single specimen."""
    assert reach(red("L1", 0, 0, 0, 5) + red("L2", 0, 0, 0, 5))[1] is not Extent.SPECIMEN


def test_a_bad_one_without_a_code_refutes_the_specimen():
    """Faulty ones of the paint without a batch code may be of the same lot: then it is no single specimen."""
    assert reach([*red("L1", 0, 0, 0, 5), *red(None, 5, parcel="P9")])[1] is not Extent.SPECIMEN


def test_one_in_each_of_many_lots_is_not_single():
    """One of four in each of four paints, at no other maker: four single specimens would excuse the maker."""
    ours = [
        row(paint=f"Paint {pigment}", pigments=(pigment,), grade=grade, parcel=f"P {pigment}", session="S9")
        for pigment in PIGMENTS
        for grade in (0, 0, 5, 0)
    ]
    found = finding(ours + field(each=2))
    assert (found.standing, found.leaning) == (Standing.OPEN, Extent.MAKER_FORMAT)
    assert "single specimen" not in spoken(found)


def test_without_a_batch_code_these_units_only():
    """2 of 3 without a code: not settled, and no wider than the purchase."""
    found = finding([row(lot=None, grade=grade) for grade in (5, 0, 3)])
    assert (found.standing, found.leaning) == (Standing.OPEN, Extent.PARCEL)
    assert [check.name for check in found.claim.unmet] == [CheckName.CODE]


def hot(paints, each):
    """Return lots that came in one parcel and are bad, and sound ones of three paints in two others."""
    bad = [row(paint=paint, lot="L1", grade=5, parcel="hot") for paint in paints for _ in range(each)]
    return bad, [row(paint=paint, lot="L3", parcel=parcel) for paint in "XYZ" for parcel in ("P2", "P3")]


def test_several_lots_of_one_purchase_point_to_it():
    """Faults over three lots but one parcel, beside two sound parcels: the parcel, before the lot or the paint."""
    bad, sound = hot("VWXYZ", 1)
    assert reach(bad + sound) == (Standing.SETTLED, Extent.PARCEL)
    assert reach(bad + sound[:1]) == (Standing.OPEN, Extent.PARCEL)
    assert reach(hot("XYZ", 1)[0] + sound) == (Standing.OPEN, Extent.PARCEL)  # 3 of 3 beside 0 of 6: 1 in 84


def test_two_bad_lots_are_no_parcel_however_many_specimens():
    """Two bad lots of six specimens each may have come in one parcel by chance: a lot counts once."""
    bad, sound = hot("XY", 6)
    assert reach(bad + sound[:4]) == (Standing.OPEN, Extent.PARCEL)


def test_the_parcel_named_is_the_one_with_the_faults():
    """Of a lot that came in two parcels the first, sound specimen does not lend its seller's name to the faults."""
    bad, sound = hot("VWXYZ", 2)
    first = [row(paint=paint, lot="L1", parcel="P2", seller="a sound shop") for paint in "VWXYZ"]
    found = finding(first + bad + sound)
    assert found.extent is Extent.PARCEL
    assert found.claim.subject[0] == "seller of hot"


def paint_rows(peers_bad=0, others_bad=0):
    """Return maker A with one bad paint in three lots and parcels, beside other paints and peers."""
    bad = red("L1", 5, 5, parcel="P1") + red("L2", 4, 5, parcel="P2") + red("L3", 3, 4, parcel="P3")
    others = paints("A", bad=others_bad, pigments=("PY42", "PB29", "PG7"), each=2)
    return bad + others + field(bad=peers_bad, each=2)


def confirmed(rows, lot="L9", grades=(5,), why=WhyBought.TO_CONFIRM, **more):
    """Return these rows with a further lot of the bad paint, bought to confirm."""
    return [*rows, *red(lot, *grades, parcel="P9", why=why, **more)]


def test_a_paint_bad_over_its_lots():
    """Three bad lots, the maker's other paints and peers sound: the recipe, once a new lot from elsewhere is bad."""
    rows = paint_rows()
    assert reach(rows) == (Standing.TO_CONFIRM, Extent.PAINT)
    assert [check.name for check in finding(rows).claim.unmet] == [CheckName.CONFIRMED]
    assert reach(confirmed(rows)) == (Standing.SETTLED, Extent.PAINT)


@pytest.mark.parametrize("more", [
    {"lot": "L3"}, {"seller": "seller of P10"}, {"grades": (0, 0)}, {"why": WhyBought.PLANNED}, {"lot": None},
], ids=["a known lot", "a known seller", "sound", "bought as planned", "no batch code"])  # fmt: skip
def test_what_does_not_confirm_a_paint(more):
    """A paint is settled by a new lot from another seller, bought to confirm and faulty, and by nothing else."""
    found = finding(confirmed(paint_rows(), **more))
    assert found.claim.extent is Extent.PAINT
    assert CheckName.CONFIRMED in [check.name for check in found.claim.unmet]


def test_two_bad_lots_of_one_paint_may_be_chance():
    """Of 18 lots two are bad: that both are of one of nine paints happens to one field in seventeen."""
    rows = [one for one in paint_rows() if one.lot_code != "L3"]
    found = finding(rows)
    assert (found.standing, found.leaning) == (Standing.OPEN, Extent.PAINT)
    check, _ = found.claim.unmet
    assert check.name is CheckName.BEYOND_CHANCE
    assert check.found == "p 0.0065"


def test_the_one_bad_lot_of_many_paints_may_be_chance():
    """2 of 2 beside 0 of 8 in one paint is one to confirm alone, not where seven paints could have shown as much."""
    alone = red("L1", 5, 5) + [one for lot in ("L2", "L3") for one in red(lot, 0, 0, 0, 0)]
    others = [
        row(paint=f"Green {number}", lot=lot, grade=grade, pigments=("PG7",))
        for number in range(6)
        for lot in ("L1", "L2", "L3")
        for grade in {"L1": (5, 0), "L2": (5, 0, 0, 0), "L3": (0, 0, 0, 0)}[lot]
    ]
    assert reach(alone) == (Standing.TO_CONFIRM, Extent.LOT)
    assert reach(alone + others)[0] is Standing.OPEN


def test_large_lots_make_no_paint():
    """One of six in each of five lots, where everybody has one in nine but one specimen a lot: no paint is named."""
    ours = [one for lot in range(5) for one in red(f"L{lot}", 4, 0, 0, 0, 0, 0, parcel=f"P{lot}")]
    others = [
        row(maker=maker, paint=f"Paint {pigment}", pigments=(pigment,), lot=f"L{n}", parcel=f"P{n}")
        for maker in "ABCDEFGHIJ"
        for pigment in ("PR101", "PY42", "PB29", "PG7")
        if (maker, pigment) != ("A", "PR101")
        for n in range(3)
    ]
    others = [replace(one, grade=0 if place % 9 else 4) for place, one in enumerate(others)]
    found = finding(ours + others)
    assert Extent.PAINT not in {claim.extent for claim in (found.claim, *found.exceptions) if claim}


def test_peers_alike_refute_the_paint():
    """Where the pigment's peers are no better it is not this paint."""
    assert reach(paint_rows(peers_bad=4))[1] is not Extent.PAINT


def test_other_paints_alike_refute_the_paint():
    """Where the maker's other paints are no better it is not this paint."""
    assert reach(paint_rows(others_bad=4))[1] is not Extent.PAINT


def test_a_paint_without_peers_is_not_settled():
    """With nobody else's paint of the pigment, recipe and pigment cannot be told apart."""
    rows = [one for one in paint_rows() if one.maker == "A"]
    assert reach(rows) == (Standing.OPEN, Extent.PAINT)


def test_few_bad_lots_of_many_are_lots():
    """Three bad lots among six are bad lots, not the recipe."""
    rows = paint_rows() + [one for lot in ("L4", "L5", "L6") for one in red(lot, 0, 0, parcel=lot)]
    assert reach(rows)[1] is not Extent.PAINT


def test_a_critical_fault_is_said_at_once():
    """Mould on one specimen is told of that specimen, without waiting for more."""
    mould = criterion(severity=Severity.CRITICAL)
    found = finding([row(grade=5, lot=None)], mould)
    assert (found.standing, found.extent) == (Standing.SETTLED, Extent.SPECIMEN)
    two = finding([row(grade=5), row(grade=3), row(grade=0)], mould)
    assert two.standing is Standing.SETTLED
    assert len((two.claim, *two.exceptions)) == 2


def test_a_critical_fault_seen_at_a_later_look_is_said_at_once():
    """Mould grows: what a further look shows is told of the specimen, with its day, though the first look counts."""
    mould = criterion(severity=Severity.CRITICAL)
    first = row()
    later = first.trial_at + timedelta(days=3)
    again = replace(first, observation="again", trial="again", grade=5, at=later, trial_at=later, day=later.date())
    rows = [first, again, *(row() for _ in range(3))]
    found = finding(rows, mould)
    assert (found.standing, found.extent) == (Standing.SETTLED, Extent.SPECIMEN)
    assert found.counts.faulty == 0
    assert f"{first.sticker} showed it at a later look, on 5 March 2026" in spoken(found)
    assert finding([replace(one, void=one is again) for one in rows], mould).claim is None
    assert finding(rows).claim is None


def looked_at_again(first, days=3, **more):
    """Return a further look at the same specimen, some days later."""
    later = first.trial_at + timedelta(days=days)
    told = {"observation": f"again {first.observation}", "trial": f"again {first.trial}", "grade": 5}
    return replace(first, **told | {"at": later, "trial_at": later, "day": later.date()} | more)


def test_a_later_look_is_told_beside_a_first_one():
    """Of two specimens whose fault may concern health the one that was sound at first is told with its day."""
    mould = criterion(severity=Severity.CRITICAL)
    first, second = row(grade=5, lot="L2"), row()
    found = finding([first, second, looked_at_again(second), *(row() for _ in "123")], mould)
    assert f"{second.sticker} (at a later look, on 5 March 2026)" in spoken(found)


def test_what_could_not_be_tested_at_first_is_told_by_a_later_look():
    """A specimen that could not be tested at its first look is told of once a later one shows mould."""
    mould = criterion(severity=Severity.CRITICAL)
    first = row(grade=None, not_testable=True)
    found = finding([first, looked_at_again(first, not_testable=False)], mould)
    assert (found.standing, found.extent) == (Standing.SETTLED, Extent.SPECIMEN)
    assert f"{first.sticker} showed it at a later look, on 5 March 2026, in what we tested." in spoken(found)


def test_what_only_compares_paints_is_settled_by_no_later_look():
    """A critical fault by comparison needs the worst grade, at whichever look."""
    compared = replace(criterion(severity=Severity.CRITICAL), conditions=("number of other makers on the sheet",))
    first = row()
    for grade, standing in ((4, Standing.OPEN), (5, Standing.SETTLED)):
        assert finding([first, looked_at_again(first, grade=grade)], compared).standing is standing


def test_at_unpacking_side_by_side_is_the_same_sitting():
    """A lot unpacked within 91 days of the sound ones it is compared with is settled, one unpacked later is not."""
    bad, sound = red("L1", 5, 5, 5, session=None), red("L2", 0, 0, 0, session=None) + red("L3", 0, 0, 0, session=None)
    assert finding(bad + sound).extent is Extent.LOT
    near, later = (
        [replace(one, sitting=f"{days} days later", day=one.day + timedelta(days=days)) for one in sound]
        for days in (91, 92)
    )
    assert finding(bad + near).extent is Extent.LOT
    apart = finding(bad + later)
    assert [check.name for check in apart.claim.unmet] == [CheckName.TOGETHER, CheckName.CONFIRMED]


def test_one_stray_fault_does_not_refute_a_bad_paint():
    """However few the other paints are, one faulty specimen of them leaves a bad paint what it is; two do not."""
    few = [one for one in paint_rows() if one.maker != "A" or one.paint_name == "Paint PR101"]
    few += red("L4", 5, 4, parcel="P4")

    def with_others(*grades):
        return few + [
            row(paint=f"Paint X{n}", pigments=(f"X{n}",), grade=grade, parcel=f"P{n}")
            for n, grade in enumerate(grades)
        ]

    assert reach(with_others(5, 0, 0, 0)) == (Standing.TO_CONFIRM, Extent.PAINT)
    assert reach(with_others(5, 0))[0] is Standing.OPEN
    assert reach(with_others(5, 5, 0, 0))[0] is Standing.OPEN


@pytest.mark.parametrize("make", [
    lambda session: red("L1", 5, 5, 5, 5, session=session) + red("L2", 0, 0, 0, 0) + red("L3", 0, 0, 0, 0),
    lambda session: [replace(one, session=session if one.grade else "S1") for one in paint_rows()],
    lambda session: red("L1", 5, session=session) + red("L1", 0, 0, 0),
])  # fmt: skip
def test_what_was_only_tested_apart_is_not_settled(make):
    """A lot, a paint and a specimen whose faults came in a session with nothing to compare may be the session's."""
    assert finding(make("S1")).standing in (Standing.SETTLED, Standing.TO_CONFIRM)
    found = finding(make("S3"))
    assert found.standing is Standing.OPEN
    assert CheckName.TOGETHER in [check.name for check in found.claim.unmet]
    assert "side by side with what it is compared with" in would_settle(found)
