"""A claim looked at again with one thing at a time left out."""

from dataclasses import replace
from functools import cache

import pytest

from qcledger.findings import find, gather
from qcledger.findings.finding import Stress, Without
from qcledger.findings.model import answer, question, strength_left
from qcledger.findings.pool import Pool
from qcledger.findings.pooled import LINE, least_fields, stands_again
from qcledger.findings.stress import Worries, Worry, moved_lines, stress
from qcledger.findings.wording_of_checks import in_short, stands_in
from qcledger.stats.pooled.levels import AGAIN
from qcledger.vocab import Blinding, Extent, Standing, WhyBought
from tests.findings.made import FROTH, HALF, TUBE, confirming, criterion, field, only, paints, row


def worry(rows, extent, criterion=FROTH):
    """Return the claim of this extent, to be looked at again."""
    found = find(gather(rows, only(criterion)))
    one = next(one for one in found.findings if one.claim and one.claim.extent is extent)
    return Worry(one.claim, one.field, frozenset(), LINE)


@cache
def accused(rows, seed=0):
    """Return the accusations that the model makes of some rows, to be looked at again."""
    evidence, asking, told = gather(rows, only()), Pool({}.get, Worries()), Worries()
    find(evidence, pool=asking)
    kept = {
        one.key: answer(question(one.field, one.suspects, one.line), seed=seed) for one in asking.missing.values()
    }
    find(evidence, pool=Pool(kept.get, told))
    return [one for one in told.missing.values() if one.accused]


def again(one, **more):
    """Look at an accusation again, with the statistic of its fair fields."""
    kept = {}
    return stress(one, only(), strength=lambda *asked: strength_left(*asked, kept), **more)


def counted(found, kind):
    """Return in how many fair fields somebody is as strong, for each check of a kind."""
    return {check.what: check.as_strong for check in found.checks if check.kind == kind}


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
    assert sellers == {"seller of P1": False}  # the other two sold one lot each: that is no further check
    assert by_kind(found, "session") == {"S1": False, "S2": True}
    assert found.stands + len(found.falls) + len(found.untold) == len(found.checks) == found.telling + 2


BESIDE = [
    *lot("L9", 0, paint="Blue", pigments=("PB29",)), *lot("L8", 0, paint="Green", pigments=("PG7",)),
    *field("BCDEFGHI"),
]  # fmt: skip
"""Sound paints of the maker, and sound peers."""


def paint_of(*bad):
    """Return one paint's lots with so many faulty of three, each of its own parcel and session, and the rest."""
    rows = [lot(f"L{n}", some, parcel=f"P{n}", session=f"S{n}") for n, some in enumerate(bad, 1)]
    return [*(one for lots in rows for one in lots), *BESIDE]


def test_a_paint_of_few_lots_cannot_be_told_from_fewer():
    """With one of two lots left out one is left, whatever it shows: no check failed, and none could tell."""
    mine = worry(paint_of(3, 2), Extent.PAINT)
    found = stress(mine, only())
    assert {check.what for check in found.untold if check.kind == "lot"} == {"L1 of Red", "L2 of Red"}
    assert found.falls == ()
    assert not found.bears_out
    told = stands_in(found)
    assert told.startswith("5 of its stress checks cannot tell, because too little is left: without lot L1 of Red")
    assert "0 of" not in told


def test_a_paint_falls_where_what_is_left_could_have_shown_it():
    """Three bad lots of five: without a bad one four are left, enough to say it, and half of them are sound."""
    mine = worry(paint_of(3, 0, 3, 0, 3), Extent.PAINT)
    assert mine.claim.standing in (Standing.OPEN, Standing.TO_CONFIRM)
    lots = [check for check in stress(mine, only()).checks if check.kind == "lot"]
    assert {check.what for check in lots if check.stands} == {"L2 of Red", "L4 of Red"}
    assert not any(check.too_little for check in lots)
    assert "; not without lot L1 of Red" in stands_in(Stress(tuple(lots)))


