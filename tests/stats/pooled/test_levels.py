"""What the posterior says of formats, pigments, paints and lots: which of them is the worse, and how surely."""

import numpy as np
import pytest
from scipy.stats import beta

from qcledger.stats.pooled.design import arrange
from qcledger.stats.pooled.fit import fit
from qcledger.stats.pooled.summaries import above_others
from tests.stats.pooled.fields import QUICK, grid, lot


def test_above_others_counts_draws():
    """A rate is compared with the mean of the others in each draw; alone it has nothing to exceed."""
    rate = np.array([[0.5, 0.1, 0.5, 0.1], [0.1, 0.5, 0.2, 0.2], [0.1, 0.1, 0.9, 0.3]])
    assert above_others(rate).tolist() == [0.25, 0.25, 0.5]
    assert above_others(rate[:1]).tolist() == [0.5]


def test_a_hard_pigment_is_the_likeliest():
    """A pigment faulty at every maker lies above the mean of the others in nearly every draw, no other does."""
    found = fit(arrange(grid(6, 2, 5, faulty=lambda m, f, p: 2 if p == 3 else 0)), effort=QUICK)
    above = above_others(found.pigment_rate)
    assert above[found.field.pigments.index(3)] > 0.99
    assert max(np.delete(above, found.field.pigments.index(3))) < 0.5


def test_a_bad_lot_is_worse_than_its_paint():
    """A wholly faulty lot beside two sound ones of its paint exceeds its paint's rate; the sound ones do not."""
    lots = [*grid(5, 1, 5, 3), lot(tested=6), lot(tested=6), lot(tested=6, faulty=6)]
    found = fit(arrange(lots), effort=QUICK)
    above = found.lot_above()
    assert above[-1] > 0.95
    assert above[:-1].max() < 0.5


def test_the_chance_of_a_lot_is_that_of_its_beta():
    """Read between values of a table, the chances are those of the incomplete beta function, over the draws."""
    lots = [*grid(4, 2, 4, 2), lot(tested=9, faulty=4), lot(tested=40, faulty=1), lot(tested=6, faulty=6)]
    found = fit(arrange(lots), effort=QUICK)
    some = np.linspace(0, found.draws.x.shape[1] - 1, 400).astype(int)
    rate, rho = found.arm_rate[:, some][found.field.arm_of_row], found.theta.rho[some]
    one, other = rate * (1 - rho) / rho, (1 - rate) * (1 - rho) / rho
    sound = found.field.tested - found.field.faulty
    exact = beta.sf(rate, one + found.field.faulty[:, None], other + sound[:, None]).mean(axis=1)
    assert found.lot_above() == pytest.approx(exact[found.field.row_of_lot], abs=2e-5)


def test_a_paint_bad_in_every_lot_is_worse_than_its_maker_makes_it():
    """A paint faulty in five lots at a maker sound elsewhere has the likeliest effect of its own."""
    bad = [lot(maker=2, pigment=1, tested=3, faulty=3) for _ in range(5)]
    found = fit(arrange([*grid(5, 1, 5, 3), *grid(5, 1, 5, 3), *bad]), effort=QUICK)
    above = found.paint_above()
    paint = found.field.paints.index((2, 1))
    mine = above[found.field.paint_of_arm == paint]
    assert mine == pytest.approx(above.max())
    assert mine[0] > 0.8
