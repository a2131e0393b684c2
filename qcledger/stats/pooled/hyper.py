"""Exploring theta: its mode and curvature under the Laplace approximation, then a quasi-random design around them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp, ndtri
from scipy.stats import qmc

from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.mode import ModeProblem, Modes, find_modes, join_modes
from qcledger.stats.pooled.priors import natural

WIDEST, REACH = 0.25, 0.7
"""Steps of the difference quotients: in prior standard deviations to begin with, then in posterior ones, whichever is
shorter: wide enough to smooth a guarded curvature, narrow enough for large ledgers."""
MOST_CLIMBS, NEAR = 15, 0.3
"""Newton in theta stops after so many steps, or when a step is shorter than this many posterior deviations."""
FARTHEST_STEP = 1.5
"""Longest step in theta, in prior standard deviations."""
ROUGH = 1e-3
"""Modes are found to this gain in log density; the draws correct what is left."""
LEAST_CURVATURE = 0.5
"""Floor for the curvature of log p(theta | y); the prior alone has 1."""
SPREADS, SHARES = (1.1, 1.8), (0.75, 0.25)
"""A cloud of points: three quarters a little wider than the approximation, a quarter much wider."""
PAIRS = tuple((i, j) for i in range(5) for j in range(i))
"""Pairs of axes of theta."""
PILOT = 3
"""The first of so many parts of the design follows the mode; the rest follow what the first part found."""


@dataclass(frozen=True)
class _Cloud:
    """A distribution of theta: `axes` (5, 5) from `centre`, each stretched by `low` or `high` on its two sides."""

    centre: FloatArray
    axes: FloatArray
    low: FloatArray
    high: FloatArray

    def points(self, size: int, rng: np.random.Generator) -> FloatArray:
        """Return quasi-random points (size, 5)."""
        # Sobol points are balanced in powers of 2; of the next power the first `size` are taken.
        uniform = qmc.Sobol(6, scramble=True, rng=rng).random_base2((size - 1).bit_length())[:size]
        normal = ndtri(np.clip(uniform[:, :5], 1e-12, 1 - 1e-12))
        scaled = normal * np.where(uniform[:, 5] < SHARES[0], *SPREADS)[:, None]
        return np.asarray(self.centre + (scaled * np.where(scaled < 0, self.low, self.high)) @ self.axes.T)

    def log_density(self, z: FloatArray) -> FloatArray:
        """Return the log density at `z` (T, 5), up to a constant that all clouds share."""
        along = np.linalg.solve(self.axes, (z - self.centre).T).T
        # The two halves of a split normal each hold half the chance, whatever their widths.
        stretch = np.where(along < 0, self.low, self.high)
        square = ((along / stretch) ** 2).sum(axis=1)
        parts = [
            np.log(share) - 0.5 * square / wide**2 - 5 * np.log(wide)
            for share, wide in zip(SHARES, SPREADS, strict=True)
        ]
        volume = np.log(stretch).sum(axis=1) + np.linalg.slogdet(self.axes)[1]
        return np.asarray(logsumexp(parts, axis=0) - volume)


@dataclass(frozen=True)
class Design:
    """T values of theta that stand for its posterior.

    Parameters
    ----------
    z
        Standard normal coordinates (T, 5).
    modes
        Modes at each value.
    log_prior_ratio
        Log of prior density over design density (T,).
    """

    z: FloatArray
    modes: Modes
    log_prior_ratio: FloatArray

    @property
    def log_weight(self) -> FloatArray:
        """Log importance weights under the Laplace approximation, normalised (T,)."""
        found = self.modes.log_marginal + self.log_prior_ratio
        return np.asarray(found - logsumexp(found))

    @property
    def effective_size(self) -> float:
        """Kish's effective number of design points."""
        return float(np.exp(-logsumexp(2 * self.log_weight)))


@dataclass(frozen=True)
class More:
    """When a design is not enough, and how often as many points again may be added to it.

    Parameters
    ----------
    enough
        Effective number of points that is asked for; 0 or more.
    times
        Most times that points are added; 0 or more.
    """

    enough: float = 0.0
    times: int = 0