def test_what_is_left_of_a_bad_lot():
    """Of a lot whose seller is left out nothing is left; a milder fault line leaves everything, and no pattern."""
    near = [replace(one, grade=3) if one.grade == 5 else one for one in BAD_LOT]
    found = stress(worry(near, Extent.LOT), only())
    assert "seller of P1" in {check.what for check in found.untold}
    assert {check.kind for check in found.falls} == {"fault line"}
    assert found.bears_out  # where the fault line is moved is told, and decides nothing


def test_the_outcome_in_words():
    """The number that can tell, those that fall, and apart from them those that tell nothing."""
    stands, falls, untold = Without("lot", "L1", True), Without("lot", "L2", False), Without("lot", "L3", False, True)
    assert stands_in(Stress((stands, stands))) == "It stands in 2 of 2 stress checks."
    assert stands_in(Stress((stands, falls))) == "It stands in 1 of 2 stress checks; not without lot L2."
    few = "cannot tell, because too little is left: without lot L3."
    assert stands_in(Stress((stands, untold))) == (f"It stands in 1 of 1 stress check that can tell. 1 more {few}")
    assert stands_in(Stress((untold,))) == f"1 of its stress checks {few}"
    assert (
        in_short(Stress((stands, untold)))
        == "stands in 1 of 1 stress check that can tell; 1 more cannot tell: too little is left"
    )
    assert in_short(Stress((untold, untold))) == "2 stress checks cannot tell: too little is left"
    assert in_short(Stress(())) == ""


def test_moving_the_fault_line():
    """Grades of 5 stay faults wherever the line is; grades at the line do not once it is milder."""
    assert by_kind(stress(worry(BAD_LOT, Extent.LOT), only()), "fault line") == {}
    near = [replace(one, grade=3) if one.grade == 5 else one for one in BAD_LOT]
    told = by_kind(stress(worry(near, Extent.LOT), only()), "fault line")
    assert told == {"half a grade milder": False}  # a whole grade milder is the same evidence: no further check
    light = [replace(one, grade=2.5) if one.maker == "B" else one for one in BAD_LOT]
    assert by_kind(stress(worry(light, Extent.LOT), only()), "fault line") == {"half a grade stricter": True}


@pytest.mark.parametrize(
    ("anchors", "half_steps", "shifts"),
    [
        (range(6), True, [-0.5, -1.0, 0.5, 1.0]),
        (range(6), False, [-1.0, 1.0]),
        ((0, 1, 3, 5), False, [2.0]),
        ((0, 3), False, []),
    ],
    ids=["half grades", "whole grades", "four grades", "two grades"],
)
def test_a_fault_line_is_moved_to_grades_that_can_be_given(anchors, half_steps, shifts):
    """No check names a grade that nobody could give: half grades only where there are some, else the next one."""
    one = replace(criterion(), anchors={float(grade): "as it is" for grade in anchors}, half_steps=half_steps)
    assert [shift for _, shift in moved_lines(one)] == shifts
    assert len({what for what, _ in moved_lines(one)}) == len(shifts)


def test_the_same_evidence_is_one_check():
    """A session that holds one lot and nothing else is that lot: left out once, and counted once."""
    rows = [replace(one, session="S9", session_code="S9") if one.lot_code == "L3" else one for one in BAD_LOT]
    found = stress(worry(rows, Extent.LOT), only())
    assert "L3 of Red" in by_kind(found, "lot")
    assert "S9" not in by_kind(found, "session")


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


CLEAR = (*paints("A", bad=5), *field("BCDE", formats=(HALF, TUBE)), *confirming("A"))


