"""The Dirichlet-multinomial predictive against published numbers and a reference library.

Source tags: [pkg] printed in an installed package's help; [calc] no published number, exact fractions by hand;
[mem] remembered from the publication, which was not open.
"""

from fractions import Fraction
from math import factorial, log, log2, prod

import numpy as np
import pytest
from scipy.stats import dirichlet_multinomial

from qcledger.stats.predictive import log2_sequence


def orders(counts):
    """Return in how many orders such a count can come."""
    return factorial(sum(counts)) // prod(map(factorial, counts))


def test_example_of_scipy_help():
    """Counts (1, 2, 3) under (3, 4, 5): 0.08484162895927604, in the help of scipy.stats.dirichlet_multinomial [pkg].

    It is 75/884 [calc]; as one of its 60 orders 9.465974 bits.

    Source: help of scipy.stats.dirichlet_multinomial, Virtanen et al. 2020 [pkg].
    """
    mine = 2 ** log2_sequence([1, 2, 3], [3, 4, 5])
    assert 60 * mine == pytest.approx(0.08484162895927604, rel=1e-12)
    assert 60 * mine == pytest.approx(float(Fraction(75, 884)), rel=1e-12)
    assert -log2(mine) == pytest.approx(9.465974, abs=5e-7)


def test_flat_weights_make_all_splits_alike():
    """Under (1, 1, 1) each of the ten splits of three has 1/10 (Laplace's rule; Polya's urn) [calc].

    Source: Laplace 1774, Mem Acad R Sci 6:621-656, for more than two kinds [calc].
    """
    for split in [(3, 0, 0), (2, 1, 0), (1, 1, 1), (0, 1, 2)]:
        assert orders(split) * 2 ** log2_sequence(split, [1, 1, 1]) == pytest.approx(1 / 10)


def test_two_classes_are_the_beta_binomial():
    """4 of 14 under Beta(2, 14): 77/1044 [calc], the beta-binomial of Skellam 1948 [mem].

    Source: Skellam 1948, J R Stat Soc B 10:257-261 [mem]; the fraction [calc].
    """
    assert 1001 * 2 ** log2_sequence([4, 10], [2, 14]) == pytest.approx(77 / 1044)


@pytest.mark.parametrize("seed", range(20))
def test_agrees_with_scipy(seed):
    """Any counts and weights: the same as scipy's dirichlet_multinomial, its orders aside.

    Source: scipy.stats.dirichlet_multinomial, Virtanen et al. 2020 [pkg].
    """
    rng = np.random.default_rng(seed)
    weights, counts = rng.uniform(0.02, 9, 11), rng.integers(0, 5, 11)
    theirs = dirichlet_multinomial.logpmf(counts, weights, counts.sum())
    ways = log(orders(counts.tolist()))
    assert log2_sequence(counts, weights) * log(2) == pytest.approx(theirs - ways, abs=1e-9)
