"""The fair-field check by grades: its scores are the model's, it finds who differs and spares who does not."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qcledger.errors import BadInput
from qcledger.stats.pooled.fair_field import AccusedUnit, units_of
from qcledger.stats.pooled.graded_check import _FairGrades, _one_by_one, _statistic, check_grades
from qcledger.stats.pooled.grades import GradedLot, arrange_graded
from qcledger.stats.pooled.priors import Theta

CUTS = np.array([-0.4, 1.0, 2.4, 3.3, 4.5])


def _lots(seed, shift, makers=8, pigments=8, size=2):
    """Return graded lots, all grades occurring; maker 2's format 1 is `shift` worse on the latent scale."""
    rng, found = np.random.default_rng(seed), []
    for m in range(makers):
        for p in range(pigments):
            for f in range(2):
                eta = shift * (m == 2 and f == 1) + 0.5 * rng.normal()
                grades = tuple(float((eta + rng.logistic() > CUTS).sum()) for _ in range(size))
                found.append(GradedLot(maker=m, format=f, paint=(m, p), pigments=(p,), grades=grades))
    return found


def _fair(field, rho=0.0, s_d=0.3):
    x = np.zeros((field.columns, 3))
    x[field.blocks["c"]] = np.linspace(-1, 1, len(field.pigments))[:, None]
    some = [np.full(3, one) for one in (0.001, 0.001, 0.7, s_d, rho)]
    return _FairGrades(x, np.repeat(CUTS[:, None], 3, axis=1), Theta(*some))


def test_scores_are_the_slopes_of_the_likelihood():
    """Summed over an arm, score = (value - eta) x information is the slope that the engine's likelihood has."""
    lots = _lots(1, 0.0)
    field, likelihood = arrange_graded(lots)
    fair, specimens = _fair(field), _one_by_one(field, lots, likelihood)
    _, values = _statistic(field, specimens, fair)
    eta = field.matrix @ fair.x[:, 0]
    edges = 1 / (1 + np.exp(-np.array([[-99, *CUTS, 99]]) + eta[:, None]))
    score = values - eta[:, None]
    information = 1 / (np.diff(edges) * score**2).sum(axis=1)
    summed = np.bincount(specimens.arm, (score * information[:, None])[specimens.arm, specimens.category])
    slope = likelihood.value_and_slope(eta[:, None], CUTS[:, None], Theta(*[np.zeros(1)] * 5))[1][:, 0]
    np.testing.assert_allclose(summed, slope, atol=1e-6)


@settings(deadline=None, max_examples=10)
@given(st.floats(0.0, 0.6), st.floats(0.1, 0.8))
def test_a_shift_of_all_grades_of_everybody_accuses_nobody(rho, s_d):
    """The statistic answers to differences: adding a constant to all values moves the strongest by little."""
    lots = _lots(2, 0.0)
    field, likelihood = arrange_graded(lots)
    specimens = _one_by_one(field, lots, likelihood)
    weights, _ = _statistic(field, specimens, _fair(field, rho, s_d))
    assert np.abs(weights.sum(axis=1)).max() < 0.15 * np.abs(weights).sum(axis=1).max()


def test_the_guilty_cell_is_found_and_others_are_not():
    """A format of a maker two units worse on the latent scale passes; its innocent neighbour does not."""
    lots = _lots(3, 2.5)
    field, _ = arrange_graded(lots)
    guilty, other = AccusedUnit("cell", field.cells.index((2, 1))), AccusedUnit("cell", 0)
    found = check_grades(lots, [other, guilty], seed=1)
    assert [verdict.unit for verdict in found] == [guilty, other]
    assert found[0].p_value <= 0.005
    assert found[1].p_value > 0.05


def test_an_even_field_passes_nobody_and_repeats_itself():
    """Among equals the strongest of all is as strong as in most fair fields; the same seed gives the same answer."""
    lots = _lots(4, 0.0)
    everybody = units_of(arrange_graded(lots)[0])
    found = check_grades(lots, everybody, seed=2)
    assert found[0].p_value > 0.02
    assert found == check_grades(lots, everybody, seed=2)
    assert check_grades(lots, everybody, stop=lambda: True) == ()


def test_a_suspect_that_is_not_there_is_refused():
    """A maker the field does not hold is named in the refusal."""
    with pytest.raises(BadInput, match="suspect maker"):
        check_grades(_lots(5, 0.0), [AccusedUnit("maker", 99)])
