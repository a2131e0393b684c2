"""Agreement of two looks, of several testers, of readings, and of neighbouring grades: what they promise."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2

from qcledger.errors import BadInput
from qcledger.stats.agreement import ENOUGH, agreement, kappa_of_table, quadratic_kappa
from qcledger.stats.alpha import ALPHA_FROM, alpha_limits, alpha_of_two, krippendorff_alpha
from qcledger.stats.apart import ToldApart, told_apart
from qcledger.stats.precision import precision, repeatability
from tests.bench.bench_agreement import covered, kappa_limits, usual
from tests.bench.testers import Hand, alpha_of, looks, tuned_two

GRADES = [0, 0.5, 1, 2, 3, 4, 5]
PAIRS = st.lists(st.tuples(st.sampled_from(GRADES), st.sampled_from(GRADES)), min_size=ENOUGH, max_size=25)


def test_under_ten_pairs_only_counts():
    """Nine pairs give counts and the mean shift; ten give kappa with its interval as well."""
    nine = agreement([1] * 5 + [2] * 4, [1] * 5 + [3] * 4)
    assert (nine.pairs, nine.equal, nine.within_one, nine.shift) == (9, 5, 9, pytest.approx(4 / 9))
    assert (nine.kappa, nine.kappa_interval) == (None, None)
    ten = agreement([1] * 5 + [2] * 5, [1] * 5 + [3] * 5)
    assert ten.kappa is not None
    assert ten.kappa_interval is not None
    assert ten.kappa_interval.holds(ten.kappa)


def test_one_grade_throughout_has_no_kappa():
    """Where every grade is the same there is nothing to agree on, though the pairs are equal."""
    found = agreement([2] * 12, [2] * 12)
    assert (found.equal, found.kappa, found.kappa_interval) == (12, None, None)
    assert krippendorff_alpha([[2, 2], [2, 2]]).alpha is None


@settings(max_examples=30, deadline=None)
@given(rows=PAIRS)
def test_kappa_lies_in_its_interval_whatever_the_order(rows):
    """The interval holds kappa, stays below 1, and neither order of pairs nor of looks changes it."""
    one, other = np.array(rows).T
    found = agreement(one, other)
    assert found.equal <= found.within_one <= found.pairs
    if found.kappa is not None and found.kappa_interval is not None:
        assert found.kappa_interval.low <= found.kappa <= found.kappa_interval.high <= 1
        back = agreement(other[::-1], one[::-1])
        assert back.kappa_interval is not None
        ends = (found.kappa_interval.low, found.kappa_interval.high)
        assert (back.kappa_interval.low, back.kappa_interval.high) == pytest.approx(ends)
        assert back.shift == pytest.approx(-found.shift)


@given(rows=PAIRS)
def test_kappa_of_pairs_is_that_of_their_table(rows):
    """Pairs and the table of how often each two grades met give one kappa."""
    one, other = np.array(rows).T
    table = [[((one == a) & (other == b)).sum() for b in GRADES] for a in GRADES]
    weights = np.subtract.outer(GRADES, GRADES) ** 2
    expected = kappa_of_table(table, weights)
    assert quadratic_kappa(one, other) == (None if expected is None else pytest.approx(expected))


def test_ten_equal_pairs_do_not_promise_perfection():
    """Ten equal pairs over the scale leave room for some that differ."""
    found = agreement([0, 1, 2, 3, 4, 5, 0, 2, 3, 5], [0, 1, 2, 3, 4, 5, 0, 2, 3, 5]).kappa_interval
    assert found is not None
    assert found.low < 0.97  # one pair in ten one grade apart would give 0.98
    assert found.high == 1


@pytest.mark.parametrize("pairs", [10, 20, 40])
@pytest.mark.parametrize("slip", [0.0, 0.02])
def test_intervals_hold_the_truth(pairs, slip):
    """Noise of half a grade, with and without slips: 400 sets are covered in 92 to 98 %, the usual way in fewer."""
    hand = Hand(0.5, 0.5, slip=slip)
    tester = looks("noise of half a grade", 1.0, np.arange(6.0), np.full(6, 1 / 6), hand, hand)
    found = covered(tester, pairs, 400, {"in use": kappa_limits, "usual": usual})[1]
    assert 0.92 <= found["in use"][0] <= 0.98
    assert found["usual"][0] < found["in use"][0]


def test_alpha_of_two_has_an_interval_from_enough_pieces():
    """It holds alpha and does not care who is who; with a piece fewer, or one grade throughout, there is none."""
    one = np.array([0, 1, 2, 3, 4] * 8, dtype=float)
    other = np.clip(one + [0, 1, 0, 0, -1, 0, 0, 1] * 5, 0, 5)
    found, back = alpha_of_two(one, other), alpha_of_two(other[::-1], one[::-1])
    assert found.interval is not None
    assert found.interval == back.interval
    assert found.interval.low < found.alpha < found.interval.high < 1
    assert found.alpha == krippendorff_alpha([one, other]).alpha
    fewer = alpha_of_two(one[: ALPHA_FROM - 1], other[: ALPHA_FROM - 1])
    assert (fewer.interval, fewer.pieces) == (None, ALPHA_FROM - 1)
    assert alpha_of_two([2] * 40, [2] * 40).interval is None


def test_intervals_for_alpha_hold_the_truth():
    """A second tester who is harsher and noisier: 400 sets of 40 pieces are covered in 92 to 98 %."""
    tester = next(one for one in tuned_two() if one.name == "traits 0.5")
    found = covered(tester, 40, 400, {"in use": alpha_limits}, alpha_of)[1]
    assert 0.92 <= found["in use"][0] <= 0.98


@given(rows=st.lists(st.tuples(*[st.sampled_from([*GRADES, float("nan")])] * 3), min_size=1, max_size=12))
def test_alpha_does_not_care_who_is_who(rows):
    """Order of testers and of pieces, pieces of one tester, and a stretched scale leave ordinal alpha as it is."""
    table = np.array(rows).T
    found = krippendorff_alpha(table)
    for other in (table[::-1], table[:, ::-1], table * 3 + 1, np.column_stack([table, [4, np.nan, np.nan]])):
        again = krippendorff_alpha(other)
        assert again.alpha == (None if found.alpha is None else pytest.approx(found.alpha))
        assert (again.pieces, again.values) == (found.pieces, found.values)
    assert found.alpha is None or found.alpha <= 1 + 1e-12


def test_swapped_grades_are_not_told_apart():
    """Twos and threes swapped as often as kept are not told apart, zeros and ones are; both counted."""
    first = [0] * 6 + [1] * 6 + [2] * 8 + [3] * 8
    second = [0] * 6 + [1] * 6 + [2, 3] * 4 + [3, 2] * 4
    found = told_apart(first, second, range(6))
    counts = [(one.lower, one.kept, one.swapped) for one in found[:4]]
    assert counts == [(0, 12, 0), (1, 10, 0), (2, 8, 8), (3, 4, 0)]
    assert found[0].verdict is ToldApart.APART
    assert found[2].verdict is ToldApart.NOT_SETTLED  # 8 of 16 have a chance of .13 where a third is swapped
    assert told_apart(first * 2, second * 2, range(6))[2].verdict is ToldApart.NOT_APART
    assert found[4].verdict is ToldApart.NOT_SETTLED


def test_few_pairs_do_not_settle_neighbours():
    """Two pairs, kept or swapped, settle nothing; three swapped ones of three do."""
    assert told_apart([2, 3], [2, 3], [2, 3])[0].verdict is ToldApart.NOT_SETTLED
    assert told_apart([2, 3], [3, 2], [2, 3])[0].verdict is ToldApart.NOT_SETTLED
    assert told_apart([2, 3, 2], [3, 2, 3], [2, 3])[0].verdict is ToldApart.NOT_APART


def test_wrong_words_about_neighbours_are_rare():
    """Grades dealt at random are called told apart in at most 5 %; grades swapped in a third not apart in 5 %."""
    rng, wrong = np.random.default_rng(5), [0, 0]
    for _ in range(400):
        one, other = rng.choice([2, 3], (2, 24), p=[0.6, 0.4])
        wrong[0] += told_apart(one, other, [2, 3])[0].verdict is ToldApart.APART
        swapped = np.where(rng.random(24) < 1 / 3, 5 - one, one)
        wrong[1] += told_apart(one, swapped, [2, 3])[0].verdict is ToldApart.NOT_APART
    assert max(wrong) <= 32  # 20 and more than two and a half deviations


def test_repeatability_of_pairs():
    """Pairs 1 and 3 apart: deviation root of (1 + 9) / 4, limit 2.8 times that, chi-square interval."""
    found = repeatability([10, 20], [11, 23])
    assert found.deviation == pytest.approx(2.5**0.5)
    assert found.limit == pytest.approx(2.8 * 2.5**0.5)
    assert found.interval is not None
    ends = [(5 / chi2.ppf(tail, 2)) ** 0.5 for tail in (0.975, 0.025)]
    assert (found.interval.low, found.interval.high) == pytest.approx(ends)


def test_repeatability_as_a_share_does_not_know_units():
    """Relative repeatability is the same in seconds and minutes; readings of 0 have none."""
    seconds = repeatability([60, 120, 90], [66, 118, 100], relative=True)
    minutes = repeatability([1, 2, 1.5], [1.1, 118 / 60, 100 / 60], relative=True)
    assert seconds.limit == pytest.approx(minutes.limit)
    with pytest.raises(BadInput, match="first"):
        repeatability([0], [1], relative=True)
    assert repeatability([], []).deviation is None


@given(rows=st.lists(st.lists(st.floats(0, 100), min_size=2, max_size=5), min_size=2, max_size=5))
def test_testers_together_scatter_at_least_as_much_as_one(rows):
    """Reproducibility is never below repeatability."""
    found = precision(rows)
    assert found.reproducibility >= found.repeatability


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: agreement([1], [1, 2]), "second"),
        (lambda: agreement(["x"], [1]), "first"),
        (lambda: agreement([1], [1], level=1), "level"),
        (lambda: kappa_of_table([[1, 2]], [[0]]), "table"),
        (lambda: kappa_of_table(np.eye(2), np.eye(3)), "disagreement"),
        (lambda: krippendorff_alpha([1, 2]), "ratings"),
        (lambda: krippendorff_alpha([["a"]]), "ratings"),
        (lambda: alpha_of_two([1], [1, 2]), "second"),
        (lambda: alpha_of_two([1], [1], level=0), "level"),
        (lambda: told_apart([1], [1], [3, 2]), "grades"),
        (lambda: precision([[1.0]]), "by_tester"),
        (lambda: repeatability([1], [2, 3]), "second"),
    ],
)
def test_bad_arguments_are_named(call, named):
    """The message names the argument."""
    with pytest.raises(BadInput, match=named):
        call()
