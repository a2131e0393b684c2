"""The pooled model behind an accusation: what is asked, what is kept, and what that decides."""

from dataclasses import replace
from functools import cache

import pytest

from qcledger.findings import find, gather
from qcledger.findings.finding import CheckName, Need, Stress, Without
from qcledger.findings.model import answer, question
from qcledger.findings.pool import Pool
from qcledger.findings.pooled import FLOOR, LINE, Fair, Pooled, fields_for, line_for
from qcledger.findings.stress import Worries
from qcledger.findings.wording_of_checks import fairly
from qcledger.stats.pooled import fair_field
from qcledger.vocab import Extent, Standing, WhyBought
from tests.findings.made import HALF, TUBE, confirming, criterion, field, only, paints, row

ROWS = (*paints("A", bad=5), *field("BCDE", formats=(HALF, TUBE)))
CONFIRMED = (*ROWS, *confirming("A"))


class Borne(Worries):
    """Stress checks that every claim stands in."""

    def about(self, claim, case, line):
        """Return `claim` as one that is there whatever is left out."""
        super().about(claim, case, line)
        return replace(claim, stress=Stress((Without("lot", "L1 of Red", True),)))


def asking(kept=lambda key: None):
    """Return a pool with these answers, in which every claim bears being looked at again."""
    return Pool(kept, Borne())


@cache
def answered(rows, line=None) -> dict[str, Pooled]:
    """Return the answers that findings in `rows` ask for, by their hash."""
    pool = asking()
    find(gather(rows, only()), pool=pool)
    return {one.key: answer(question(one.field, one.suspects, line or one.line)) for one in pool.missing.values()}


def read_with(rows, answers):
    """Return maker A's finding with these answers."""
    found = find(gather(rows, only()), pool=asking(answers.get))
    return next(one for one in found.findings if (one.maker, one.format) == ("A", HALF))


def test_the_level_is_the_calibrated_one():
    """One scorecard accuses at the line and the floor that calibration set."""
    assert (LINE, FLOOR) == (fair_field.LINE, fair_field.FLOOR)


def test_while_the_model_is_asked_the_accusation_reads_checking():
    """Counts and intervals are there at once; nothing is said to hold, and no narrower extent is blamed meanwhile."""
    pool = asking()
    found = find(gather(CONFIRMED, only()), pool=pool)
    one = next(one for one in found.findings if one.maker == "A")
    assert (one.standing, one.leaning, one.extent) == (Standing.CHECKING, Extent.MAKER_FORMAT, None)
    assert one.pending
    assert one.counts.faulty == one.counts.tested
    assert {check.name for check in one.claim.unmet} == {CheckName.ABOVE_FIELD, CheckName.FAIR_FIELD}
    assert list(pool.missing) == ["froth"]
    assert pool.missing["froth"].suspects == (("A", "half pan"),)


def test_an_answer_decides():
    """A maker whose planned lots are bad among sound peers is accused once it is confirmed, with k of N told."""
    answers = answered(CONFIRMED)
    one = read_with(CONFIRMED, answers)
    assert (one.standing, one.extent) == (Standing.SETTLED, Extent.MAKER_FORMAT)
    assert not one.pending
    assert one.reach.above >= FLOOR
    fair = one.claim.chance.fair
    assert fair.p_value <= LINE
    rounds = f"In {fair.fields:,} simulated rounds of these same purchases with no maker worse, "
    assert f"{rounds}{fair.as_strong or 'none'} looked this bad." in fairly(one)
    assert read_with(ROWS, answered(ROWS)).standing is Standing.TO_CONFIRM


def test_what_was_bought_to_confirm_enters_the_posterior_but_not_the_check():
    """The same planned lots give the same k of N, whatever was bought because they looked bad."""
    (plain,), (confirmed,) = answered(ROWS).values(), answered(CONFIRMED).values()
    assert plain.fair == confirmed.fair
    assert plain.cells["A", "half pan"] != confirmed.cells["A", "half pan"]


@pytest.mark.parametrize(
    ("change", "unmet"),
    [
        ({"fair": {("A", "half pan"): Fair(40, 2000)}}, {CheckName.FAIR_FIELD}),
        ({"fair": {}}, {CheckName.FAIR_FIELD}),
        ({"warnings": ("a mode was not found",)}, {CheckName.ABOVE_FIELD}),
    ],
    ids=["as strong in many", "not asked", "a run that distrusts itself"],
)
def test_each_gate_closes(change, unmet):
    """An accusation does not stand without the check, nor on numbers that warn of themselves."""
    answers = {key: replace(one, **change) for key, one in answered(CONFIRMED).items()}
    one = read_with(CONFIRMED, answers)
    assert one.standing is Standing.OPEN
    assert {check.name for check in one.claim.unmet} == unmet


def test_a_low_probability_closes_the_gate():
    """P(excess > 0) under the floor accuses nobody, whatever the check says."""
    ((key, known),) = answered(CONFIRMED).items()
    low = replace(known, cells={name: one._replace(above=0.9) for name, one in known.cells.items()})
    one = read_with(CONFIRMED, {key: low})
    assert {check.name for check in one.claim.unmet} == {CheckName.ABOVE_FIELD}


@pytest.mark.parametrize(
    ("fair", "drawn_for", "serves"),
    [
        (Fair(8, 500), LINE * 4, False),
        (Fair(8, 2000), LINE * 4, False),
        (Fair(60, 8600), LINE * 4, True),
        (Fair(0, 1000), LINE, False),
        (Fair(0, 1250), LINE, True),
        (Fair(30, 250), LINE, True),
        (Fair(20, 2000), LINE * 2, False),
    ],
    ids=[
        "too few",
        "not enough yet",
        "as many as there may be",
        "no more than clear",
        "clear below",
        "clear above",
        "another side of the line",
    ],
)
def test_an_answer_serves_a_line_that_it_can_tell(fair, drawn_for, serves):
    """With another number of criteria the line moves; what was drawn so far serves if it tells the new line apart."""
    kept = {
        key: replace(one, fair={("A", "half pan"): fair}, line=drawn_for) for key, one in answered(CONFIRMED).items()
    }
    assert (read_with(CONFIRMED, kept).standing is not Standing.CHECKING) == serves


