"""How many units it takes: what the sizes promise."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, fisher_exact, hypergeom

from qcledger.errors import BadInput
from qcledger.stats import detection
from qcledger.stats.detection import (
    chance_of_acceptance,
    chance_to_tell,
    lots_to_tell,
    rate_at_acceptance,
    units_to_see,
    units_to_see_in_lot,
    units_to_tell,
)

CHANCES = st.floats(0.05, 0.99)


@given(rate=st.floats(0.001, 0.999), chance=CHANCES)
def test_units_to_see_is_the_smallest_number(rate, chance):
    """So many units show a faulty one with the chance wanted; one fewer do not."""
    units = units_to_see(rate, chance)
    assert 1 - binom.pmf(0, units, rate) >= chance - 1e-7
    assert units == 1 or 1 - binom.pmf(0, units - 1, rate) < chance + 1e-7


def test_units_to_see_at_an_exact_power():
    """Two units at 50 % see one with 75 % exactly: rounding must not ask for a third."""
    assert units_to_see(0.5, 0.75) == 2
    assert units_to_see(0.1, 1 - 0.9**7) == 7


@given(lot=st.integers(1, 80), data=st.data(), chance=CHANCES)
def test_units_to_see_in_lot_is_the_smallest_number(lot, data, chance):
    """So many units of the lot show a faulty one with the chance wanted; one fewer do not."""
    faulty = data.draw(st.integers(1, lot))
    units = units_to_see_in_lot(lot, faulty, chance)
    assert 1 <= units <= lot - faulty + 1
    assert hypergeom.sf(0, lot, faulty, units) >= chance - 1e-7
    assert units == 1 or hypergeom.sf(0, lot, faulty, units - 1) < chance + 1e-7


def test_a_finite_lot_never_needs_more_units():
    """Taking units out of a small lot tells at least as much as taking them from an endless one."""
    for faulty in range(1, 20):
        assert units_to_see_in_lot(20, faulty) <= units_to_see(faulty / 20)


@given(tested=st.integers(1, 200), data=st.data(), chance=CHANCES)
def test_rate_at_acceptance_turns_chance_of_acceptance_around(tested, data, chance):
    """At the rate found, the plan accepts with the chance asked for."""
    allowed = data.draw(st.integers(0, tested - 1))
    assert chance_of_acceptance(rate_at_acceptance(chance, tested, allowed), tested, allowed) == pytest.approx(chance)


def test_acceptance_edges():
    """Sound lots pass, wholly faulty ones do not, and a plan that allows everything accepts everything."""
    assert chance_of_acceptance(0, 20, 0) == 1
    assert chance_of_acceptance(1, 20, 19) == 0
    assert chance_of_acceptance(1, 20, 20) == 1
    assert rate_at_acceptance(0.5, 20, 20) == 1


@pytest.mark.parametrize("size", [1, 2, 5, 9])
def test_p_values_behind_the_power_are_fishers(size):
    """Every entry of the table is scipy's two-sided exact p-value."""
    table = detection._fisher_p_values(size)
    for x in range(size + 1):
        for y in range(size + 1):
            assert table[x, y] == pytest.approx(fisher_exact([[x, size - x], [y, size - y]]).pvalue)


@given(rate=st.floats(0, 1), peer_rate=st.floats(0, 1), units=st.integers(1, 15))
@settings(max_examples=40)
def test_power_is_symmetric_and_keeps_its_level(rate, peer_rate, units):
    """Exchanging the groups changes nothing, and equal rates are told apart at most 5 times in 100."""
    power = chance_to_tell(rate, peer_rate, units)
    assert 0 <= power <= 1
    assert power == pytest.approx(chance_to_tell(peer_rate, rate, units), abs=1e-12)
    assert chance_to_tell(rate, rate, units) <= 0.05 + 1e-12


def test_power_by_simulation():
    """Ten thousand simulated pairs of 12 against 12 reject as often as the sum over outcomes says."""
    generator = np.random.default_rng(20261125)
    ours, peers = generator.binomial(12, 0.5, 10_000), generator.binomial(12, 0.08, 10_000)
    rejected = detection._fisher_p_values(12)[ours, peers] <= 0.05
    power = chance_to_tell(0.5, 0.08, 12)
    assert abs(rejected.mean() - power) < 4 * np.sqrt(power * (1 - power) / 10_000)


def test_units_to_tell_is_the_first_size_with_the_power():
    """No smaller size reaches the power wanted: looked up from the first unit on, for many pairs of rates."""
    for rate, peer_rate in combinations([0, 0.02, 0.08, 0.3, 0.5, 0.8, 1], 2):
        first = next((n for n in range(1, 60) if chance_to_tell(rate, peer_rate, n) >= 0.8), None)
        if first is not None:
            assert units_to_tell(rate, peer_rate) == first


def test_lots_to_tell_between_alike_and_independent():
    """Lots of one are units; lots all alike count once each; in between the design effect decides."""
    units = units_to_tell(0.5, 0.08)
    assert lots_to_tell(0.5, 0.08) == units
    assert lots_to_tell(0.5, 0.08, per_lot=4, concentration=1) == units
    assert lots_to_tell(0.5, 0.08, per_lot=4) == -(-units // 4)
    assert lots_to_tell(0.5, 0.08, per_lot=2, concentration=0.5) == int(np.ceil(units * 1.5 / 2))


@pytest.mark.parametrize(("rate", "peer_rate"), [(0.08, 0.08), (0.1, 0.08)])
def test_rates_too_close_are_refused(rate, peer_rate):
    """Equal or nearly equal rates would take more units than anyone tests."""
    with pytest.raises(BadInput, match=r"^peer_rate: found '0.08'; allowed: a rate that at most 300 units"):
        units_to_tell(rate, peer_rate)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: units_to_see(0), "rate"),
        (lambda: units_to_see(0.1, 1), "chance"),
        (lambda: units_to_see_in_lot(0, 1), "lot"),
        (lambda: units_to_see_in_lot(5, 0), "faulty"),
        (lambda: units_to_see_in_lot(5, 6), "faulty"),
        (lambda: units_to_see_in_lot(5, 2, 0), "chance"),
        (lambda: chance_of_acceptance(1.1, 5, 1), "rate"),
        (lambda: chance_of_acceptance(0.1, 5, 6), "allowed"),
        (lambda: rate_at_acceptance(0, 5, 1), "chance"),
        (lambda: rate_at_acceptance(0.5, 5.5, 1), "tested"),
        (lambda: chance_to_tell(-0.1, 0.1, 5), "rate"),
        (lambda: chance_to_tell(0.1, 2, 5), "peer_rate"),
        (lambda: chance_to_tell(0.1, 0.2, 0), "units"),
        (lambda: chance_to_tell(0.1, 0.2, 5, 0), "alpha"),
        (lambda: units_to_tell(0.5, 0.08, 1), "chance"),
        (lambda: lots_to_tell(0.5, 0.08, per_lot=0), "per_lot"),
        (lambda: lots_to_tell(0.5, 0.08, concentration=1.5), "concentration"),
    ],
)
def test_bad_arguments_are_named(call, named):
    """An argument out of range is refused by its name."""
    with pytest.raises(BadInput, match=f"^{named}: found .*; allowed: "):
        call()
