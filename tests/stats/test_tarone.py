"""Tarone's correction: comparisons that could not have told anything are not counted."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import fisher_exact

from qcledger.stats.multiple import could_tell, least_exact_p

LEAST = st.lists(st.floats(1e-6, 1), max_size=30)


@given(inside=st.integers(1, 8), beside=st.integers(1, 12), data=st.data())
def test_least_p_is_fishers_with_as_many_inside_as_there_is_room_for(inside, beside, data):
    """The smallest p-value is scipy's for the table with all faulty ones inside, or the group full of them."""
    faulty = data.draw(st.integers(0, inside + beside))
    most = min(inside, faulty)
    table = [[most, inside - most], [faulty - most, beside - (faulty - most)]]
    wanted = fisher_exact(table, alternative="greater").pvalue
    assert least_exact_p([inside], [faulty], [inside + beside])[0] == pytest.approx(wanted, rel=1e-9)


@given(least=LEAST, level=st.floats(0.001, 0.2))
def test_no_more_than_k_could_pass(least, level):
    """At most K comparisons could come out at level / K, and K is the smallest such number, between 1 and all."""
    found = could_tell(least, level)
    assert 1 <= found <= max(len(least), 1)
    passing = [sum(p <= level / k for p in least) for k in range(1, found + 1)]
    assert passing[-1] <= found
    assert all(number > k for k, number in enumerate(passing[:-1], 1))


def test_hand_made():
    """Of four comparisons two can never be at 0.05; the other two are corrected by two, not by four."""
    assert could_tell([0.001, 0.002, 0.3, 0.5], 0.05) == 2
    assert could_tell([], 0.05) == 1
    assert could_tell([0.04, 0.04, 0.04], 0.05) == 2  # none is left at 0.05 / 2


def test_what_stands_right_at_the_line_counts():
    """2 of 2 of 25 is 1 in 300, which is 0.02 / 6: six such can pass at K = 6, however that is rounded."""
    assert could_tell(least_exact_p([2] * 6, [2] * 6, [25] * 6), 0.02) == 6
    assert could_tell(least_exact_p([2] * 7, [2] * 7, [25] * 7), 0.02) == 7


def test_a_level_holds_over_many_small_tables():
    """Over 2,000 fair sets of tables a false one is named in at most the level, far oftener without correction."""
    rng, level = np.random.default_rng(4), 0.05
    wrong = plain = 0
    for _ in range(2000):
        faulty = rng.binomial(9, 0.3, 20)
        inside = rng.hypergeometric(faulty, 9 - faulty, 3)
        tables = [[[k, 3 - k], [f - k, 6 - f + k]] for k, f in zip(inside, faulty, strict=True)]
        p = np.array([_p(tuple(map(tuple, table))) for table in tables])
        among = could_tell(least_exact_p(np.full(20, 3), faulty, np.full(20, 9)), level)
        wrong += p.min() * among <= level
        plain += p.min() <= level
    assert wrong <= level * 2000
    assert plain > 4 * wrong


def _p(table, known={}):  # noqa: B006 - the same few tables come again and again
    if table not in known:
        known[table] = fisher_exact(table, alternative="greater").pvalue
    return known[table]