def test_the_hash_is_that_of_the_data_that_enter():
    """The order of rows, another criterion and a tester's name change nothing; a grade past the line does."""

    def key(rows, criteria=()):
        pool = asking()
        find(gather(rows, only(criterion(), *criteria)), pool=pool)
        return pool.missing["froth"].key

    first = key(ROWS)
    assert key(ROWS[::-1]) == first
    assert key(tuple(replace(one, tester="Else") for one in ROWS)) == first
    other = [row(criterion="other", lot="L77", paint="New", grade=0)]
    assert key((*ROWS, *other), (criterion("other"),)) == first
    assert key((replace(ROWS[0], grade=0), *ROWS[1:])) != first
    assert key((replace(ROWS[0], why=WhyBought.NOTE), *ROWS[1:])) != first
    assert key((replace(ROWS[0], pigments=("PY3",)), *ROWS[1:])) != first


def test_lines_and_fields():
    """The level is divided among criteria, and as many fair fields as may be drawn can tell the line."""
    assert line_for(7) == LINE / 7
    for criteria in (1, 8, 21, 100):
        assert 1 / (fields_for(line_for(criteria)) + 1) <= line_for(criteria)


def test_criteria_that_cannot_accuse_take_no_share():
    """A criterion with one faulty lot leaves the line of the others as it is."""
    calls = []

    def strength(part, suspects, family):
        calls.append(family)
        raise StopIteration

    quiet = [replace(one, criterion="other", grade=5 if place == 0 else 0) for place, one in enumerate(ROWS)]
    loud = [replace(one, criterion="other") for one in ROWS]
    for more, share in ((quiet, 1), (loud, 2)):
        with pytest.raises((StopIteration, RuntimeError)):
            find(gather((*ROWS, *more), only(criterion(), criterion("other"))), strength=strength)
        assert calls.pop().criteria == share


EDGES = {
    "no faults": (*paints("A"), *field("BC")),
    "all faulty": (*paints("A", bad=5), *field("BC", bad=5)),
    "one maker": paints("A", bad=5),
    "one lot": [row(grade=5), row(grade=0)],
    "no lot codes": (*paints("A", bad=5, lots=(None,)), *field("BC", lots=(None,))),
    "one specimen": [row(grade=5)],
    "a maker with one specimen": (row(maker="Z", grade=5), *field("BCD")),
    "none of one": (row(maker="Z", grade=0), *field("BCD")),
    "no pigments": (*paints("A", bad=5, pigments=()), row(pigments=(), grade=5), *field("B")),
    "nothing planned": [replace(one, why=WhyBought.NOTE) for one in ROWS],
    "pigments changed": (row(pigments=("PY3",)), row(pigments=("PY42",), lot="L2"), *field("B")),
}


@pytest.mark.parametrize("rows", EDGES.values(), ids=EDGES.keys())
def test_edges_give_a_finding(rows):
    """Each has a posterior within 0 to 1 and a standing; nobody is accused of anything."""
    rows = tuple(rows)
    found = find(gather(rows, only()), pool=asking(answered(rows).get))
    for one in found.findings:
        assert not one.pending
        reach = one.reach
        assert 0 <= reach.rate.low <= reach.rate.mean <= reach.rate.high <= 1
        assert 0 <= reach.above <= 1
        assert len(one.pooled.lots) == len(one.field.lots)
        assert one.standing not in (Standing.SETTLED, Standing.TO_CONFIRM) or one.extent not in (
            Extent.MAKER, Extent.MAKER_FORMAT,
        )  # fmt: skip


def test_a_criterion_nobody_could_judge_asks_nothing():
    """Not testable is no data: the finding is there, and the model is not asked."""
    pool = asking()
    found = find(gather([row(grade=None, not_testable=True)], only()), pool=pool)
    assert [one.pending for one in found.findings] == [False]
    assert pool.missing == {}


def test_kept_stress_decides_about_its_claim():
    """A claim is settled once it is there in each check that can tell; before, and where none can, it is not."""
    answers = answered(CONFIRMED)
    pool = Pool(answers.get, Worries())
    waiting = find(gather(CONFIRMED, only()), pool=pool)
    assert len(pool.worries.missing) == 1
    one = next(one for one in waiting.findings if one.maker == "A")
    assert (one.standing, one.claim.stress) == (Standing.CHECKING, None)
    stands, falls, untold = Without("lot", "L1", True), Without("lot", "L1", False), Without("lot", "L1", False, True)
    line = Without("fault line", "only grade 5", False)
    for known, standing in (
        ((stands,), Standing.SETTLED),
        ((stands, untold, line), Standing.SETTLED),
        ((stands, falls), Standing.TO_CONFIRM),
        ((untold, line), Standing.TO_CONFIRM),
        ((), Standing.TO_CONFIRM),
    ):
        worries = Worries(dict.fromkeys(pool.worries.missing, Stress(known)))
        told = find(gather(CONFIRMED, only()), pool=Pool(answers.get, worries))
        (one,) = (one for one in told.findings if one.maker == "A")
        assert (one.standing, one.claim.standing, one.claim.stress) == (standing, standing, Stress(known))
        assert one.checks == one.claim.checks
        assert all(check.need is not Need.CHECKING for check in one.checks)
