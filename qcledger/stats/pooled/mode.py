"""The joint mode of all effects at given theta, for many values of theta at once.

The Hessian over (field columns, paints) has a diagonal paint block, which is eliminated by its Schur complement; what
is left to factor is as wide as the field columns, whatever the number of paints and lots.
"""

from dataclasses import dataclass, replace
from typing import Any, cast

import numpy as np
from scipy import sparse
from scipy.linalg import lapack

from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.design import PooledField
from qcledger.stats.pooled.likelihoods import BetaBinomial, Curvature, Likelihood
from qcledger.stats.pooled.priors import EffectPrior, Priors, Theta, effect_prior

MOST_STEPS = 60
CLOSE = 1e-7
"""Newton stops when the gain in log density that its next step promises falls below this, unless told otherwise."""


@dataclass(frozen=True)
class ModeProblem:
    """A field with its likelihood and the sparse sums that the mode needs; A arms, K paints, G field columns.

    Parameters
    ----------
    field, likelihood, priors
        The model.
    matrix, transposed
        Field columns per arm, sparse (A, G + J), and its transpose; the columns of the J cut points are empty.
    cuts
        Columns of the cut points.
    to_paint
        Sums over the arms of a paint, sparse (K, A).
    pair_a, pair_b
        Pairs of arms of one paint, a >= b, shape (Q,).
    outer
        For each pair the lower triangle of x_a x_b' + x_b x_a' (once if a = b), sparse ((G + J)^2, Q).
    """

    field: PooledField
    likelihood: Likelihood
    priors: Priors
    matrix: Any
    transposed: Any
    cuts: slice
    to_paint: Any
    pair_a: Any
    pair_b: Any
    outer: Any

    @property
    def start(self) -> FloatArray:
        """Field columns and cut points where a search may start, shape (G + J,)."""
        x = np.zeros(self.matrix.shape[1])
        x[self.field.blocks["b0"]] = self.priors.level[0]
        x[self.cuts] = self.likelihood.start
        return x


