"""Two groups of grades against a published comparison.

Source tags: [mem] remembered from the publication, which was not open; [pkg] printed in an installed package's help;
[calc] two independent computations agree.
"""

import pytest

from qcledger.stats.ordinal import superiority

# Brunner & Munzel 2000, Biom J 42:17-25: shoulder pain scores after laparoscopy, treated (Y) and not (N) [mem].
TREATED = [1, 2, 1, 1, 1, 1, 1, 1, 1, 1, 2, 4, 1, 1]
UNTREATED = [3, 3, 4, 3, 1, 2, 3, 1, 1, 5, 4]


def test_brunner_munzel_shoulder_pain():
    """W 3.1375 on 17.683 degrees of freedom, p .005786, probability .789 from .5952 to .9827.

    Source: Brunner & Munzel 2000, Biom J 42:17-25 [mem]; W and p in the help of scipy `brunnermunzel` [pkg]; degrees
    of freedom and interval from the ranks, written out once more [calc].
    """
    found = superiority(UNTREATED, TREATED)
    assert found.method == "Brunner-Munzel"
    assert found.statistic == pytest.approx(3.1374674823, abs=5.1e-11)
    assert found.df == pytest.approx(17.68284, abs=5.1e-6)
    assert found.p_value == pytest.approx(0.0057862, abs=5.1e-8)
    assert (found.low, found.high) == pytest.approx((0.5952169, 0.9827052), abs=5.1e-8)


def test_vargha_delaney_a12():
    """Vargha & Delaney's A12 of the same scores is U/mn = 121.5/154.

    Source: Vargha & Delaney 2000, J Educ Behav Stat 25:101-132 [calc].
    """
    assert superiority(UNTREATED, TREATED).probability == pytest.approx(121.5 / 154, abs=1e-12)
