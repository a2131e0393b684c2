"""The engine: gradients, modes and draws against independent computations."""

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import betaln, expit
from scipy.stats import betabinom

from qcledger.errors import BadInput
from qcledger.stats.pooled.correct import ChainPlan, run_chains
from qcledger.stats.pooled.design import arrange
from qcledger.stats.pooled.diagnostics import ENOUGH_POINTS
from qcledger.stats.pooled.fit import Effort, fit
from qcledger.stats.pooled.hyper import More, explore
from qcledger.stats.pooled.likelihoods import beta_binomial, beta_binomials
from qcledger.stats.pooled.mode import find_modes, pose
from qcledger.stats.pooled.priors import Priors, natural
from tests.stats.pooled.fields import QUICK, grid, lot, some

NO_CUTS = np.zeros((0, 1))


def _start(field, size):
    return np.zeros((field.columns, size)), np.zeros((len(field.paints), size))


def test_likelihood_is_scipys_beta_binomial():
    """The log likelihood is scipy `betabinom` summed over lots, less the binomial coefficients."""
    lots = [*some(1), lot(0, 0, 0, tested=9, faulty=9), lot(1, 1, 2, tested=40, faulty=3)]
    field = arrange(lots)
    theta = natural(np.random.default_rng(0).normal(size=(3, 5)), Priors())
    eta = np.random.default_rng(1).normal(-1, 1, (len(field.paint_of_arm), 3))
    value, _, _ = beta_binomial(field).value_and_slope(eta, NO_CUTS, theta)
    for t in range(3):
        rate, strength = expit(eta[field.arm_of_row, t]), (1 - theta.rho[t]) / theta.rho[t]
        a, b = rate * strength, (1 - rate) * strength
        free = betabinom.logpmf(field.faulty, field.tested, a, b)
        choose = -betaln(field.tested - field.faulty + 1, field.faulty + 1) - np.log(field.tested + 1)
        assert value[t] == pytest.approx((field.lots * (free - choose)).sum(), rel=1e-9)


def test_slope_and_curvature_are_the_derivatives():
    """Slope and curvature agree with central differences of the value and slope."""
    field = arrange(some(2, rate=0.1))
    likelihood, theta = beta_binomial(field), natural(np.full((1, 5), 0.3), Priors())
    eta, step = np.full((len(field.paint_of_arm), 1), -1.5), 1e-5
    _, slope, _ = likelihood.value_and_slope(eta, NO_CUTS, theta)
    for arm in (0, 7, 31):
        nudge = np.zeros_like(eta)
        nudge[arm] = step
        up, down = (
            likelihood.value_and_slope(eta + nudge, NO_CUTS, theta),
            likelihood.value_and_slope(eta - nudge, NO_CUTS, theta),
        )
        assert slope[arm] == pytest.approx((up[0] - down[0]) / (2 * step), abs=1e-6)
        bend = -(up[1][arm] - down[1][arm]) / (2 * step)
        assert likelihood.curvature(eta, NO_CUTS, theta).weight[arm] == pytest.approx(max(bend[0], 0), abs=1e-5)


def test_many_outcomes_are_each_outcome_alone():
    """Outcomes side by side have the likelihood that each has in a field of its own."""
    field = arrange(some(3))
    faulty = np.random.default_rng(0).binomial(
        field.tested[field.row_of_lot][:, None], 0.3, (len(field.row_of_lot), 2)
    )
    theta, eta = natural(np.zeros((2, 5)), Priors()), np.full((len(field.paint_of_arm), 2), -1.0)
    together = beta_binomials(field, faulty).value_and_slope(eta, NO_CUTS, theta)[0]
    for t in range(2):
        alone = beta_binomial(field.with_counts(field.tested[field.row_of_lot], faulty[:, t]))
        one = natural(np.zeros((1, 5)), Priors())
        assert together[t] == pytest.approx(alone.value_and_slope(eta[:, :1], NO_CUTS, one)[0][0], rel=1e-12)


def test_mode_and_volume_are_those_of_a_dense_optimiser():
    """Newton with the eliminated block finds what scipy finds on the dense joint density, and its determinant."""
    lots = [*some(4, makers=3, pigments=3), lot(2, 0, "two", 4, 2, paint="mix")]
    lots[-1] = type(lots[-1])(maker=2, format=0, paint="mix", pigments=(0, 1), tested=4, faulty=2)
    field, priors = arrange(lots), Priors()
    theta = natural(np.array([[0.2, -0.4, 0.1, 0.6, -0.3]]), priors)
    problem = pose(field, beta_binomial(field), priors)
    modes = find_modes(problem, theta, *_start(field, 1))
    columns = field.columns
    wide = np.concatenate([modes.prior.precision[:, 0], np.full(len(field.paints), theta.s_d[0] ** -2.0)])
    centre = np.concatenate([modes.prior.centre[:, 0], np.zeros(len(field.paints))])
    full = np.hstack([field.matrix.toarray(), np.eye(len(field.paints))[field.paint_of_arm]])

    def minus_log(both):
        value, slope, _ = problem.likelihood.value_and_slope((full @ both)[:, None], NO_CUTS, theta)
        off = both - centre
        return -(value[0] - 0.5 * (wide * off**2).sum()), -(full.T @ slope[:, 0] - wide * off)

    found = minimize(minus_log, centre, jac=True, method="BFGS", options={"gtol": 1e-8, "maxiter": 2000})
    np.testing.assert_allclose(np.concatenate([modes.x[:, 0], modes.d[:, 0]]), found.x, atol=1e-4)
    hessian = full.T @ (modes.weight * full) + np.diag(wide)
    assert modes.log_volume[0] == pytest.approx(-0.5 * np.linalg.slogdet(hessian)[1], abs=1e-3)
    schur = hessian[:columns, :columns] - hessian[:columns, columns:] @ np.linalg.solve(
        hessian[columns:, columns:], hessian[columns:, :columns]
    )
    np.testing.assert_allclose(modes.root[0].T @ modes.root[0], np.linalg.inv(schur), atol=1e-8)