def pose(field: PooledField, likelihood: Likelihood, priors: Priors) -> ModeProblem:
    """Return the problem of finding modes for `field`."""
    arms, columns = np.arange(len(field.paint_of_arm)), field.columns + len(likelihood.start)
    bare = field.matrix
    matrix = sparse.csr_array((bare.data, bare.indices, bare.indptr), shape=(len(arms), columns))
    size = np.diff(np.append(field.paint_starts, len(arms)))
    # Arms of a paint stand together: each pairs with itself and with those before it.
    before = arms - field.paint_starts[field.paint_of_arm]
    pair_a = np.repeat(arms, before + 1)
    offset = np.arange(len(pair_a)) - np.repeat(np.cumsum(before + 1) - (before + 1), before + 1)
    pair_b = field.paint_starts[field.paint_of_arm[pair_a]] + offset
    assert len(pair_a) == (size * (size + 1) // 2).sum()
    return ModeProblem(
        field=field,
        likelihood=likelihood,
        priors=priors,
        matrix=matrix,
        transposed=matrix.T.tocsr(),
        cuts=slice(field.columns, columns),
        to_paint=sparse.csr_array(
            (np.ones(len(arms)), (field.paint_of_arm, arms)), shape=(len(field.paints), len(arms))
        ),
        pair_a=pair_a,
        pair_b=pair_b,
        outer=_outer(matrix, pair_a, pair_b),
    )


def _outer(matrix: Any, pair_a: Any, pair_b: Any) -> Any:
    columns, count = matrix.shape[1], np.diff(matrix.indptr)
    left, right = count[pair_a], count[pair_b]
    pair = np.repeat(np.arange(len(pair_a)), left * right)
    inside = np.arange(len(pair)) - np.repeat(np.cumsum(left * right) - left * right, left * right)
    i = matrix.indptr[pair_a][pair] + inside // right[pair]
    j = matrix.indptr[pair_b][pair] + inside % right[pair]
    row, column = matrix.indices[i], matrix.indices[j]
    value = matrix.data[i] * matrix.data[j]
    # x_a x_b' + x_b x_a' in the lower triangle: off the diagonal of pairs, entries above fold below, and those on the
    # matrix's diagonal count twice; a pair of one arm with itself keeps its lower triangle.
    same = (pair_a == pair_b)[pair]
    keep = ~same | (row >= column)
    value = np.where(~same & (row == column), 2 * value, value)
    place = np.maximum(row, column) * columns + np.minimum(row, column)
    return sparse.csr_array((value[keep], (place[keep], pair[keep])), shape=(columns**2, len(pair_a)))


@dataclass(frozen=True)
class Modes:
    """Modes at T values of theta with the factors of their curvature.

    Parameters
    ----------
    theta, prior
        Where.
    x, d
        Field columns and cut points (G + J, T) and paint effects (K, T) at the mode.
    weight
        Curvature of the likelihood per arm (A, T).
    stiff
        Diagonal of the paint block (K, T).
    cross
        Curvature in paint effect and cut point (J, K, T).
    root
        Inverse of the lower Cholesky factor of the Schur complement, shape (T, G + J, G + J).
    log_joint
        Log of likelihood times priors at the mode (T,).
    log_volume
        Minus half the log determinant of the Hessian (T,).
    settled
        Whether Newton converged (T,).
    """

    theta: Theta
    prior: EffectPrior
    x: FloatArray
    d: FloatArray
    weight: FloatArray
    stiff: FloatArray
    cross: FloatArray
    root: FloatArray
    log_joint: FloatArray
    log_volume: FloatArray
    settled: Any

    @property
    def log_marginal(self) -> FloatArray:
        """Laplace approximation of log p(y | theta), up to a constant (T,)."""
        return self.log_joint + self.log_volume


def linear_predictor(problem: ModeProblem, x: FloatArray, d: FloatArray) -> FloatArray:
    """Return the linear predictor of each arm, shape (A, T)."""
    return np.asarray(problem.matrix @ x + d.take(problem.field.paint_of_arm, axis=0))


def log_joint(
    problem: ModeProblem, prior: EffectPrior, theta: Theta, x: FloatArray, d: FloatArray, eta: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return the log joint density (T,), its slope in the arms (A, T), columns (G, T) and paints (K, T).

    The slopes in field columns and paints are those of the prior alone.
    """
    value, slope, slope_cuts = problem.likelihood.value_and_slope(eta, x[problem.cuts], theta)
    part, slope_x, _ = prior.evaluate(x)
    slope_x[problem.cuts] += slope_cuts
    slope_d = d / -(theta.s_d**2)
    value = value + part + 0.5 * (d * slope_d).sum(axis=0) - len(d) * np.log(theta.s_d)
    return value, slope, slope_x, slope_d


def find_modes(problem: ModeProblem, theta: Theta, x: FloatArray, d: FloatArray, close: float = CLOSE) -> Modes:
    """Return the modes at each value of `theta`, by damped Newton from `x` (G, T) and `d` (K, T)."""
    prior = effect_prior(problem.field, theta, problem.priors, len(problem.likelihood.start))
    x, d = np.array(x), np.array(d)
    eta = linear_predictor(problem, x, d)
    value, slope, slope_x, slope_d = log_joint(problem, prior, theta, x, d, eta)
    for _ in range(MOST_STEPS):
        weight, stiff, cross, factor, volume = _curve(problem, prior, theta, x, eta)
        step_x, step_d, gain = _newton_step(problem, (weight, stiff, cross, factor), slope, slope_x, slope_d)
        if (gain < close).all():
            break
        x, d, eta, value, slope, slope_x, slope_d = _advance(problem, prior, theta, (x, d, value), (step_x, step_d))
    root = np.stack([lapack.dtrtri(one, lower=1)[0] for one in factor])
    return Modes(theta, prior, x, d, weight, stiff, cross, root, value, volume, gain < close)


def find_each(problem: ModeProblem, theta: Theta, close: float) -> tuple[FloatArray, FloatArray]:
    """Return what `find_modes` finds from the start of the problem, each outcome left as soon as its mode is found.

    So an outcome has the same numbers alone as among others, and is not taken further because another one is slow.

    Parameters
    ----------
    problem
        With a likelihood of T outcomes.
    theta
        One value for each, (T,).
    close
        Gain below which a mode is found.

    Returns
    -------
    x, root
        As in `Modes`, (G, T) and (T, G, G).
    """
    likelihood, left = cast("BetaBinomial", problem.likelihood), np.arange(len(theta.rho))
    prior = effect_prior(problem.field, theta, problem.priors, 0)
    x, d = np.repeat(problem.start[:, None], len(left), axis=1), np.zeros((len(problem.field.paints), len(left)))
    found, root = np.empty_like(x), np.empty((len(left), len(x), len(x)))
    eta = linear_predictor(problem, x, d)
    value, slope, slope_x, slope_d = log_joint(problem, prior, theta, x, d, eta)
    for number in range(MOST_STEPS):
        *curved, _ = _curve(problem, prior, theta, x, eta)
        step_x, step_d, gain = _newton_step(problem, curved, slope, slope_x, slope_d)
        done = (gain < close) | (number == MOST_STEPS - 1)
        found[:, left[done]] = x[:, done]
        for place in np.flatnonzero(done):
            root[left[place]] = lapack.dtrtri(curved[3][place], lower=1)[0]
        if done.all():
            break
        on = np.flatnonzero(~done)
        left, theta, prior, likelihood = left[on], theta.take(on), prior.take(on), likelihood.take(on)
        problem = replace(problem, likelihood=likelihood)
        here, step = (x[:, on], d[:, on], value[on]), (step_x[:, on], step_d[:, on])
        x, d, eta, value, slope, slope_x, slope_d = _advance(problem, prior, theta, here, step)
    return found, root


def _advance(problem: ModeProblem, prior: EffectPrior, theta: Theta, at: Any, step: Any) -> Any:
    """Go as far along `step` as the density rises, halving where it falls."""
    x, d, value = at
    length = np.ones_like(value)
    for _ in range(30):
        new_x, new_d = x + length * step[0], d + length * step[1]
        eta = linear_predictor(problem, new_x, new_d)
        found = log_joint(problem, prior, theta, new_x, new_d, eta)
        worse = ~(found[0] >= value - 1e-9)
        if not worse.any():
            break
        length = np.where(worse, length / 2, length)
    return new_x, new_d, eta, *found


def _curve(problem: ModeProblem, prior: EffectPrior, theta: Theta, x: FloatArray, eta: FloatArray) -> Any:
    """Return arm weights, paint diagonal, paint by cut point, lower factor of the Schur complement, log volume."""
    bent = problem.likelihood.curvature(eta, x[problem.cuts], theta)
    weight = bent.weight
    stiff = problem.to_paint @ weight + theta.s_d**-2.0
    cross = (
        np.stack([problem.to_paint @ one for one in bent.cross]) if len(bent.cross) else bent.cross[:, : len(stiff)]
    )
    a, b = problem.pair_a, problem.pair_b
    pairs = weight.take(a, axis=0) * weight.take(b, axis=0)
    pairs /= -stiff.take(problem.field.paint_of_arm[a], axis=0)
    pairs[a == b] += weight
    columns, size = x.shape
    schur = (problem.outer @ pairs).T.reshape(size, columns, columns)
    diagonal = np.arange(columns)
    schur[:, diagonal, diagonal] += prior.evaluate(x)[2].T
    _add_cuts(problem, schur, bent, cross, stiff)
    factor = _factored(schur, problem.cuts, cross)
    volume = -0.5 * np.log(stiff).sum(axis=0) - np.log(factor[:, diagonal, diagonal]).sum(axis=1)
    return weight, stiff, cross, factor, volume


def _factored(schur: FloatArray, cuts: slice, cross: FloatArray) -> FloatArray:
    """Return the lower Cholesky factors; where one fails, cut points are uncoupled there, in `cross` too.

    Without cut points none can fail: weights are not negative and the prior's precision is on the diagonal. With
    them, curvature far from the mode may not be positive; any positive one serves to step and to propose.
    """
    try:
        return np.asarray(np.linalg.cholesky(schur), dtype=np.float64)
    except np.linalg.LinAlgError:
        lowest = np.linalg.eigvalsh(schur)[:, 0]
    for t in np.flatnonzero(lowest < 1e-8):
        own = np.maximum(np.diagonal(schur[t, cuts, cuts]), 1.0)
        schur[t, cuts, :] = 0.0
        schur[t, cuts, cuts] = np.diag(own)
        cross[:, :, t] = 0.0
    return np.asarray(np.linalg.cholesky(schur), dtype=np.float64)


def _add_cuts(problem: ModeProblem, schur: FloatArray, bent: Curvature, cross: FloatArray, stiff: FloatArray) -> None:
    """Add the rows of the cut points to the lower triangles `schur`."""
    for j in range(len(cross)):
        pull = (cross[j] / stiff).take(problem.field.paint_of_arm, axis=0)
        schur[:, problem.cuts.start + j, :] += (problem.transposed @ (bent.cross[j] - bent.weight * pull)).T
    own = bent.own - np.einsum("ikt,jkt->ijt", cross, cross / stiff)
    schur[:, problem.cuts, problem.cuts] += own.transpose(2, 0, 1)


def pulled(problem: ModeProblem, weight: FloatArray, cross: FloatArray, step_x: FloatArray) -> FloatArray:
    """Return how a step in columns and cut points pulls at each paint, shape (K, T)."""
    through_arms = problem.to_paint @ (weight * (problem.matrix @ step_x))
    return np.asarray(through_arms + np.einsum("jkt,jt->kt", cross, step_x[problem.cuts]))


def without_paints(
    problem: ModeProblem,
    weight: FloatArray,
    cross: FloatArray,
    slopes: tuple[FloatArray, FloatArray],
    push: FloatArray,
) -> FloatArray:
    """Return the slope in columns and cut points (G + J, T) once paints have followed by `push` (K, T)."""
    slope, slope_x = slopes
    right = problem.transposed @ (slope - weight * push.take(problem.field.paint_of_arm, axis=0)) + slope_x
    right[problem.cuts] -= np.einsum("jkt,kt->jt", cross, push)
    return np.asarray(right)


def _newton_step(
    problem: ModeProblem, curved: Any, slope: FloatArray, slope_x: FloatArray, slope_d: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the Newton step in columns and paints and the gain it promises (T,)."""
    weight, stiff, cross, factor = curved
    full_d = problem.to_paint @ slope + slope_d
    right = without_paints(problem, weight, cross, (slope, slope_x), full_d / stiff)
    step_x = np.stack(
        [lapack.dpotrs(one, side, lower=1)[0] for one, side in zip(factor, right.T, strict=True)], axis=1
    )
    step_d = (full_d - pulled(problem, weight, cross, step_x)) / stiff
    return step_x, step_d, 0.5 * ((right * step_x).sum(axis=0) + (full_d**2 / stiff).sum(axis=0))


def take_modes(modes: Modes, which: Any) -> Modes:
    """Return the modes at the places `which` along theta."""
    names = ("x", "d", "weight", "stiff", "cross", "log_joint", "log_volume", "settled")
    along = {name: getattr(modes, name).take(which, axis=-1) for name in names}
    root = modes.root.take(which, axis=0)
    return replace(modes, theta=modes.theta.take(which), prior=modes.prior.take(which), root=root, **along)


def join_modes(first: Modes, second: Modes) -> Modes:
    """Return the modes of both, one after the other."""
    names = ("x", "d", "weight", "stiff", "cross", "log_joint", "log_volume", "settled")
    along = {name: np.concatenate([getattr(first, name), getattr(second, name)], axis=-1) for name in names}
    theta = Theta(*np.concatenate([first.theta.stacked(), second.theta.stacked()], axis=1))
    precision = np.concatenate([first.prior.precision, second.prior.precision], axis=1)
    root = np.concatenate([first.root, second.root])
    return replace(first, theta=theta, prior=replace(first.prior, precision=precision), root=root, **along)
