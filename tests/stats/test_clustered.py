"""Rates of specimens that come in lots: what the interval and the drawn density promise."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger.errors import BadInput
from qcledger.stats.clustered import (
    ASSUMED_CONCENTRATION,
    design_effect,
    effective_size,
    lot_aware,
    lot_aware_densities,
    lot_aware_density,
    lot_aware_limits,
)
from qcledger.stats.proportion import clopper_pearson

LOT = st.integers(0, 8).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
LOTS = st.lists(LOT, min_size=1, max_size=12).map(lambda lots: np.array(lots).T)


@given(lots=LOTS)
def test_interval_holds_its_estimate(lots):
    """The observed share lies in the interval, and the interval between 0 and 1."""
    interval = lot_aware(*lots)
    assert 0 <= interval.low <= interval.high <= 1
    if lots[1].sum():
        assert interval.low - 1e-9 <= lots[0].sum() / lots[1].sum() <= interval.high + 1e-9


@given(lots=LOTS, order=st.randoms(use_true_random=False))
def test_order_of_lots_does_not_matter(lots, order):
    """The same lots in another order give the same interval."""
    shuffled = list(range(lots.shape[1]))
    order.shuffle(shuffled)
    one, other = lot_aware(*lots), lot_aware(*lots[:, shuffled])
    assert (one.low, one.high) == pytest.approx((other.low, other.high), abs=1e-9)


@given(lots=LOTS)
def test_calling_faulty_sound_mirrors_the_interval(lots):
    """The interval for the sound share is one minus the interval for the faulty share."""
    one, other = lot_aware(*lots), lot_aware(lots[1] - lots[0], lots[1])
    assert (one.low, one.high) == pytest.approx((1 - other.high, 1 - other.low), abs=1e-9)


@given(lots=LOTS, times=st.integers(2, 5))
def test_more_lots_of_the_same_narrow_the_interval(lots, times):
    """The same lots found again and again leave less room."""
    if not lots[1].sum():
        return
    few, many = lot_aware(*lots), lot_aware(*np.tile(lots, times))
    assert many.high - many.low < few.high - few.low


@given(lots=LOTS)
def test_effective_size_lies_between_lots_and_specimens(lots):
    """Specimens in lots never say more than independent ones, nor less than one number a lot."""
    tested = lots[1]
    if not tested.sum():
        return
    size = effective_size(*lots)
    assert tested.sum() ** 2 / (tested**2).sum() - 1e-9 <= size <= tested.sum() + 1e-9


@given(faulty=st.lists(st.integers(0, 1), min_size=1, max_size=40))
def test_lots_of_one_are_independent_specimens(faulty):
    """When each specimen has its own lot the interval is Clopper-Pearson."""
    interval, exact = lot_aware(faulty, [1] * len(faulty)), clopper_pearson(sum(faulty), len(faulty))
    assert (interval.low, interval.high) == pytest.approx((exact.low, exact.high), abs=1e-9)


@given(lot=LOT.filter(lambda pair: pair[1] > 0 and pair[0] in (0, pair[1])))
def test_one_lot_counts_as_one_specimen(lot):
    """However many specimens of one lot were tested, they say as much as one."""
    interval, exact = lot_aware([lot[0]], [lot[1]]), clopper_pearson(int(lot[0] > 0), 1)
    assert (interval.low, interval.high) == pytest.approx((exact.low, exact.high), abs=1e-12)


@pytest.mark.parametrize("lots", [2, 4, 7])
def test_lots_faulty_all_through_or_not_at_all_count_once_each(lots):
    """One wholly bad lot of `lots` equal lots is one faulty specimen of `lots`."""
    interval, exact = lot_aware([6] + [0] * (lots - 1), [6] * lots), clopper_pearson(1, lots)
    assert interval.low == pytest.approx(exact.low, abs=1e-9)
    assert interval.high == pytest.approx(exact.high, abs=1e-9)


@given(lots=LOTS)
def test_untested_lots_are_no_lots(lots):
    """A lot of which nothing could be tested changes nothing."""
    padded = np.hstack([lots, [[0, 0], [0, 0]]])
    assert lot_aware(*padded) == lot_aware(*lots)
    assert design_effect(*padded) == design_effect(*lots)


def test_nothing_tested_says_nothing():
    """Without lots the interval is 0 to 1, the effective size 0 and the strip flat."""
    for lots in [([], []), ([0, 0], [0, 0])]:
        assert (lot_aware(*lots).low, lot_aware(*lots).high) == (0, 1)
        assert effective_size(*lots) == 0
        assert design_effect(*lots) == 1
        assert lot_aware_density(*lots, bins=4) == pytest.approx([0.25] * 4)


def test_design_effect_where_it_cannot_be_measured():
    """None or all faulty, or a single lot: the assumed concentration speaks."""
    assumed = 1 + ASSUMED_CONCENTRATION * (6 - 1)
    for faulty in [[0, 0, 0], [6, 6, 6]]:
        assert design_effect(faulty, [6, 6, 6]) == pytest.approx(assumed)
    assert design_effect([2], [6]) == pytest.approx(assumed)


def simulated(rate, concentration, lots, size, ledgers=3000):
    """Return counts of faulty specimens by ledger and lot, from a beta-binomial."""
    generator = np.random.default_rng(20261125)
    spread = 1 / concentration - 1
    lot_rates = generator.beta(rate * spread, (1 - rate) * spread, (ledgers, lots))
    return generator.binomial(size, lot_rates)


@pytest.mark.parametrize("concentration", [0.05, 0.15, 0.5])
@pytest.mark.parametrize(("rate", "lots", "size"), [(0.08, 6, 2), (0.08, 10, 6), (0.3, 4, 3), (0.5, 12, 2)])
def test_interval_covers_in_clustered_ledgers(rate, concentration, lots, size):
    """In 3,000 simulated ledgers with alike lots the interval holds the true rate at least 94 times in 100."""
    faulty = simulated(rate, concentration, lots, size)
    cell = np.repeat(np.arange(len(faulty)), lots)
    low, high = lot_aware_limits(faulty.ravel(), np.full(faulty.size, size), cell, len(faulty))
    assert np.mean((low <= rate) & (rate <= high)) >= 0.94


def test_interval_that_ignores_lots_does_not_cover():
    """The same ledgers show why: with concentration 0.5, Clopper-Pearson over specimens misses one time in six."""
    faulty = simulated(0.3, 0.5, 12, 4).sum(axis=1)
    held = [clopper_pearson(int(some), 48).holds(0.3) for some in faulty[:1000]]
    assert np.mean(held) < 0.86


@given(cells=st.lists(LOTS, min_size=1, max_size=5), order=st.randoms(use_true_random=False))
def test_many_cells_at_once_are_the_same_numbers(cells, order):
    """Lots of many cells, in any order, give each cell's own interval and strip."""
    rows = [(*lot, number) for number, lots in enumerate(cells) for lot in lots.T]
    order.shuffle(rows)
    faulty, tested, cell = np.array(rows).T
    low, high = lot_aware_limits(faulty, tested, cell, len(cells) + 1)
    strips = lot_aware_densities(faulty, tested, cell, len(cells) + 1, bins=12)
    for number, lots in enumerate(cells):
        one = lot_aware(*lots)
        assert (low[number], high[number]) == pytest.approx((one.low, one.high), abs=1e-9)
        assert strips[number] == pytest.approx(lot_aware_density(*lots, bins=12), abs=1e-9)
    assert (low[-1], high[-1]) == (0, 1)


