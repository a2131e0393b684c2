"""What peers predict: invariants of the predictive, the bits and the level."""

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.errors import BadInput
from qcledger.stats import predictive
from qcledger.stats.predictive import CLASSES, LEAST, log2_sequence, trait_bits, votes

GRADE = st.integers(0, 10).map(lambda step: step / 2)
MAKERS = st.lists(st.lists(GRADE, min_size=1, max_size=4).map(votes), min_size=4, max_size=9)


def others(*grades):
    """Return the predictives of pigments whose makers all have one grade."""
    return [predictive.predictive([votes([one])] * 5) for one in grades]


@given(st.lists(st.integers(0, 2), max_size=5))
def test_order_changes_nothing(came):
    """A sequence taken one by one, each time with what came before, has the same bits in any order."""
    whole = log2_sequence(np.bincount(came, minlength=3), [1.0, 2.0, 0.5])
    for order in set(permutations(came)):
        assert step_by_step(order) == pytest.approx(whole, abs=1e-9)


def step_by_step(order):
    """Return the bits of a sequence, class by class."""
    weights, bits = np.array([1.0, 2.0, 0.5]), 0.0
    for place in order:
        bits += np.log2(weights[place] / weights.sum())
        weights[place] += 1
    return bits


@given(MAKERS)
def test_predictive_is_a_chance_over_the_scale(makers):
    """It adds up to 1, no grade is impossible, and the order of makers changes nothing."""
    found = predictive.predictive(makers)
    assert found.sum() == pytest.approx(1)
    assert (found > 0).all()
    assert found == pytest.approx(predictive.predictive(makers[::-1]))


@given(MAKERS, st.lists(GRADE, min_size=2, max_size=4))
def test_ratio_has_mean_one_for_a_paint_like_its_peers(makers, pigments):
    """Over what the peers predict, the ratio of a lot has the mean 1: the level rests on that."""
    elsewhere = np.array(others(*pigments))
    same = (1 - LEAST) * predictive.predictive(makers) + LEAST * elsewhere.mean(axis=0)
    ratios = [2 ** trait_bits([place / 2], makers, elsewhere).bits for place in range(CLASSES)]
    assert same @ ratios == pytest.approx(1)


@given(MAKERS, st.lists(GRADE, min_size=1, max_size=5), st.lists(GRADE, min_size=1, max_size=4))
def test_one_trait_never_tells_more_than_its_share(makers, lots, pigments):
    """No single trait speaks for more than the 8 bits that are left to it, however far the paint lies."""
    assert trait_bits(lots, makers, others(*pigments)).bits <= 8 + 1e-9


def test_more_lots_of_one_grade_add_nothing():
    """A paint counts once, however many lots of it were graded."""
    peers, elsewhere = [votes([0.5])] * 6, others(0, 2, 4.5)
    once = trait_bits([4.5], peers, elsewhere)
    assert trait_bits([4.5] * 7, peers, elsewhere).bits == pytest.approx(once.bits)
    assert trait_bits([4.5, 0.5], peers, elsewhere).bits < once.bits


def test_farther_is_more_unlike():
    """Where others lie evenly, the bits rise with the distance from the peers."""
    peers, elsewhere = [votes([0.0])] * 6, others(0, 1, 2, 3, 4, 5)
    bits = [trait_bits([grade], peers, elsewhere).bits for grade in range(6)]
    assert bits == sorted(bits)
    assert bits[0] < 0 < bits[3]


def test_more_makers_say_more():
    """The same distance tells more where more makers agree."""
    elsewhere = others(0, 1, 2, 3, 4, 5)
    few, many = (trait_bits([3.5], [votes([0.5])] * makers, elsewhere).bits for makers in (4, 12))
    assert many > few


def test_medians_are_told():
    """The middle of the lots and of the makers' votes, and how many makers."""
    found = trait_bits([4, 5, 4.5], [votes([0]), votes([1, 2]), votes([1])], others(3))
    assert (found.ours, found.peers, found.makers) == (4.5, 1.0, 3)


def test_level_rises_with_the_paints_looked_at():
    """Each doubling beyond the 60 it was counted for takes a bit more; fewer paints take no less."""
    assert predictive.level(240) - predictive.level(60) == pytest.approx(2)
    assert predictive.level(5) == predictive.level(60) == predictive.LEVEL


def test_width_is_that_of_what_is_on_file():
    """Makers a grade from the others: 1.4 grades; a few far ones change nothing; too few say nothing."""
    makers = [[1.0, -1.0] * 10, [-1.0] * 18]
    assert predictive.width_of(makers) == 2.75
    assert predictive.width_of([*makers, [5.0, 5.0]]) == 2.75
    assert predictive.width_of([[3.0] * 9]) == predictive.NEAR
    assert (predictive.width_of([[0.0] * 30]), predictive.width_of([[4.0] * 30])) == predictive.WIDTHS


def test_more_noise_says_less():
    """Where makers lie farther apart on file, the same distance tells less."""
    peers, elsewhere = [votes([0.5])] * 6, others(0, 2, 4.5)
    calm, noisy = (trait_bits([3.5], peers, elsewhere, near).bits for near in (1.5, 3.0))
    assert noisy < calm


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: log2_sequence([1, 2], [1, 2, 3]), "counts"),
        (lambda: log2_sequence([1.5, 2], [1, 2]), "counts"),
        (lambda: log2_sequence([1, 2], [0, 2]), "weights"),
        (lambda: votes([]), "grades"),
        (lambda: votes([5.5]), "grades"),
        (lambda: predictive.kernel(0), "width"),
        (lambda: predictive.level(0), "looked_at"),
    ],
)
def test_refusals_name_the_argument(call, named):
    """Bad input is told in one line that names what it is about."""
    with pytest.raises(BadInput, match=named):
        call()
