"""Funnel limits: what they promise for groups of every size."""

from math import comb

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from qcledger.errors import BadInput
from qcledger.stats.funnel import funnel_limits, funnel_normal_limits, overdispersion, z_scores

TARGETS = st.floats(0.01, 0.99)
SIZES = st.integers(1, 300)


@given(target=TARGETS, tested=SIZES, level=st.floats(0.5, 0.998))
def test_few_groups_fall_outside_by_chance(target, tested, level):
    """Beyond either exact limit lies a group with probability at most (1 - level) / 2, however small it is."""
    low, high = funnel_limits(target, tested, level)
    rates, chances = np.arange(tested + 1) / tested, binom.pmf(np.arange(tested + 1), tested, target)
    tail = (1 - level) / 2 + 1e-9
    assert chances[rates < low - 1e-12].sum() <= tail
    assert chances[rates > high + 1e-12].sum() <= tail


@given(target=TARGETS, tested=SIZES)
def test_smooth_limits_lie_within_one_unit_inside(target, tested):
    """Taking the steps out moves a limit down by less than one unit."""
    stepped, smooth = funnel_limits(target, tested), funnel_limits(target, tested, smooth=True)
    for step, line in zip(stepped, smooth, strict=True):
        assert step - 1 / tested - 1e-9 <= line <= step + 1e-9


@given(target=TARGETS, tested=SIZES)
def test_limits_are_rates_in_order(target, tested):
    """Limits lie between 0 and 1, and the normal ones hold the target.

    The exact ones need not: one unit at a common rate of 1 % is expected to be sound.
    """
    low, high = funnel_limits(target, tested)
    assert 0 <= low <= high <= 1
    low, high = funnel_normal_limits(target, tested)
    assert 0 <= low <= target <= high <= 1


def test_exact_and_normal_limits_meet_in_large_groups():
    """At a hundred thousand units both are the same to 1 in 10,000, and ten times narrower than at a thousand."""
    exact, normal = funnel_limits(0.12, [1000, 100_000]), funnel_normal_limits(0.12, [1000, 100_000])
    np.testing.assert_allclose(np.array(exact)[:, 1], np.array(normal)[:, 1], atol=1e-4)
    widths = exact[1] - exact[0]
    assert widths[0] / widths[1] == pytest.approx(10, rel=0.05)


def test_untested_groups():
    """A group of which nothing was tested lies anywhere, scores 0 and adds nothing to phi."""
    for limits in (funnel_limits, funnel_normal_limits):
        low, high = limits(0.1, [0, 5])
        assert (low[0], high[0]) == (0, 1)
    assert z_scores([0, 1], [0, 4], 0.25).tolist() == [0, 0]
    assert overdispersion([0, 3], [0, 4], 0.5) == overdispersion([3], [4], 0.5) == 1.0
    assert overdispersion([], [], 0.5) == overdispersion([0], [0], 0.5) == 1.0


def test_overdispersion_widens_but_never_narrows():
    """Phi 4 doubles the width; phi below 1 leaves it."""
    (low,), (high,) = funnel_normal_limits(0.5, [100])
    (wide_low,), (wide_high,) = funnel_normal_limits(0.5, [100], overdispersion=4)
    assert wide_high - wide_low == pytest.approx(2 * (high - low))
    assert funnel_normal_limits(0.5, [100], overdispersion=0.2) == ([low], [high])


@given(counts=st.lists(st.tuples(st.integers(0, 30), st.just(30)), min_size=1, max_size=20), share=st.floats(0, 0.49))
def test_winsorising_never_raises_phi_above_its_extremes(counts, share):
    """Drawing in the ends leaves phi between 0 and the largest squared score."""
    faulty, tested = np.array(counts).T
    largest = (z_scores(faulty, tested, 0.3) ** 2).max()
    assert 0 <= overdispersion(faulty, tested, 0.3, winsorised=share) <= largest + 1e-9


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: funnel_limits(0, [5]), "target"),
        (lambda: funnel_limits(0.1, [-5]), "tested"),
        (lambda: funnel_limits(0.1, [5], 1), "level"),
        (lambda: funnel_normal_limits(0.1, [5], overdispersion=np.inf), "overdispersion"),
        (lambda: z_scores([6], [5], 0.1), "faulty"),
        (lambda: z_scores([5], [5], 1.0), "target"),
        (lambda: overdispersion([5], [5], 0.1, winsorised=0.5), "winsorised"),
        (lambda: overdispersion([5], [5], 0.1, winsorised=[0.1]), "winsorised"),
    ],
)
def test_bad_arguments_are_named(call, named):
    """An argument out of range is refused by its name."""
    with pytest.raises(BadInput, match=f"^{named}: found .*; allowed: "):
        call()


@given(target=TARGETS, tested=st.integers(1, 60), level=st.floats(0.5, 0.998))
def test_limits_are_quantiles_counted_up(target, tested, level):
    """The first number of faulty units up to which the chance reaches each tail, adding one chance at a time."""
    low, high = funnel_limits(target, tested, level)
    chances = [comb(tested, r) * target**r * (1 - target) ** (tested - r) for r in range(tested + 1)]
    upto = np.cumsum(chances)
    for limit, tail in ((low, (1 - level) / 2), (high, (1 + level) / 2)):
        r = round(float(limit) * tested)
        assert upto[r] >= tail * (1 - 1e-9)
        assert r == 0 or upto[r - 1] < tail * (1 + 1e-9)
