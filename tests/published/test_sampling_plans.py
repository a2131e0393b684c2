"""Acceptance and detection against standards and handbooks.

Source tags: [mem] agrees with the source as remembered, which was not open; [mem?] remembered but not confirmed;
[calc] no published number, two independent computations agree.
"""

import pytest

from qcledger.stats.detection import (
    chance_of_acceptance,
    chance_to_tell,
    rate_at_acceptance,
    units_to_see,
    units_to_see_in_lot,
    units_to_tell,
)

# Montgomery, Introduction to Statistical Quality Control: operating characteristic of n = 89, c = 2 [mem].
MONTGOMERY = {
    0.005: 0.9897,
    0.01: 0.9397,
    0.02: 0.7366,
    0.03: 0.4985,
    0.04: 0.3042,
    0.05: 0.1721,
    0.06: 0.0919,
    0.07: 0.0468,
    0.08: 0.0230,
    0.09: 0.0109,
}


@pytest.mark.parametrize(("rate", "printed"), MONTGOMERY.items())
def test_montgomery_operating_characteristic(rate, printed):
    """Every chance of acceptance agrees to 4 digits.

    Source: Montgomery 2009, Introduction to Statistical Quality Control [mem].
    """
    assert chance_of_acceptance(rate, 89, 2) == pytest.approx(printed, abs=5.1e-5)


# ISO 2859-1, table X: 100 p at which a lot is accepted with 99, 95, 90, 75, 50, 25, 10, 5, 1 % [calc; mem? for the
# rounding in print].
ACCEPTED = [0.99, 0.95, 0.90, 0.75, 0.50, 0.25, 0.10, 0.05, 0.01]
ISO_2859 = [
    (20, 0, [0.050, 0.256, 0.525, 1.43, 3.41, 6.70, 10.9, 13.9, 20.6]),
    (80, 2, [0.550, 1.03, 1.39, 2.16, 3.33, 4.84, 6.52, 7.66, 10.1]),
]


@pytest.mark.parametrize(("tested", "allowed", "printed"), ISO_2859)
def test_iso_2859_table_x(tested, allowed, printed):
    """Rates agree with the table to its three significant digits.

    Source: ISO 2859-1:1999, table X [calc; mem? for the rounding in print].
    """
    found = [100 * rate_at_acceptance(chance, tested, allowed) for chance in ACCEPTED]
    assert found == pytest.approx(printed, rel=5.1e-3)


RATES = [0.50, 0.30, 0.20, 0.10, 0.05, 0.02, 0.01]


@pytest.mark.parametrize(
    ("chance", "printed"), [(0.95, [5, 9, 14, 29, 59, 149, 299]), (0.90, [4, 7, 11, 22, 45, 114, 230])]
)
def test_units_needed_to_see_at_least_one(chance, printed):
    """The sample sizes of freedom-from-disease tables, endless population [mem].

    Source: Cannon & Roe 1982, Livestock Disease Surveys [mem].
    """
    assert [units_to_see(rate, chance) for rate in RATES] == printed


# Cannon & Roe 1982, Livestock disease surveys: finite populations, 95 % [N = 100 mem, N = 20 calc].
@pytest.mark.parametrize(
    ("lot", "faulty", "printed"),
    [
        (100, [50, 40, 30, 20, 10, 5, 2, 1], [5, 6, 9, 13, 25, 45, 78, 95]),
        (20, [10, 4, 2, 1], [4, 10, 16, 19]),
    ],
)
def test_units_needed_in_a_finite_lot(lot, faulty, printed):
    """Sample sizes for lots of 100 and of 20.

    Source: Cannon & Roe 1982, Livestock Disease Surveys [mem]; lots of 20 [calc].
    """
    assert [units_to_see_in_lot(lot, some) for some in faulty] == printed


# Two-sided Fisher exact test at .05, 50 % against 8 %, units in each group [calc].
POWER = {6: 0.0713, 8: 0.2419, 10: 0.3440, 12: 0.4846, 15: 0.6127, 18: 0.7391, 20: 0.8065, 24: 0.8891}


@pytest.mark.parametrize(("units", "power"), POWER.items())
def test_power_of_fishers_test(units, power):
    """The chance to tell 50 % from 8 % agrees to 4 digits.

    Source: the test of Fisher 1935, J R Stat Soc 98:39-82; its power [calc].
    """
    assert chance_to_tell(0.5, 0.08, units) == pytest.approx(power, abs=5.1e-5)


def test_twenty_units_tell_50_from_8_percent():
    """Eighty in a hundred is first reached with 20 units a group [calc].

    Source: the test of Fisher 1935, J R Stat Soc 98:39-82; its power [calc].
    """
    assert units_to_tell(0.5, 0.08) == 20