@given(lots=LOTS, bins=st.integers(1, 60), level=st.floats(0.5, 0.99))
def test_strip_is_a_density_that_ends_where_the_interval_does(lots, bins, level):
    """Probabilities sum to 1, none is negative, and outside the interval they are exactly 0."""
    strip, interval = lot_aware_density(*lots, bins, level), lot_aware(*lots, level)
    edges = np.linspace(0, 1, bins + 1)
    assert strip.shape == (bins,)
    assert strip.sum() == pytest.approx(1)
    assert (strip >= 0).all()
    outside = (edges[1:] <= interval.low) | (edges[:-1] >= interval.high)
    assert (strip[outside] == 0).all()
    assert (strip[~outside] > 0).all()


@given(lots=LOTS)
def test_strip_mirrors_with_its_interval(lots):
    """Drawn for the sound share, the strip runs the other way."""
    one, other = lot_aware_density(*lots, bins=10), lot_aware_density(lots[1] - lots[0], lots[1], bins=10)
    assert one == pytest.approx(other[::-1], abs=1e-7)


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (([3, 0], [2, 2]), "faulty_by_lot"),
        (([1.5], [2]), "faulty_by_lot"),
        (([[1]], [[2]]), "faulty_by_lot"),
        ((1, 2), "faulty_by_lot"),
        (([1], [-2]), "tested_by_lot"),
        (([1], [2], 1), "level"),
    ],
)
@pytest.mark.parametrize("method", [lot_aware, effective_size])
def test_bad_arguments_are_named(method, arguments, named):
    """A count or level out of range is refused by its name."""
    with pytest.raises(BadInput, match=f"^{named}: found .*; allowed: "):
        method(*arguments)


@pytest.mark.parametrize(
    ("cell", "cells", "named"),
    [([0, 2], 2, "cell"), ([0], 2, "cell"), ([0, -1], 2, "cell"), ([0.5, 1], 2, "cell"), ([0, 1], 2.5, "cells")],
)
def test_cell_numbers_are_checked(cell, cells, named):
    """Each lot has one cell number, and no number points beyond the cells."""
    with pytest.raises(BadInput, match=f"^{named}: found "):
        lot_aware_limits([1, 0], [2, 2], cell, cells)


@pytest.mark.parametrize("bins", [0, 2.5, [4]])
def test_bins_are_checked(bins):
    """A strip has a whole number of bins, at least one."""
    with pytest.raises(BadInput, match=r"^bins: found "):
        lot_aware_density([1], [2], bins)
