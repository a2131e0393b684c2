"""Which neighbouring grades are told apart: verdicts by counting every way to deal two grades to looks."""

from itertools import combinations, pairwise
from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from qcledger.errors import BadInput
from qcledger.stats.apart import CHANCE, SWAPPED, ToldApart, told_apart

GRADES = (0.0, 1.0, 2.0, 3.0)
LOOKS = st.lists(st.tuples(st.sampled_from(GRADES), st.sampled_from(GRADES)), min_size=1, max_size=20)
COUNTS = st.tuples(st.integers(0, 2), st.integers(0, 2), st.integers(0, 2)).filter(any)


def looks(kept_lower, kept_upper, swapped):
    """Return two looks at pieces that got grades 1 and 2 only."""
    pairs = [(1, 1)] * kept_lower + [(2, 2)] * kept_upper + [(1, 2)] * swapped
    return [one for one, _ in pairs], [other for _, other in pairs]


def chance_of_so_few(kept_lower, kept_upper, swapped):
    """Return the share of ways to deal the grades to looks in which as few pairs, or fewer, are swapped."""
    pairs, lower = kept_lower + kept_upper + swapped, 2 * kept_lower + swapped
    few = 0
    for which in combinations(range(2 * pairs), lower):
        got = np.isin(np.arange(2 * pairs), which).reshape(-1, 2)
        few += (got[:, 0] != got[:, 1]).sum() <= swapped
    return few / comb(2 * pairs, lower)


@given(counts=COUNTS)
def test_verdicts_are_those_of_counting_every_dealing(counts):
    """Too many swaps for a third, else too few for chance, else nothing is settled."""
    (found,) = told_apart(*looks(*counts), (1, 2))
    pairs, swapped = sum(counts), counts[2]
    if swapped and binom.sf(swapped - 1, pairs, SWAPPED) <= CHANCE:
        expected = ToldApart.NOT_APART
    else:
        expected = ToldApart.APART if chance_of_so_few(*counts) <= CHANCE else ToldApart.NOT_SETTLED
    assert (found.kept, found.swapped, found.verdict) == (counts[0] + counts[1], swapped, expected)


@given(pairs=LOOKS)
def test_each_two_neighbours_are_looked_at(pairs):
    """Pieces count for the two grades they got, and no piece with a third grade does."""
    first, second = zip(*pairs, strict=True)
    found = told_apart(first, second, GRADES)
    assert [(one.lower, one.upper) for one in found] == list(pairwise(GRADES))
    for one in found:
        mine = [pair for pair in pairs if set(pair) <= {one.lower, one.upper}]
        assert one.kept + one.swapped == len(mine)
        assert one.swapped == sum(a != b for a, b in mine)


@given(pairs=LOOKS)
def test_it_does_not_matter_which_look_was_first(pairs):
    """Nor in which order the pieces came."""
    first, second = zip(*pairs, strict=True)
    assert told_apart(first, second, GRADES) == told_apart(second, first, GRADES)
    assert told_apart(first, second, GRADES) == told_apart(first[::-1], second[::-1], GRADES)


@pytest.mark.parametrize(
    ("counts", "verdict"),
    [
        ((10, 10, 0), ToldApart.APART),
        ((3, 3, 0), ToldApart.APART),
        ((2, 2, 0), ToldApart.NOT_SETTLED),
        ((9, 0, 0), ToldApart.NOT_SETTLED),
        ((0, 0, 3), ToldApart.NOT_APART),
        ((0, 0, 2), ToldApart.NOT_SETTLED),
        ((0, 0, 0), ToldApart.NOT_SETTLED),
    ],
)
def test_plain_cases(counts, verdict):
    """Many kept of both grades tell them apart; of one grade only they say nothing; three swaps do not keep them."""
    (found,) = told_apart(*looks(*counts), (1, 2))
    assert found.verdict is verdict


@pytest.mark.parametrize("grades", [(2, 1), (1, 1, 2), [[1, 2], [3, 4]]])
def test_offered_grades_must_rise(grades):
    """Grades in another order, twice, or in no row are refused."""
    with pytest.raises(BadInput, match=r"^grades: found .*; allowed: offered grades in rising order"):
        told_apart([1, 2], [1, 2], grades)
