"""Further specimens: published values of the beta-binomial, and sample sizes that planners quote."""

import numpy as np
import pytest
from scipy.integrate import dblquad
from scipy.stats import betabinom, binom, fisher_exact

from qcledger.stats.detection import chance_to_tell, lots_beyond, units_to_see, units_to_tell
from qcledger.stats.further import beta_of, further_faulty, rates_of


@pytest.mark.parametrize("count", [1, 4, 9])
def test_every_number_is_as_likely_when_nothing_is_known(count):
    """Bayes 1763, Phil Trans 53:370-418: with a uniform rate each of 0..n has chance 1 / (n + 1).

    Source: Bayes 1763, Phil Trans 53:370-418 [mem].
    """
    assert further_faulty(count, 1, 1) == pytest.approx([1 / (count + 1)] * (count + 1))


def test_rule_of_succession():
    """Laplace 1774: after s of n, the next one has chance (s + 1) / (n + 2): after 3 of 3, 4/5.

    Source: Laplace 1774, Mem Acad R Sci 6:621-656 [mem].
    """
    assert further_faulty(1, 1 + 3, 1 + 0)[1] == pytest.approx(4 / 5)


def test_as_the_reference_library():
    """scipy.stats.betabinom, an implementation of its own, and moments that come back.

    Source: scipy, Virtanen et al. 2020, Nat Methods 17:261-272 [pkg].
    """
    a, b = beta_of(0.3, 0.12)
    assert further_faulty(6, a, b) == pytest.approx(betabinom(6, a, b).pmf(range(7)))
    assert a / (a + b) == pytest.approx(0.3)
    assert (a * b / (a + b) ** 2 / (a + b + 1)) ** 0.5 == pytest.approx(0.12)


@pytest.mark.parametrize(("rate", "at_95", "at_90"), [(0.5, 5, 4), (0.3, 9, 7), (0.2, 14, 11), (0.1, 29, 22)])
def test_specimens_to_see_one(rate, at_95, at_90):
    """Least n with 1 - (1 - rate)^n past .95 and .90, as tables of freedom from disease print it [mem].

    Source: Cannon & Roe 1982, Livestock Disease Surveys [mem].
    """
    assert (units_to_see(rate, 0.95), units_to_see(rate, 0.9)) == (at_95, at_90)


@pytest.mark.parametrize(("units", "power"), [(6, 0.0713), (12, 0.4846), (20, 0.8065), (24, 0.8891)])
def test_fifty_per_cent_told_from_eight(units, power):
    """Two-sided exact test, alpha .05: power summed over all tables with scipy's test and binomials [calc].

    Source: the test of Fisher 1935, J R Stat Soc 98:39-82; its power by scipy [calc].
    """
    total = sum(
        binom.pmf(x, units, 0.5) * binom.pmf(y, units, 0.08)
        for x in range(units + 1)
        for y in range(units + 1)
        if fisher_exact([[x, units - x], [y, units - y]]).pvalue <= 0.05
    )
    assert total == pytest.approx(power, abs=5e-5)
    assert chance_to_tell(0.5, 0.08, units) == pytest.approx(power, abs=5e-5)


def test_how_many_for_nine_of_ten():
    """The first size past 0.9 lies above the 24 a group that the table gives 0.8891.

    Source: the test of Fisher 1935, J R Stat Soc 98:39-82; its power by scipy [calc].
    """
    needed = units_to_tell(0.5, 0.08, 0.9)
    assert needed > 24
    assert chance_to_tell(0.5, 0.08, needed) >= 0.9 > chance_to_tell(0.5, 0.08, needed - 1)


@pytest.mark.parametrize(("rate", "usual"), [(0.5, 0.08), (0.3, 0.08), (0.5, 0.2), (0.9, 0.05)])
def test_lots_beyond_a_known_rate_are_the_least_of_the_exact_test(rate, usual):
    """By scipy's binomial alone: at the size before, no count is beyond chance and seen in 9 of 10 cases.

    Source: Clopper & Pearson 1934, Biometrika 26:404-413; tails by scipy [calc].
    """

    def enough(lots):
        return any(
            binom.sf(faulty - 1, lots, usual) <= 0.05 and binom.sf(faulty - 1, lots, rate) >= 0.9
            for faulty in range(1, lots + 1)
        )

    lots, faulty = lots_beyond(rate, usual)
    assert enough(lots)
    assert not any(enough(fewer) for fewer in range(1, lots))
    assert binom.sf(faulty - 1, lots, usual) <= 0.05 < binom.sf(faulty - 2, lots, usual)


RATS = """
0/20 0/20 0/20 0/20 0/20 0/20 0/20 0/19 0/19 0/19 0/19 0/18 0/18 0/17 1/20 1/20 1/20 1/20 1/19 1/19
1/18 1/18 2/25 2/24 2/23 2/20 2/20 2/20 2/20 2/20 2/20 1/10 5/49 2/19 5/46 3/27 2/17 7/49 7/47 3/20
3/20 2/13 9/48 10/50 4/20 4/20 4/20 4/20 4/20 4/20 4/20 10/48 4/19 4/19 4/19 5/22 11/46 12/49 5/20
5/20 6/23 5/19 6/22 6/20 6/20 6/20 16/52 15/46 15/47 9/24 4/14
"""
"""Tarone 1982, Biometrics 38:215-220, as table 5.1 of Gelman et al. 2013, Bayesian Data Analysis, 3rd ed. [mem]."""


def test_rates_of_many_groups_as_a_handbook_works_them_out():
    """On a grid of their own they find E(alpha | y) = 2.4 and E(beta | y) = 14.3.

    Source: Gelman, Carlin, Stern, Dunson, Vehtari, Rubin 2013, Bayesian Data Analysis, section 5.3 [mem].
    """
    known = rates_of([tuple(map(int, one.split("/"))) for one in RATS.split()])
    assert known.a @ known.weight == pytest.approx(2.4, abs=0.1)
    assert known.b @ known.weight == pytest.approx(14.3, abs=0.6)


def test_rates_of_groups_as_an_integral_of_its_own():
    """Four groups: the chance that the next of the first is faulty, by quadrature over mean and size.

    Source: scipy's dblquad, scipy developers 2025 [calc].
    """
    groups = [(3, 3), (0, 4), (1, 5), (0, 2)]

    def density(root, mean, next_one):
        a, b = mean * root**-2, (1 - mean) * root**-2
        seen = np.prod([betabinom(n, a, b).pmf(y) for y, n in groups])
        return seen * ((a + 3) / (a + b + 3) if next_one else 1.0)

    ends = (0, 1, 0.05, 2)
    expected = dblquad(density, *ends, args=(True,), epsrel=1e-4)[0] / dblquad(density, *ends, args=(False,))[0]
    known = rates_of(groups).after(3, 3)
    assert further_faulty(1, *known)[1] == pytest.approx(expected, abs=0.003)
