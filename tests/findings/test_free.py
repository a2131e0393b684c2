"""Praise: a maker that is free of what most others show, and everything that keeps luck from being called that."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.findings import find, gather, read
from qcledger.findings.finding import CheckName
from qcledger.findings.free import LEFT_OUT_LEVEL, PRAISE, level_of
from qcledger.findings.wording import further, in_short, sentence
from qcledger.findings.wording_of_free import free_lines
from qcledger.vocab import Extent, Occasion, Role, Standing, WhyBought
from tests.findings.made import HALF, PIGMENTS, TUBE, criterion, only, paints, row


def pans(maker, bad=4, **more):
    """Return a maker's half pans, each with this grade, and its sound tubes."""
    return paints(maker, bad=bad, formats=(HALF,), **more) + paints(maker, formats=(TUBE,))


def others(makers="BCDEFGH"):
    """Return makers whose half pans show it and whose tubes do not."""
    return [one for maker in makers for one in pans(maker)]


def cell(rows, maker="A", format_=HALF, *scales):
    """Return the finding of a maker's format."""
    found = read(rows, only(*scales)).findings
    return next(one for one in found if (one.maker, one.format) == (maker, format_))


def unmet(rows):
    """Return the names of the checks that keep the first maker from being praised; None where it is no candidate."""
    claim = cell(rows, "B").claim
    mine = next((one for one in claim.free if one.maker == "A"), None)
    return None if mine is None else {check.name for check in mine.checks if not check.met}


def test_the_one_maker_that_does_not_show_it_is_free_of_it():
    """Seven makers' half pans show it, the eighth's do not: it is named beside what is common, none found."""
    rows = pans("A", bad=0) + others()
    mine, theirs = cell(rows), cell(rows, "B")
    assert (theirs.standing, theirs.extent) == (Standing.SETTLED, Extent.FORMAT)
    assert [(one.maker, one.earned) for one in theirs.claim.free] == [("A", True)]
    assert [(one.maker.maker, one.common.subject) for one in mine.free] == [("A", ("half pan",))]
    assert mine.standing is Standing.NONE_FOUND
    assert mine.checks == mine.free[0].maker.checks
    assert cell(rows, "A", TUBE).free == ()


def test_a_pigment_that_is_hard_at_most_makers_praises_the_one_at_which_it_is_not():
    """Praise beside a pigment is of the lots with it, in whatever format; the cell's standing is its own."""
    hard = [
        one
        for maker in "BCDEFGH"
        for one in paints(maker, bad=4, pigments=("PR101",), lots=("L1", "L2", "L3"))
        + paints(maker, pigments=PIGMENTS[1:])
    ]
    free = paints("A", pigments=("PR101",), lots=("L1", "L2", "L3"), each=2) + paints("A", pigments=PIGMENTS[1:])
    mine = cell(free + hard)
    assert [(one.common.extent, one.maker.subject) for one in mine.free] == [(Extent.PIGMENT, ("PR101",))]
    assert {lot.group for one in mine.free for lot in one.maker.lots} == {("PR101",)}


def test_where_nothing_is_common_nobody_is_praised():
    """However many sound specimens a maker has, it is praised for nothing that three others show."""
    rows = pans("A", bad=0, each=9) + others("BCD")
    assert all(one.free == () for one in read(rows, only()).findings)


@pytest.mark.parametrize("grade", [3, 5])
def test_one_faulty_specimen_is_not_none(grade):
    """One faulty specimen takes the praise away, also one that was bought later, to confirm."""
    for why in WhyBought:
        more = row(maker="A", paint="Paint PR101", pigments=("PR101",), lot="L9", grade=grade, why=why)
        assert unmet([*pans("A", bad=0), more, *others()]) is None


def test_a_later_look_that_showed_it_takes_the_praise_away():
    """A hidden repeat of a sound specimen that showed the fault: nobody calls that free of it."""
    mine = pans("A", bad=0)
    scale = criterion(severity=None)
    assert cell([*mine, *others()], "A", HALF, scale).free
    again = replace(mine[0], observation="again", trial="again", role=Role.REPEAT, grade=4)
    assert cell([*mine, again, *others()], "A", HALF, scale).free == ()


