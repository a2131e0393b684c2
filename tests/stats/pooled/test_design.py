"""From lots to arrays, and what the model believes beforehand: nothing is lost, and nothing depends on order."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import expit
from scipy.stats import beta, genpareto, halfnorm, norm
from scipy.stats import t as student

from qcledger.stats.pooled.design import BLOCKS, PooledLot, arrange
from qcledger.stats.pooled.diagnostics import Health, pair_error, tail_index
from qcledger.stats.pooled.likelihoods import FARTHEST, logistic
from qcledger.stats.pooled.priors import NAMES, OWN, SMALLEST_SCALE, Priors, effect_prior, natural
from tests.stats.pooled.fields import grid, some

LOT = st.builds(
    lambda maker, format_, pigments, tested, faulty: PooledLot(
        maker=f"maker {maker}",
        format=("half pan", "tube")[format_],
        paint=(maker, pigments),
        pigments=tuple(f"P{one}" for one in sorted(pigments)),
        tested=tested,
        faulty=min(tested, faulty),
    ),
    st.integers(0, 3),
    st.integers(0, 1),
    st.frozensets(st.integers(0, 4), min_size=1, max_size=3),
    st.integers(1, 5),
    st.integers(0, 5),
)
LOTS = st.lists(LOT, min_size=1, max_size=25)


def told(field, row):
    """Return what a row of a field says, in the keys it was given with."""
    arm = field.arm_of_row[row]
    maker, format_ = field.cells[field.cell_of_arm[arm]]
    paint = field.paints[field.paint_of_arm[arm]]
    return field.makers[maker], field.formats[format_], paint, int(field.tested[row]), int(field.faulty[row])


@given(lots=LOTS)
def test_every_lot_is_in_its_row(lots):
    """The row of a lot says its maker, format, paint and counts; rows count their lots."""
    field = arrange(lots)
    for lot, row in zip(lots, field.row_of_lot, strict=True):
        assert told(field, row) == (lot.maker, lot.format, lot.paint, lot.tested, lot.faulty)
    assert np.bincount(field.row_of_lot).tolist() == field.lots.tolist()
    assert len({told(field, row) for row in range(len(field.lots))}) == len(field.lots)


@given(lots=LOTS)
def test_levels_are_sorted_by_the_next(lots):
    """Arms never fall along rows, nor paints along arms, nor makers along paints."""
    field = arrange(lots)
    for index in (field.arm_of_row, field.paint_of_arm, field.maker_of_paint):
        assert (np.diff(index) >= 0).all()
    assert (field.arm_of_row[field.arm_starts] == np.arange(len(field.paint_of_arm))).all()


@given(lots=LOTS, order=st.randoms(use_true_random=False))
def test_lots_come_in_any_order(lots, order):
    """The arrays are the same."""
    shuffled = list(lots)
    order.shuffle(shuffled)
    one, other = arrange(lots), arrange(shuffled)
    for name in ("makers", "formats", "paints", "pigments", "cells"):
        assert getattr(one, name) == getattr(other, name)
    for name in ("tested", "faulty", "lots", "arm_of_row", "paint_of_arm", "cell_of_arm"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))


@given(lots=LOTS)
def test_columns_say_once_each_what_an_arm_is(lots):
    """In each arm's columns stand 1 for level, format, maker and cell, and shares of pigments that add to 1."""
    field = arrange(lots)
    matrix = field.matrix.toarray()
    assert list(field.blocks) == list(BLOCKS)
    assert field.columns == matrix.shape[1]
    for name, block in field.blocks.items():
        np.testing.assert_allclose(matrix[:, block].sum(axis=1), 1.0)
        assert name == "c" or set(np.unique(matrix[:, block])) <= {0.0, 1.0}
    assert (matrix[:, field.blocks["a"]].argmax(axis=1) == field.maker_of_cell[field.cell_of_arm]).all()
    assert (matrix[:, field.blocks["b"]].argmax(axis=1) == field.format_of_cell[field.cell_of_arm]).all()


@given(lots=LOTS)
def test_the_fields_mix_is_that_of_its_specimens(lots):
    """Each specimen's pigments count alike; all together are 1."""
    field = arrange(lots)
    expected = dict.fromkeys(field.pigments, 0.0)
    for lot in lots:
        for pigment in lot.pigments:
            expected[pigment] += lot.tested / len(lot.pigments) / sum(one.tested for one in lots)
    np.testing.assert_allclose(field.pigment_shares, list(expected.values()))
    assert field.pigment_shares.sum() == pytest.approx(1.0)


@given(lots=LOTS)
def test_the_same_purchases_take_other_outcomes(lots):
    """With every specimen faulty, the field is that of such lots."""
    tested = np.array([lot.tested for lot in lots])
    other = arrange(lots).with_counts(tested, tested)
    assert (other.faulty == other.tested).all()
    assert (other.lots * other.tested).sum() == tested.sum()


@pytest.mark.parametrize("place", range(5))
def test_coordinates_are_those_of_the_priors(place):
    """A standard normal coordinate is the same quantile of half-normal scales and of the Beta of rho."""
    z = np.linspace(-3, 3, 13)
    given_z = np.zeros((len(z), 5))
    given_z[:, place] = z
    priors = Priors(scales=(1.0, 2.0, 0.5, 0.3), concentration=6.0)
    found = getattr(natural(given_z, priors), NAMES[place])
    share = norm.cdf(z)
    expected = beta(1, 6.0).ppf(share) if place == 4 else halfnorm(scale=priors.scales[place]).ppf(share)
    np.testing.assert_allclose(found, expected, rtol=1e-6, atol=2 * SMALLEST_SCALE)
    assert (np.diff(found) > 0).all()


