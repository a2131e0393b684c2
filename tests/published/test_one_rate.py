"""Intervals for one rate against published tables.

Source tags: [mem] agrees with the value remembered from the publication, which was not open; [repo] printed in a
public repository; [calc] no published number, two independent computations agree.
"""

import pytest
from scipy.stats import beta

from qcledger.stats.clustered import lot_aware_density
from qcledger.stats.proportion import clopper_pearson, upper_limit, wilson

# Newcombe 1998, Stat Med 17:857-872, Table I, 95 % [mem; the score row of 81/263 also repo].
NEWCOMBE = [
    (wilson, (81, 263), (0.2553, 0.3662)),
    (wilson, (0, 20), (0.0, 0.1611)),
    (clopper_pearson, (81, 263), (0.2527, 0.3676)),
    (clopper_pearson, (0, 20), (0.0, 0.1684)),
]


@pytest.mark.parametrize(("method", "counts", "printed"), NEWCOMBE)
def test_newcombe_table_1(method, counts, printed):
    """Both methods give Newcombe's printed limits.

    Source: Newcombe 1998, Stat Med 17:857-872, table I [mem].
    """
    interval = method(*counts)
    assert (interval.low, interval.high) == pytest.approx(printed, abs=5.1e-5)


# Hanley & Lippman-Hand 1983, JAMA 249:1743-1745: "if nothing goes wrong" [mem].
@pytest.mark.parametrize(
    ("tested", "exact", "rule_of_three", "gap"), [(14, 0.193, 0.214, 0.022), (30, 0.0950, 0.100, 0.0051)]
)
def test_rule_of_three(tested, exact, rule_of_three, gap):
    """None of 14 still allows 19.3 % and none of 30 still 9.50 %, near 3/n.

    Source: Hanley & Lippman-Hand 1983, JAMA 249:1743-1745 [mem].
    """
    limit = upper_limit(0, tested)
    assert limit == pytest.approx(exact, abs=5.1e-4)
    assert 0 < rule_of_three - limit < gap


def test_density_of_independent_specimens_is_jeffreys():
    """With lots of one the drawn density has the plain Jeffreys 95 % limits of 81/263, .2545 and .3656 [calc].

    The density is cut at the Clopper-Pearson limits; what the cut took away is added back before comparing.

    Source: Brown, Cai & DasGupta 2001, Stat Sci 16:101-133, on Newcombe's 81 of 263 [calc].
    """
    ends = clopper_pearson(81, 263)
    left, right = beta(81.5, 182.5).cdf([ends.low, ends.high])
    below = left + (right - left) * lot_aware_density([1] * 81 + [0] * 182, [1] * 263, bins=10_000).cumsum()
    assert below[2544] == pytest.approx(0.025, abs=2e-4)
    assert below[3655] == pytest.approx(0.975, abs=2e-4)