def test_same_seed_same_numbers_and_order_does_not_matter():
    """The same lots in any order give the same numbers to the last bit; another seed gives others."""
    lots = some(5)
    one, two = fit(arrange(lots), seed=3, effort=QUICK), fit(arrange(lots[::-1]), seed=3, effort=QUICK)
    np.testing.assert_array_equal(one.cell_rate, two.cell_rate)
    assert not np.array_equal(one.cell_rate, fit(arrange(lots), seed=4, effort=QUICK).cell_rate)


def test_chains_keep_the_exact_posterior_when_the_approximation_is_poor():
    """With the volumes of the approximation falsified, draws still have the same mean: only acceptance suffers."""
    from dataclasses import replace

    field = arrange(some(6))
    problem = pose(field, beta_binomial(field), Priors())
    design = explore(problem, 64, 1)
    skewed = replace(design.modes, d=design.modes.d + 0.3, x=design.modes.x + 0.1)
    plan = ChainPlan(chains=400, kept=20, dropped=10)
    true = run_chains(problem, design, plan, 1)
    wrong = run_chains(problem, replace(design, modes=skewed), plan, 2)
    assert wrong.accepted < true.accepted
    np.testing.assert_allclose(wrong.x.mean(axis=1), true.x.mean(axis=1), atol=0.08)
    np.testing.assert_allclose(wrong.x.std(axis=1), true.x.std(axis=1), rtol=0.12)


EDGES = {
    "no faults": grid(4, 2, 4),
    "all faults": grid(4, 2, 4, faulty=lambda *_: 2),
    "one maker": some(7, makers=1),
    "one format": some(8, formats=1),
    "one pigment": some(9, pigments=1),
    "one lot": [lot(tested=6, faulty=6)],
    "0 of 1": [lot(tested=1, faulty=0)],
    "1 of 1": [lot(tested=1, faulty=1)],
    "a maker with one specimen": [*some(10), lot("new", 0, 0, 1, 1)],
    "one huge lot": [*some(11), lot("big", 0, 1, 300, 299)],
}


@pytest.mark.parametrize("name", EDGES)
def test_edges_give_numbers_that_are_numbers(name):
    """Whatever was bought, every figure is finite, every mode found, every rate between 0 and 1."""
    found = fit(arrange(EDGES[name]), seed=1, effort=QUICK)
    assert found.health.settled
    assert found.health.accepted > 0.5
    for values in (found.cell_rate, found.maker_rate, found.format_rate, found.pigment_rate, found.arm_rate):
        assert np.isfinite(values).all()
        assert ((values >= 0) & (values <= 1)).all()
    mean, sd = found.lot_rate()
    assert np.isfinite(mean).all()
    assert np.isfinite(sd).all()
    assert np.isfinite(found.probability("cell", 0.1)).all()


@pytest.mark.parametrize(
    ("makers", "pigments"), [(12, 20), pytest.param(60, 100, marks=pytest.mark.calibration)], ids=["wide", "widest"]
)
def test_wide_field(makers, pigments):
    """Five formats of so many makers and pigments go through, with every mode found; the widest is run by hand."""
    field = arrange(some(12, makers, 5, pigments, 0.08))
    found = fit(field, seed=1, effort=Effort(points=64, plan=ChainPlan(16, 2, 1)))
    assert found.health.settled
    assert np.isfinite(found.cell_rate).all()


@pytest.mark.parametrize(
    ("lots", "named"),
    [
        ([], "lots"),
        ([lot(tested=0)], "lot of paint"),
        ([lot(tested=1, faulty=2)], "lot of paint"),
        ([lot(maker=0, paint="x"), lot(maker=1, paint="x")], "paint x"),
    ],
)
def test_lots_that_make_no_sense_are_refused(lots, named):
    """What cannot be a field is refused in one line that names it."""
    with pytest.raises(BadInput, match=f"^{named}"):
        arrange(lots)


def test_points_are_added_where_too_few_carry_the_scales():
    """A design whose effective points are too few takes as many again, and all of them together stand for theta."""
    problem = pose(field := arrange(some(3)), beta_binomial(field), Priors())
    plain, more = explore(problem, 64, 0), explore(problem, 64, 0, More(enough=1e9, times=2))
    assert (len(plain.z), len(more.z)) == (64, 192)
    assert more.effective_size > plain.effective_size
    assert np.array_equal(more.z[:64], plain.z)
    assert len(explore(problem, 64, 0, More(enough=1.0, times=2)).z) == 64
    assert np.exp(more.log_weight).sum() == pytest.approx(1)
    assert np.allclose(np.exp(more.log_weight) @ more.z, np.exp(plain.log_weight) @ plain.z, atol=0.25)


def test_points_are_added_as_far_as_there_is_room():
    """A field of many columns has no room for more points, a small one for as many again three times."""
    assert Effort().more_for(50) == More(ENOUGH_POINTS, 3)
    assert Effort().more_for(400).times == 0
