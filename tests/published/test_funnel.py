"""Funnel limits for deaths after children's heart surgery.

Source tags: [repo] printed in a public repository; [calc] no published limits were at hand, two independent
computations agree; the interpolation of the exact limit is from memory of Spiegelhalter 2005, Stat Med 24:1185-1202.
"""

import numpy as np
import pytest

from qcledger.stats.funnel import funnel_limits, funnel_normal_limits, overdispersion, z_scores

# Open heart operations on children under one year and deaths, 12 English centres, 1991-95: repository
# dspiegel29/ArtofStatistics, 02-5 [repo].
OPERATIONS = np.array([143, 187, 323, 122, 164, 405, 239, 482, 195, 177, 581, 301])
DEATHS = np.array([41, 25, 24, 23, 25, 42, 24, 53, 26, 25, 58, 31])
TARGET = DEATHS.sum() / OPERATIONS.sum()

# centre, rate, exact limits at .1 2.5 97.5 99.9 %, normal limits at the same, z [calc]
CENTRES = [
    (0, 0.2867, (0.0405, 0.0653, 0.1720, 0.2073), (0.0358, 0.0664, 0.1728, 0.2035), 6.158),
    (2, 0.0743, (0.0657, 0.0838, 0.1545, 0.1771), (0.0638, 0.0842, 0.1550, 0.1754), -2.509),
    (3, 0.1885, (0.0343, 0.0606, 0.1763, 0.2145), (0.0288, 0.0620, 0.1772, 0.2104), 2.346),
]


@pytest.mark.parametrize(("centre", "rate", "exact", "normal", "z"), CENTRES)
def test_limits_of_three_centres(centre, rate, exact, normal, z):
    """Rates, interpolated exact limits, normal limits and z-scores to the last digit.

    Source: data of Spiegelhalter 2019, The Art of Statistics [repo]; limits after Spiegelhalter 2005, Stat Med
    24:1185-1202 [calc].
    """
    assert pytest.approx(0.119614, abs=5.1e-7) == TARGET
    assert DEATHS[centre] / OPERATIONS[centre] == pytest.approx(rate, abs=5.1e-5)
    for limits, options, expected in [(funnel_limits, {"smooth": True}, exact), (funnel_normal_limits, {}, normal)]:
        inner, outer = (limits(TARGET, OPERATIONS[centre], level, **options) for level in (0.95, 0.998))
        assert [outer[0], inner[0], inner[1], outer[1]] == pytest.approx(expected, abs=5.1e-5)
    assert z_scores(DEATHS, OPERATIONS, TARGET)[centre] == pytest.approx(z, abs=5.1e-4)


def test_overdispersion_with_and_without_the_extremes():
    """Phi is 4.8389, and 1.6893 once z-scores are winsorised at their 10 % and 90 % quantiles [calc].

    Source: Spiegelhalter 2005, Qual Saf Health Care 14:347-351, on the same data [calc].
    """
    assert overdispersion(DEATHS, OPERATIONS, TARGET) == pytest.approx(4.8389, abs=5.1e-5)
    assert overdispersion(DEATHS, OPERATIONS, TARGET, winsorised=0.1) == pytest.approx(1.6893, abs=5.1e-5)