@pytest.mark.parametrize(
    ("changed", "lacking"),
    [
        ({"parcel": "P1", "seller": "one seller"}, None),
        ({"session": "S9"}, {CheckName.SESSIONS, CheckName.LEFT_OUT}),
        ({"lots": ("L1",), "pigments": PIGMENTS[:2], "each": 3}, None),
        ({"seller": "one seller"}, {CheckName.LEFT_OUT}),
    ],
)
def test_one_parcel_lot_seller_or_session_does_not_carry_it(changed, lacking):
    """What came in one parcel, of two lots, from one seller or was tested in one session praises nobody."""
    assert unmet(pans("A", bad=0, **changed) + others()) == lacking


def test_two_other_makers_do_not_carry_it():
    """What is left out is two makers that show it most: what the others show must still tell."""
    claim = cell(pans("A", bad=0) + others(), "B").claim
    (check,) = (one for one in claim.free[0].checks if one.name is CheckName.LEFT_OUT)
    assert check.met
    assert f"p {LEFT_OUT_LEVEL:g} or less" in check.needed


def test_what_was_bought_to_confirm_praises_nobody():
    """Sound specimens that were bought later count in what is said, not in how strong it is."""
    few = [one for one in pans("A", bad=0) if one.lot_code == "L1" or one.format is TUBE]
    later = [replace(one, why=WhyBought.TO_CONFIRM) for one in pans("A", bad=0) if one.lot_code == "L2"]
    assert unmet(few + later + others()) is not None
    planned = [replace(one, why=WhyBought.PLANNED) for one in later]
    alone, both = (cell(some + others(), "B").claim.free for some in (few + later, few + planned))
    told = [
        next(check.found for check in one[0].checks if check.name is CheckName.BEYOND_CHANCE) for one in (alone, both)
    ]
    assert told[0] != told[1]


def test_older_notes_do_not_count():
    """Older notes that showed it take nothing away; they are told beside it."""
    older = [
        row(maker="A", paint="Paint PR101", pigments=("PR101",), grade=5, occasion=Occasion.OLDER_NOTES, session=None)
    ]
    mine = cell([*pans("A", bad=0), *older, *others()])
    assert mine.free
    assert [(one.number, one.faulty) for one in mine.apart] == [(1, 1)]


@given(st.integers(1, 200))
def test_the_level_is_shared(criteria):
    """Whatever many criteria have in common, their shares of the level add up to no more than it."""
    assert level_of(criteria) * criteria <= PRAISE * (1 + 1e-9)


def test_the_level_is_shared_by_the_criteria_on_which_something_is_common():
    """The same field on three criteria: each may praise at a third; criteria on which nothing is common take none."""
    keys = ("a", "b", "c", "sound")
    rows = pans("A", bad=0) + others()
    every = [
        replace(one, criterion=key, observation=f"{one.observation}{key}", grade=0 if key == "sound" else one.grade)
        for key in keys
        for one in rows
    ]
    found = find(gather(every, only(*map(criterion, keys)))).findings
    told = next(one.free[0].maker for one in found if one.free)
    needed = next(check.needed for check in told.checks if check.name is CheckName.BEYOND_CHANCE)
    assert needed == f"{PRAISE / 3:.2g} or less"


def test_praise_is_said_beside_what_is_common_with_its_limit_and_older_notes():
    """What is common and the maker's own statement say who, how many, at how many others, and what is possible."""
    older = row(
        maker="A", paint="Paint PR101", pigments=("PR101",), grade=5, occasion=Occasion.OLDER_NOTES, session=None
    )
    rows = [*pans("A", bad=0), older, *others()]
    mine, theirs = cell(rows), cell(rows, "B")
    counted = (
        "none of 8 specimens faulty, from eight lots of four paints, in what we tested; up to 31 % could be (95 %)."
    )
    notes = "Older notes differ: 1 of 1 faulty; they are not counted."
    assert free_lines(theirs.claim) == (f"Maker A, half pan: {counted} {notes}",)
    assert f"Maker A, half pan: {counted} {notes}" in further(theirs)
    assert "Half pans show it at 7 of 8 makers. Even so, up to 31 % could be faulty" in sentence(mine)
    assert further(mine)[:2] == ("Free of what most others show: half pans at 7 of 8 makers.", notes)
    assert in_short(mine) == "--- none found; free of what most others show"


def test_praise_is_in_no_sentence_where_it_is_not_earned():
    """Of a maker with too little to tell, nothing is said beside what is common."""
    rows = pans("A", bad=0, lots=("L1",), pigments=PIGMENTS[:2]) + others()
    assert free_lines(cell(rows, "B").claim) == ()
    assert "show it at" not in sentence(cell(rows))