def test_a_scale_never_reaches_nothing_and_rho_may_be_held():
    """Forty deviations down a scale still has an inverse square; a rho that is given is not learned."""
    theta = natural(np.full((3, 5), -40.0), Priors(rho=0.25))
    assert (theta.s_a >= SMALLEST_SCALE).all()
    assert (theta.rho == 0.25).all()
    assert theta.take(np.array([1])).stacked().shape == (5, 1)


@pytest.mark.parametrize("tails", [None, 4.0])
def test_effects_have_the_densities_they_are_said_to_have(tails):
    """Differences of log density are those of normals and, for makers and their formats, of Student's t."""
    field = arrange(some(3, makers=3, pigments=3))
    priors = Priors(tails=tails, own=(1,))
    theta = natural(np.array([[0.2, -0.5, 0.4, 0.0, 0.0]]), priors)
    prior = effect_prior(field, theta, priors, cuts=0)
    rng = np.random.default_rng(1)
    x, y = rng.normal(-1, 1.5, (2, field.columns, 1))
    scale = {"b0": priors.level[1], "b": priors.formats, "a": theta.s_a, "g": theta.s_g, "c": theta.s_c}
    expected = 0.0
    for name, block in field.blocks.items():
        spread = np.full(block.stop - block.start, scale[name], dtype=float)
        if name == "g":
            spread[1] = OWN
        kind = student(tails) if tails and name in ("a", "g") else norm
        centre = priors.level[0] if name == "b0" else 0.0
        for row, sign in ((x, 1), (y, -1)):
            expected += sign * kind.logpdf((row[block, 0] - centre) / spread).sum()
    found = prior.evaluate(x)[0] - prior.evaluate(y)[0]
    assert found[0] == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("tails", [None, 4.0])
def test_slopes_of_the_prior_are_its_derivatives(tails):
    """By central differences; the curvature given is never negative."""
    field = arrange(grid(2, 2, 2))
    prior = effect_prior(field, natural(np.zeros((1, 5)), Priors(tails=tails)), Priors(tails=tails), cuts=2)
    x = np.linspace(-2, 2, field.columns + 2)[:, None]
    _, slope, curvature = prior.evaluate(x)
    for place in range(len(x)):
        step = np.zeros_like(x)
        step[place] = 1e-5
        up, down = prior.evaluate(x + step)[0], prior.evaluate(x - step)[0]
        assert slope[place] == pytest.approx((up - down) / 2e-5, abs=1e-6)
    assert (curvature > 0).all()


def test_the_logistic_is_scipys_and_has_ends():
    """Far out it stays within 1e-15 of 0 and 1 and never reaches either."""
    eta = np.array([-1000.0, -FARTHEST, -1.5, 0.0, 2.0, FARTHEST])
    np.testing.assert_allclose(logistic(eta), expit(np.clip(eta, -FARTHEST, FARTHEST)), rtol=1e-12)
    assert logistic(eta)[0] > 0


def test_errors_of_means_come_from_pairs_of_chains():
    """Draws that are alike within a pair count once, however many there are."""
    rng = np.random.default_rng(6)
    pairs = rng.normal(size=40)
    draws, pair = np.repeat(pairs, 25)[None], np.repeat(np.arange(40), 25)
    order = rng.permutation(1000)
    expected = pairs.std(ddof=1) / 40**0.5
    assert pair_error(draws[:, order], pair[order]) == pytest.approx([expected])


@pytest.mark.parametrize("shape", [0.2, 0.5, 0.9])
def test_the_tail_of_weights_is_found(shape):
    """Weights from a generalised Pareto distribution have its shape, within the scatter of such fits."""
    weights = genpareto.rvs(shape, size=20_000, random_state=3)
    assert tail_index(np.log(weights)) == pytest.approx(shape, abs=0.2)


def test_tails_that_say_nothing():
    """Too few weights have no tail to speak of, equal ones none at all."""
    assert tail_index(np.zeros(20)) == float("inf")
    assert tail_index(np.zeros(400)) == float("-inf")


EVEN = np.zeros(400)
"""Logs of weights of which none stands out."""


def test_a_run_tells_the_tail_of_its_weights():
    """When it is asked for."""
    weights = np.log(genpareto.rvs(0.9, size=20_000, random_state=3))
    assert Health(100, 0.8, 0.3, 200.0, weights, 0.01, True).tail_index == tail_index(weights) > 0.7


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({}, None),
        ({"settled": False}, "mode"),
        ({"accepted": 0.4}, "40%"),
        ({"moved": 0.1}, "10%"),
        ({"design_size": 12.0}, "12 design points"),
        ({"worst_error": 0.031}, "0.031"),
    ],
)
def test_each_thing_that_went_badly_is_said_once(change, said):
    """And nothing where all is well."""
    well = {"draws": 100, "accepted": 0.8, "moved": 0.3, "design_size": 50.0, "log_weight": EVEN}
    health = Health(**(well | {"worst_error": 0.01, "settled": True} | change))
    assert [said in sentence for sentence in health.warnings] == ([] if said is None else [True])


@pytest.mark.parametrize(
    ("points", "told"), [(19.0, False), (20.0, True), (53.0, True), (149.0, True), (150.0, False)]
)
def test_a_poor_design_is_told(points, told):
    """Under 150 effective points the run says so, though it holds nothing back; under 20 that is a warning."""
    health = Health(100, 0.8, 0.3, points, EVEN, 0.01, True)
    assert bool(health.remarks) == told
    assert bool(health.warnings) == (points < 20)
    assert not told or f"{points:.0f} design points" in health.remarks[0]
