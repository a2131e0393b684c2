"""Differences and ratios of two rates against published tables.

Source tags: [mem] agrees with the value remembered from the publication, which was not open; [pkg] printed in an
installed package, its help or tests; [repo] printed in a public repository.
"""

import pytest

from qcledger.stats.difference import difference_hybrid, difference_score, ratio_hybrid, ratio_score

# Newcombe 1998, Stat Med 17:873-890, Table II, 95 %, printed to 4 digits [mem; hybrid rows also repo].
NEWCOMBE = [
    ((56, 70, 48, 80), (0.0524, 0.3339), (0.0533, 0.3377), (0.0528, 0.3382)),
    ((9, 10, 3, 10), (0.1705, 0.8090), (0.1821, 0.8370), (0.1700, 0.8406)),
    ((0, 10, 0, 20), (-0.1611, 0.2775), (-0.1611, 0.2775), (-0.1658, 0.2844)),
]


@pytest.mark.parametrize(("counts", "hybrid", "mee", "miettinen_nurminen"), NEWCOMBE)
def test_newcombe_table_2(counts, hybrid, mee, miettinen_nurminen):
    """All three methods give Newcombe's printed limits, none of n against none of n included.

    Source: Newcombe 1998, Stat Med 17:873-890, table II [mem; hybrid rows also repo].
    """
    for interval, printed in [
        (difference_hybrid(*counts), hybrid),
        (difference_score(*counts, corrected=False), mee),
        (difference_score(*counts), miettinen_nurminen),
    ]:
        assert (interval.low, interval.high) == pytest.approx(printed, abs=5.1e-5)


# Fagerland, Lydersen & Laake 2015, Stat Methods Med Res 24:224-254: 7 of 34 against 1 of 34 (Perondi et al. 2004).
# 4 digits from the tests of ocbe-uio/contingencytables [repo]; the Miettinen-Nurminen difference from R diffscoreci
# by way of statsmodels test_proportion.py [pkg].
FAGERLAND = [
    (difference_hybrid, {}, (0.0189, 0.3404), 5.1e-5),
    (difference_score, {"corrected": False}, (0.0284, 0.3439), 5.1e-5),
    (difference_score, {}, (0.0270416, 0.3452912), 5.1e-8),
    (ratio_score, {"corrected": False}, (1.2209, 42.5757), 5.1e-5),
    (ratio_score, {}, (1.2086, 43.0330), 5.1e-5),
    (ratio_hybrid, {}, (1.1537, 41.9763), 5.1e-5),
]


@pytest.mark.parametrize(("method", "options", "printed", "tolerance"), FAGERLAND)
def test_fagerland_7_of_34_against_1_of_34(method, options, printed, tolerance):
    """Differences and ratios agree with the printed limits to their last digit.

    Source: Fagerland, Lydersen & Laake 2015, Stat Methods Med Res 24:224-254 [repo; one row pkg].
    """
    interval = method(7, 34, 1, 34, **options)
    assert (interval.low, interval.high) == pytest.approx(printed, abs=tolerance)


def test_ritland_none_of_16_against_15_of_72():
    """Ritland et al. 2007 as printed in the tests of ocbe-uio/contingencytables [repo]: -0.3164 to -0.0056.

    Source: Ritland et al. 2007 by way of Fagerland, Lydersen & Laake 2015 [repo].
    """
    interval = difference_score(0, 16, 15, 72)
    assert (interval.low, interval.high) == pytest.approx((-0.3164, -0.0056), abs=5.1e-5)
