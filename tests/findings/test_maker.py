"""Accusing a maker or its format: each thing that is needed, taken away one at a time."""

from dataclasses import replace
from datetime import timedelta

import pytest

from qcledger.findings import gather, read
from qcledger.findings.extent import Case
from qcledger.findings.field import fields
from qcledger.findings.finding import CheckName
from qcledger.findings.strength import by_exchanging_lots
from qcledger.vocab import Extent, Format, Nature, Standing, WhyBought
from tests.findings.made import FROTH, HALF, PIGMENTS, SESSIONS, TUBE, confirming, criterion, field, only, paints, row

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
    assert (found.standing, found.extent) == (Standing.SETTLED, Extent.MAKER_FORMAT)
    assert all(check.met for check in found.checks)


def test_before_that_it_is_to_confirm():
    """Everything but the confirmation leaves it private."""
    found = finding(paints("A", bad=4) + field())
    assert (found.standing, found.extent, unmet(found)) == (
        Standing.TO_CONFIRM,
        Extent.MAKER_FORMAT,
        {CheckName.CONFIRMED},
    )


@pytest.mark.parametrize(
    "confirms",
    [
        confirming("A", bad=0),
        confirming("A", number=1),
        [replace(one, lot="A/Paint PR101/half pan/L1", lot_code="L1") for one in confirming("A")],
        [replace(one, seller="seller of P0") for one in confirming("A")],
        [replace(one, lot=None, lot_code=None) for one in confirming("A")],
        [replace(one, why=WhyBought.PLANNED) for one in confirming("A")],
        [replace(one, why=WhyBought.NOTE) for one in confirming("A")],
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
    assert CheckName.CONFIRMED in unmet(found)


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
    "paints": (paints("A", bad=4, pigments=PIGMENTS[:2]), field(), CheckName.PAINTS),
    "peers": (paints("A", bad=4, pigments=("X1", "X2", "X3")), field(), CheckName.PEERS),
    "peers of two pigments": (
        paints("A", bad=4, pigments=("PR101", "PY42", "X3", "X4")),
        field(),
        CheckName.PEERS,
    ),
    "two other makers": (paints("A", bad=4), field("BC"), CheckName.PEERS),
    "sessions": (paints("A", bad=4, session="S9"), field(), CheckName.SESSIONS),
}


@pytest.mark.parametrize(("ours", "theirs", "name"), LACKING.values(), ids=LACKING)
def test_minimum_evidence(ours, theirs, name):
    """Whatever is lacking leaves it not settled, and is named."""
    found = finding(ours + theirs)
    assert found.standing is Standing.OPEN
    assert found.leaning in (Extent.MAKER_FORMAT, Extent.PAINT)
    assert name in unmet(found)


def test_a_specialist_is_not_accused():
    """Pigments that nobody else sells cannot be compared, however bad they are."""
    found = finding(paints("A", bad=5, pigments=tuple(f"X{n}" for n in range(8)), each=3) + confirming("A") + field())
    assert found.standing is not Standing.SETTLED


def test_one_bad_lot_carries_no_maker():
    """Six faulty specimens of one lot are a lot, not a maker, whatever their number."""
    rows = [row(maker="A", paint="Paint PR101", lot="L7", grade=5, parcel=f"P{n}") for n in range(6)]
    found = finding(rows + paints("A", each=2) + field())
    assert found.extent in (Extent.LOT, None)


MANY = tuple(f"P{n}" for n in range(12))


def one_bad_paint(*stray):
    """Return maker A's range with one paint bad in each of six lots, strays in others, and a confirming lot of it."""
    bad = [
        row(
            paint="Paint P0", pigments=("P0",), lot=f"L{n}", parcel=f"P{n % 3}", session=SESSIONS[n % 3],
            grade=5,
        )
        for n in range(6)
    ]  # fmt: skip
    others = [
        row(
            paint=f"Paint {name}",
            pigments=(name,),
            parcel=f"P{place % 3}",
            session=SESSIONS[place % 3],
            grade=5 if place in stray else 0,
        )
        for place, name in enumerate(MANY)
        if place
    ]
    again = [replace(one, paint="A/Paint P0", paint_name="Paint P0", pigments=("P0",)) for one in confirming("A")]
    return bad + others + again + field(pigments=MANY)


@pytest.mark.parametrize("stray", [(), (1,), (2,)], ids=["alone", "and a stray fault", "and another"])
def test_one_bad_paint_carries_no_maker(stray):
    """A paint bad in each of its lots is that paint, also beside a stray fault; more of it confirms nothing."""
    found = finding(one_bad_paint(*stray))
    assert (found.standing, found.extent, found.claim.subject) == (Standing.SETTLED, Extent.PAINT, ("Paint P0",))
    assert all(claim.standing is Standing.OPEN for claim in found.exceptions)


def test_the_other_paints_have_to_be_worse_by_themselves():
    """Leaving out its worst paint, an accusation needs faults in two paints more that chance does not make."""
    case = Case(fields(gather(one_bad_paint(1), only()))["froth"], by_exchanging_lots)
    (claim,) = [one for one in case.accusations if one.extent is Extent.MAKER_FORMAT]
    check = next(one for one in claim.checks if one.name is CheckName.WITHOUT_WORST)
    assert (check.met, check.found) == (False, "1 of 11, faults in one paint, beside none of 110; p 1")


def delivered(*bad):
    """Return maker A's twelve half pans, four from each of three parcels, those at `bad` faulty."""
    return [
        row(
            paint=f"Paint {name}", pigments=(name,), parcel=f"P{place % 3}", session=SESSIONS[place // 4],
            grade=5 if place in bad else 0,
        )
        for place, name in enumerate(MANY)
    ] + field(pigments=MANY)  # fmt: skip


def test_one_bad_delivery_carries_no_maker():
    """All of one parcel of three is faulty, and one piece more: it points to that parcel, and to no maker."""
    found = finding(delivered(0, 3, 6, 9, 1))
    assert (found.standing, found.leaning, found.explains) == (Standing.OPEN, Extent.PARCEL, (4, 5))
    assert CheckName.WITHOUT_PARCEL in unmet(found)
    spread = finding(delivered(0, 4, 8, 9, 1))
    assert (spread.standing, spread.extent) == (Standing.TO_CONFIRM, Extent.MAKER_FORMAT)
    check = next(one for one in spread.checks if one.name is CheckName.WITHOUT_PARCEL)
    assert check.found.startswith("its parcels are alike, p ")


def test_of_equally_bad_paints_none_is_first():
    """Whichever of two equally bad paints was graded first, the standing is the same."""
    ours = [
        replace(one, grade=0) if one.lot_code == "L2" and one.paint_name in {"Paint PB29", "Paint PG7"} else one
        for one in paints("A", bad=4)
    ]
    rows = ours + confirming("A") + field()
    earlier = [
        replace(one, trial_at=one.trial_at - timedelta(minutes=5)) if one.paint_name == "Paint PY42" else one
        for one in rows
    ]
    assert finding(rows).standing is finding(earlier).standing is Standing.SETTLED


def test_a_small_parcel_that_is_wholly_bad_is_not_alike():
    """Three of three in one parcel beside 4 of 40 in another differ, though the other holds more faults."""
    big = [
        row(
            paint=f"Paint {MANY[n % 12]}", pigments=(MANY[n % 12],), lot=f"L{n // 12}", parcel="big",
            session=SESSIONS[n % 3], grade=5 if n < 4 else 0,
        )
        for n in range(40)
    ]  # fmt: skip
    small = [
        row(paint=f"Paint {name}", pigments=(name,), lot="S", parcel="small", session=SESSIONS[n % 3], grade=5)
        for n, name in enumerate(MANY[6:9])
    ]
    found = finding(big + small + field("BCDEFGH", pigments=MANY))
    assert CheckName.WITHOUT_PARCEL in unmet(found)
    check = next(one for one in found.checks if one.name is CheckName.WITHOUT_PARCEL)
    assert check.found.startswith("4 of 40, faults in four paints")


@pytest.mark.parametrize("more", [0, 1, 2])
def test_sound_pieces_of_the_worst_paint_do_not_let_it_confirm(more):
    """However many sound pieces are added to the paint with the most faults, more of it confirms nothing."""
    ours = paints("A", bad=4, lots=("L1", "L2", "L3"))
    ours = [
        replace(one, grade=0) if one.lot_code == "L3" and one.paint_name != "Paint PR101" else one for one in ours
    ]
    ours += [row(paint="Paint PR101", lot=f"L{n}", parcel=f"P{n % 3}") for n in range(11, 11 + more)]
    assert CheckName.CONFIRMED in unmet(finding(ours + confirming("A") + field()))


def two_planned(*more):
    """Return two planned paints of maker A, wholly bad, with `more` and what confirms it."""
    return paints("A", bad=5, pigments=PIGMENTS[:2], lots=("L1", "L2", "L3")) + list(more) + confirming("A") + field()


@pytest.mark.parametrize("why", [WhyBought.NOTE, WhyBought.TO_CONFIRM])
@pytest.mark.parametrize("grade", [0, 5], ids=["sound", "faulty"])
def test_what_was_bought_because_it_looked_bad_makes_no_accusation(why, grade):
    """Neither the pattern nor the minimum evidence is filled by what was bought to confirm, or for a note."""
    third = row(paint="Paint PB29", pigments=("PB29",), parcel="P7", seller="another", grade=grade, why=why)
    found = finding(two_planned(third))
    assert found.standing is Standing.OPEN
    assert {CheckName.PAINTS, CheckName.PEERS} <= unmet(found)
    assert finding(two_planned(replace(third, why=WhyBought.PLANNED, grade=5))).extent is Extent.MAKER_FORMAT


def test_sessions_of_what_confirms_are_none_of_the_accusation():
    """Planned faults in a session with nobody else stay unsettled, wherever the confirming specimens were tested."""
    alone = [replace(one, session="S9", session_code="S9") for one in paints("A", bad=5)]
    found = finding(alone + confirming("A") + field())
    assert (found.standing, unmet(found)) == (Standing.OPEN, {CheckName.SESSIONS})


def test_more_of_the_worst_paint_does_not_confirm():
    """Where one paint is worse than the others, specimens of it bought to confirm say nothing of the maker."""
    ours = paints("A", bad=4, lots=("L1", "L2", "L3", "L4"))
    ours = [
        replace(one, grade=0) if one.lot_code == "L4" and one.paint_name != "Paint PR101" else one for one in ours
    ]
    other = [replace(one, paint="A/Paint PY42", paint_name="Paint PY42") for one in confirming("A")]
    assert unmet(finding(ours + confirming("A") + field())) == {CheckName.CONFIRMED}
    assert finding(ours + other + field()).standing is Standing.SETTLED


def test_one_parcel_is_the_parcel():
    """Faults in one purchase only may be heat in the post: neither the maker nor its format is named."""
    bad = [replace(one, parcel="A/P1", seller="one shop") for one in paints("A", bad=4)]
    found = finding(bad + field())
    assert (found.standing, found.leaning) == (Standing.OPEN, Extent.PARCEL)


def test_lots_without_a_code_are_no_lots():
    """Specimens without a batch code never count towards a lot minimum."""
    found = finding(paints("A", bad=4, lots=(None, None)) + confirming("A") + field())
    assert found.extent is None


def test_what_may_be_a_trait_needs_four_peers():
    """For a fault that some paints simply have, three other makers are no baseline."""
    rows = paints("A", bad=4, formats=BOTH) + field("BCD", formats=BOTH)
    trait = criterion(nature=Nature.FAULT_OR_TRAIT)
    assert CheckName.PEERS not in unmet(finding(rows))
    assert CheckName.PEERS in unmet(finding(rows, one=trait))


def on(day, rows):
    """Return rows as they were seen when unpacked on a day."""
    later = timedelta(days=day)
    return [replace(one, trial_at=one.trial_at + later, day=one.day + later, sitting=f"day {day}") for one in rows]


def test_at_unpacking_a_sitting_is_a_session():
    """Faults in two sittings are needed, each with sound ones of other makers within 91 days; its own are none."""
    bad, rest = paints("A", bad=4, session=None), field(session=None)
    first, second = bad[::2], bad[1::2]
    assert CheckName.SESSIONS in unmet(finding(bad + rest))
    assert CheckName.SESSIONS in unmet(finding(bad + on(1, paints("A", lots=("L3",), session=None)) + on(30, rest)))
    assert CheckName.SESSIONS in unmet(finding(first + on(1, second) + on(93, rest)))
    assert CheckName.SESSIONS in unmet(finding(first + on(200, second) + on(91, rest)))
    for apart in (1, 30, 91):
        found = finding(first + on(1, second) + on(apart, rest))
        check = next(one for one in found.checks if one.name is CheckName.SESSIONS)
        assert (check.met, check.found) == (True, "2 sittings of unpacking")


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
