"""Adjusted p-values against published examples.

Source tags: [mem] agrees with the publication as remembered, which was not open; [pkg] printed in a package's help;
[calc] two independent computations agree.
"""

import numpy as np
import pytest

from qcledger.stats.multiple import benjamini_hochberg, holm

# Benjamini & Hochberg 1995, J R Stat Soc B 57:289-300: fifteen end points of a trial [mem; the same data stand in the
# help of scipy `false_discovery_control`, pkg].
TRIAL = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344]
TRIAL += [0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0]


def test_benjamini_hochberg_1995_rejects_four():
    """At .05 four end points are found, where Bonferroni finds three.

    Source: Benjamini & Hochberg 1995, J R Stat Soc B 57:289-300 [mem].
    """
    assert (benjamini_hochberg(TRIAL) <= 0.05).sum() == 4
    assert (np.array(TRIAL) * 15 <= 0.05).sum() == 3


def test_benjamini_hochberg_1995_adjusted():
    """All fifteen adjusted p-values, to the digits printed.

    Source: Benjamini & Hochberg 1995, J R Stat Soc B 57:289-300, adjusted in the help of scipy
    `false_discovery_control` [pkg].
    """
    printed = [0.0015, 0.0030, 0.0095, 0.035625, 0.0603, 0.063857, 0.063857, 0.0645]
    printed += [0.0765, 0.486, 0.58118, 0.714875, 0.75323, 0.81321, 1.0]
    np.testing.assert_allclose(benjamini_hochberg(TRIAL), printed, rtol=0, atol=5.1e-6)


def test_holm_on_the_same_trial():
    """Holm rejects three; his adjusted p-values of the first nine, then 1.

    Source: Holm 1979, Scand J Stat 6:65-70, on the data of Benjamini & Hochberg 1995 [pkg]; adjusted by hand
    [calc].
    """
    printed = [0.0015, 0.0056, 0.0247, 0.1140, 0.2211, 0.278, 0.278, 0.278, 0.3213] + [1.0] * 6
    adjusted = holm(TRIAL)
    assert (adjusted <= 0.05).sum() == 3
    np.testing.assert_allclose(adjusted, printed, rtol=0, atol=5.1e-5)


def test_holm_of_four():
    """The example of R `p.adjust`: .01 .04 .03 .005 become .03 .06 .06 .02 [pkg].

    Source: Holm 1979, Scand J Stat 6:65-70, as R `p.adjust` has it [pkg].
    """
    assert holm([0.01, 0.04, 0.03, 0.005]) == pytest.approx([0.03, 0.06, 0.06, 0.02], abs=1e-12)
