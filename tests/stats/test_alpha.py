"""Krippendorff's alpha: published values, and what does not change it."""

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.errors import BadInput
from qcledger.stats.alpha import ALPHA_FROM, AlphaScale, alpha_limits, alpha_of_two, distances, krippendorff_alpha

MISSING = float("nan")
TABLES = st.integers(2, 4).flatmap(
    lambda testers: st.lists(
        st.lists(st.one_of(st.integers(0, 5).map(float), st.just(MISSING)), min_size=testers, max_size=testers),
        min_size=2,
        max_size=8,
    ).map(lambda rows: np.array(rows).T)
)


def by_pairs(table, scale):
    """Return alpha from every pair of values within pieces and among all, one pair at a time."""
    pieces = [column[~np.isnan(column)] for column in table.T]
    pieces = [piece for piece in pieces if len(piece) > 1]
    every = np.concatenate([np.zeros(0), *pieces])
    values, often = np.unique(every, return_counts=True)
    apart = distances(values, often, scale)
    place = {value: index for index, value in enumerate(values)}

    def mean(row):
        pairs = [apart[place[one], place[other]] for one, other in permutations(row, 2)]
        return np.mean(pairs)

    expected = mean(every) if len(every) else 0.0
    return 1 - sum(len(piece) * mean(piece) for piece in pieces) / len(every) / expected if expected else None


@pytest.mark.parametrize("scale", AlphaScale)
@given(table=TABLES)
def test_alpha_is_counted_as_if_pair_by_pair(scale, table):
    """Observed and expected disagreement are means over pairs of values, those of a piece and those of all."""
    found, expected = krippendorff_alpha(table, scale).alpha, by_pairs(table, scale)
    assert found == (None if expected is None else pytest.approx(expected, abs=1e-9))


@given(table=TABLES, order=st.randoms(use_true_random=False))
def test_testers_and_pieces_come_in_any_order(table, order):
    """Who is called the first tester, and which piece comes first, changes nothing."""
    rows, columns = list(range(table.shape[0])), list(range(table.shape[1]))
    order.shuffle(rows)
    order.shuffle(columns)
    one, other = krippendorff_alpha(table), krippendorff_alpha(table[rows][:, columns])
    assert (one.pieces, one.values) == (other.pieces, other.values)
    assert one.alpha == (None if other.alpha is None else pytest.approx(other.alpha, abs=1e-9))


@given(table=TABLES)
def test_only_the_order_of_grades_counts(table):
    """Grades that are named otherwise, in the same order, agree as well."""
    one, other = krippendorff_alpha(table), krippendorff_alpha(table**3 - 7)
    assert one.alpha == (None if other.alpha is None else pytest.approx(other.alpha, abs=1e-9))


@given(table=TABLES, value=st.integers(0, 5))
def test_a_piece_with_one_grade_says_nothing(table, value):
    """A piece that only one tester graded, and one that none did, change nothing."""
    more = np.full((len(table), 2), MISSING)
    more[0, 0] = value
    assert krippendorff_alpha(np.hstack([table, more])) == krippendorff_alpha(table)


@given(grades=st.lists(st.integers(0, 5), min_size=2, max_size=9), testers=st.integers(2, 4))
def test_testers_who_always_agree_have_an_alpha_of_one(grades, testers):
    """Of one grade throughout there is none, since chance would agree as well."""
    found = krippendorff_alpha(np.tile(grades, (testers, 1)))
    assert found.alpha == (None if len(set(grades)) == 1 else pytest.approx(1.0))
    assert found.values == testers * len(grades)


@pytest.mark.parametrize(
    ("first", "second", "printed"),
    [("0100000010", "1110010000", 0.095), ("aabbdcccedda", "babbbcccedddd"[:12], 0.692)],
)
def test_two_observers_of_krippendorff(first, second, printed):
    """Krippendorff 2011, sections A and B, nominal values of two observers: .095 and .692 [from memory]."""
    rows = [[float(ord(one)) for one in row] for row in (first, second)]
    assert krippendorff_alpha(rows, AlphaScale.NOMINAL).alpha == pytest.approx(printed, abs=5.1e-4)


def test_ordinal_distances_are_the_values_between():
    """From 1 to 3 lie half of the ones, all twos and half of the threes: 2 + 3 + 1 squared, by hand."""
    apart = distances(np.array([1.0, 2.0, 3.0]), np.array([4.0, 3.0, 2.0]), AlphaScale.ORDINAL)
    assert apart.tolist() == [[0, 3.5**2, 36], [3.5**2, 0, 2.5**2], [36, 2.5**2, 0]]
    assert (distances(np.array([1.0, 4.0]), np.ones(2), AlphaScale.INTERVAL) == [[0, 9], [9, 0]]).all()


@pytest.mark.parametrize("pieces", [ALPHA_FROM - 1, ALPHA_FROM])
def test_an_interval_is_given_from_enough_pieces(pieces):
    """One piece fewer has alpha alone; the interval holds alpha."""
    rng = np.random.default_rng(4)
    first = rng.integers(0, 5, pieces)
    found = alpha_of_two(first, np.clip(first + rng.integers(-1, 2, pieces), 0, 5))
    assert (found.interval is None) == (pieces < ALPHA_FROM)
    assert found.interval is None or found.interval.holds(found.alpha)


def test_a_higher_level_is_a_wider_interval():
    """At 99 % the limits lie outside those at 80 %, for each of several sets of pieces at once."""
    rng = np.random.default_rng(5)
    first = rng.integers(0, 6, (3, 25)).astype(float)
    second = np.clip(first + rng.integers(-1, 2, first.shape), 0, 5)
    (low, high), (lower, higher) = (alpha_limits(first, second, level) for level in (0.8, 0.99))
    assert (lower <= low).all()
    assert (low <= high).all()
    assert (high <= higher).all()
    alone = [alpha_limits(one, other, 0.8) for one, other in zip(first, second, strict=True)]
    np.testing.assert_allclose(low, [one[0] for one in alone])


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: krippendorff_alpha([1, 2, 3]), "ratings"),
        (lambda: krippendorff_alpha([["x", "y"], ["x", "y"]]), "ratings"),
        (lambda: krippendorff_alpha([[1, float("inf")], [1, 2]]), "ratings"),
        (lambda: alpha_of_two([1, 2], [1, 2], level=1.0), "level"),
        (lambda: alpha_limits([1, float("nan")], [1, 2]), "first"),
    ],
)
def test_bad_ratings_are_named(call, named):
    """No table, no numbers, infinite ones, a level out of range."""
    with pytest.raises(BadInput, match=f"^{named}: found .*; allowed: "):
        call()