def test_a_clear_maker_stands_without_each_lot():
    """Eight bad lots among sound ones: without any lot, session or seller the pattern is there, and as strong."""
    (mine,) = accused(CLEAR)
    found = again(mine)
    assert len(by_kind(found, "lot")) == 8  # what was bought to confirm has no part in it
    assert {check.kind for check in found.checks} == {"lot", "session", "seller"}
    assert found.bears_out
    assert found.untold == ()
    assert set(counted(found, "seller").values()) == {None}  # fair fields are asked again of lots and sessions
    assert found.worst.as_strong == max([*counted(found, "lot").values(), *counted(found, "session").values()])
    assert stands_in(found).startswith(f"It stands in {len(found.checks)} of {len(found.checks)} stress checks")


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("rows", [
    CLEAR,
    (*CLEAR, *paints("G", bad=4, lots=("L1", "L2", "L3"))),
    (*paints("A", bad=3, lots=("L1",)), *field("BCDEFGH")),
], ids=["one maker", "two makers", "few lots"])  # fmt: skip
def test_the_unchanged_claim_passes_its_own_check(rows, seed):
    """With nothing left out a claim is exactly as strong as it was, among the very fields that it passed in."""
    for mine in accused(rows, seed):
        drawn, fair = mine.claim.chance.drawn, mine.claim.chance.fair
        found = strength_left(mine.everyone, mine.accused, drawn.held, {})
        assert drawn.as_strong(found) == fair.as_strong
        assert drawn.fields == fair.fields >= least_fields(mine.line)
        assert stands_again(fair.as_strong, fair.fields, mine.line)
    assert len(accused(CLEAR, seed)) == 1


def test_a_claim_too_weak_without_its_worst_lot_falls():
    """The pattern alone is not enough: what is left of it has to be strong among the same fair fields."""
    sound = next(one for one in CLEAR if one.maker == "A")
    (mine,) = accused(tuple(replace(one, grade=0) if one is sound else one for one in CLEAR))
    left: list[float] = []

    def noted(*asked):
        left.append(strength_left(*asked, {}))
        return left[-1]

    assert stress(mine, only(), strength=noted).bears_out
    drawn = mine.claim.chance.drawn._replace(strongest=(min(left) + 1e-6,) * 400, fields=8000)
    weak = replace(mine, claim=replace(mine.claim, chance=replace(mine.claim.chance, drawn=drawn)))
    limit = 401 / 8001 / AGAIN
    found = again(replace(weak, line=limit * 0.99))
    assert {check.as_strong for check in found.falls} == {400}
    assert found.worst.as_strong == 400
    assert not found.bears_out
    assert again(replace(weak, line=limit)).bears_out
    # Where every fault that is left would not be enough, too little is left, and nothing is told.
    short = replace(weak.claim, chance=replace(weak.claim.chance, drawn=drawn._replace(strongest=(99.0,) * 400)))
    assert again(replace(weak, claim=short, line=limit * 0.99)).falls == ()


def test_a_claim_falls_where_its_faults_are_no_longer_spread():
    """With the fault line milder one paint is left: no maker's format any more."""
    ours = [
        replace(one, grade=5 if one.paint_name == "Paint PR101" else 3)
        for one in paints("A", bad=5, lots=("L1", "L2", "L3"))
    ]
    mine = worry([*ours, *field(lots=("L1", "L2", "L3"))], Extent.MAKER_FORMAT)
    fallen = {one.what for one in stress(mine, only()).checks if not one.stands}
    assert "half a grade milder" in fallen


def test_nothing_bought_as_planned_is_no_pattern():
    """Evidence without a planned purchase shows nothing, and its strength is not known."""
    (mine,) = accused(CLEAR)
    none = [replace(one, why=WhyBought.NOTE) for one in mine.rows]
    found = again(mine, moved=lambda _: iter([("buying", "nothing planned", none)]))
    assert "buying" not in {check.kind for check in found.checks}  # the counts are the same, so it is no check
    sound = [replace(one, grade=0) if place == 0 else one for place, one in enumerate(none)]
    found = again(mine, moved=lambda _: iter([("buying", "nothing planned", sound)]))
    assert by_kind(found, "buying") == {"nothing planned": False}
    (nothing,) = (one.field for one in find(gather(none, only())).findings[:1])
    assert strength_left(nothing, mine.accused, mine.claim.chance.drawn.held, {}) is None


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
    assert all(by_kind(stress(Worry(few, mine.everyone, frozenset(), LINE), only()), "lot").values())
    single = [*lot("L1", 1, number=4), *lot("L2", 0, parcel="P2"), *field("BC")]
    found = stress(worry(single, Extent.SPECIMEN), only())
    assert by_kind(found, "lot") == {"L2 of Red": True}