def explore(problem: ModeProblem, size: int, seed: int, more: More | None = None) -> Design:
    """Return a design of `size` values of theta for `problem`, or of more where these are not enough.

    The same seed gives the same design.
    """
    rng = np.random.default_rng(seed)
    centre, axes, path = _mode_of_theta(problem)
    first = _stretched(problem, centre, axes, path)
    pilot = first.points(size // PILOT, rng)
    found = path.modes(problem, pilot)
    weight = found.log_marginal - 0.5 * (pilot**2).sum(axis=1) - first.log_density(pilot)
    second = _matched(pilot, np.exp(weight - logsumexp(weight)), axes)
    rest = second.points(size - len(pilot), rng)
    parts = [(first, pilot), (second, rest)]
    design = _mixed(parts, join_modes(found, path.modes(problem, rest)))
    more = more or More()
    for _ in range(more.times):
        if design.effective_size >= more.enough:
            break
        cloud = _matched(design.z, np.exp(design.log_weight), axes)
        points = cloud.points(size, rng)
        parts.append((cloud, points))
        design = _mixed(parts, join_modes(design.modes, path.modes(problem, points)))
    return design


def _mixed(parts: Sequence[tuple[_Cloud, FloatArray]], modes: Modes) -> Design:
    """Return the design of points from several clouds.

    All points count as drawn from the mixture of the clouds, in proportion (Owen & Zhou 2000, J Am Stat Assoc
    95:135-143), so a region any of them reaches is never given too much weight.
    """
    z = np.concatenate([part for _, part in parts])
    clouds = [np.log(len(part) / len(z)) + cloud.log_density(z) for cloud, part in parts]
    return Design(z, modes, -0.5 * (z**2).sum(axis=1) - np.asarray(logsumexp(clouds, axis=0)))


def _matched(z: FloatArray, weight: FloatArray, axes: FloatArray) -> _Cloud:
    """Return the cloud with the mean and covariance of weighted points, kept from collapse by a tenth of `axes`."""
    centre = weight @ z
    covariance = (z - centre).T @ ((z - centre) * weight[:, None]) + 0.1 * axes @ axes.T
    one = np.ones(5)
    return _Cloud(centre, np.asarray(np.linalg.cholesky(covariance), dtype=np.float64), one, one)


@dataclass(frozen=True)
class _Path:
    """How the mode moves with theta, to first order: effects at `z` and their slopes in it (size, 5)."""

    z: FloatArray
    x: FloatArray
    d: FloatArray
    slope_x: FloatArray
    slope_d: FloatArray

    def modes(self, problem: ModeProblem, z: FloatArray) -> Modes:
        away = (z - self.z).T
        x, d = self.x[:, None] + self.slope_x @ away, self.d[:, None] + self.slope_d @ away
        # Cut points must not meet on the way; they start from where they are.
        x[problem.cuts] = self.x[problem.cuts, None]
        return find_modes(problem, natural(z, problem.priors), x, d, ROUGH)


def _path(around: Modes, z: FloatArray, axes: FloatArray) -> _Path:
    """Return the path read off the modes on the stencil around `z` along the columns of `axes`."""
    back = np.linalg.inv(axes)
    slopes = [(effect[:, 1:6] - effect[:, 6:11]) / 2 @ back for effect in (around.x, around.d)]
    return _Path(z, around.x[:, 0], around.d[:, 0], *slopes)


def _mode_of_theta(problem: ModeProblem) -> tuple[FloatArray, FloatArray, _Path]:
    """Climb log p(theta | y) by Newton with difference quotients; return mode, root of covariance and the path."""
    z, x, paints = np.zeros(5), problem.start[:, None], len(problem.field.paints)
    first = find_modes(problem, natural(z[None, :], problem.priors), x, np.zeros((paints, 1)))
    path = _Path(z, first.x[:, 0], first.d[:, 0], np.zeros((len(x), 5)), np.zeros((paints, 5)))
    axes, stencil = WIDEST * np.eye(5), _stencil()
    for _ in range(MOST_CLIMBS):
        points = z + stencil @ axes.T
        around = path.modes(problem, points)
        path = _path(around, z, axes)
        slope, curvature = _differences(around.log_marginal - 0.5 * (points**2).sum(axis=1))
        back = np.linalg.inv(axes)
        values, vectors = np.linalg.eigh(back.T @ curvature @ back)
        values = np.maximum(values, LEAST_CURVATURE)
        push = (vectors.T @ (back.T @ slope)) / values
        away = float(np.linalg.norm(push * np.sqrt(values)))
        narrow = np.minimum(WIDEST, REACH / np.sqrt(values))
        if away < NEAR and np.linalg.norm(axes, ord=2) < 2 * narrow.max():
            break
        z = z + vectors @ push * min(1.0, FARTHEST_STEP / float(np.linalg.norm(push)))
        axes = vectors * narrow
    return z, vectors / np.sqrt(values), path


def _stencil() -> FloatArray:
    """Return the centre, then plus and minus each axis, then plus-plus and minus-minus of each pair of axes."""
    axes = np.eye(5)
    pairs = np.array([axes[i] + axes[j] for i, j in PAIRS])
    return np.concatenate([np.zeros((1, 5)), axes, -axes, pairs, -pairs])


def _differences(found: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return slope and curvature (minus the Hessian) from values on the stencil."""
    middle, up, down = found[0], found[1:6], found[6:11]
    both_up, both_down = found[11:21], found[21:31]
    slope = (up - down) / 2
    hessian = np.diag(up - 2 * middle + down)
    for place, (i, j) in enumerate(PAIRS):
        mixed = both_up[place] - up[i] - up[j] + 2 * middle - down[i] - down[j] + both_down[place]
        hessian[i, j] = hessian[j, i] = mixed / 2
    return slope, -hessian


def _stretched(problem: ModeProblem, centre: FloatArray, axes: FloatArray, path: _Path) -> _Cloud:
    """Return a cloud about `centre` along `axes`, wider on the sides where the density falls off slower.

    The density is read at one and a half deviations along each axis (split normals; Rue, Martino & Chopin 2009, J R
    Stat Soc B 71:319-392, section 6.5).
    """
    far = 1.5
    points = np.concatenate([[centre], centre - far * axes.T, centre + far * axes.T])
    found = path.modes(problem, points).log_marginal - 0.5 * (points**2).sum(axis=1)
    fall = np.maximum(found[0] - found[1:], far**2 / 2 / 2.5**2)
    low, high = np.clip(far / np.sqrt(2 * fall), 0.6, 2.5).reshape(2, 5)
    return _Cloud(centre, axes, low, high)
