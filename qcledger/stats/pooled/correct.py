"""The correction that works where importance weights do not: many short chains from the Gaussian draws.

State: a design point of theta, and a standard normal u that the point's mode and curvature map to effects. Under the
Laplace approximation u is standard normal whatever the point, so (1) theta moves by proposing another point at the
same u, and (2) u moves by Hamiltonian steps whose free motion is exact for that normal - rotations - with kicks by
what the approximation got wrong (Neal 2011, Handbook of MCMC, section 5.5; Shahbaba et al. 2014, Stat Comput
24:339-349). Both are Metropolis moves for the exact posterior on the design, so a poor approximation costs
acceptance, not truth.

Chains run in mirrored pairs, u and -u with the same chances, so that what is odd in u cancels in averages; theta
proposals are spread over the pairs by systematic sampling. Each chain alone still has the right distribution.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.design import IntArray
from qcledger.stats.pooled.hyper import Design
from qcledger.stats.pooled.mode import (
    ModeProblem,
    Modes,
    linear_predictor,
    log_joint,
    pulled,
    take_modes,
    without_paints,
)

BLOCK = 40_000
"""Arms times chains run together: arrays of this many numbers stay in a core's cache."""
LOST = 20.0
"""A start is drawn closer to its mode if the approximation is out by more than this there, in log density: where cut
points nearly meet a kick would throw the chain so far that it does not find back."""
MOST_HALVINGS = 12
FLAT = 0.1
"""Share of the proposals for theta spread evenly over the design."""


@dataclass(frozen=True)
class ChainPlan:
    """How long and how far the chains go.

    Parameters
    ----------
    chains
        Number of chains, even; two by two they are mirrored pairs.
    kept, dropped
        Iterations kept of each chain, and run before them.
    kicks
        Kicks per Hamiltonian move.
    angle
        Mean of the whole rotation per move, in radians; a quarter turn would forget u where no kick is needed.
    """

    chains: int = 160
    kept: int = 20
    dropped: int = 4
    kicks: int = 2
    angle: float = 1.5


@dataclass(frozen=True)
class Draws:
    """N = kept x chains draws from the posterior, iteration by iteration.

    Parameters
    ----------
    point
        Design point of each draw (N,).
    x, d
        Field columns and cut points (G + J, N) and paint effects (K, N).
    pair
        Mirrored pair of chains of each draw (N,); pairs are independent of each other.
    accepted, moved
        Share of Hamiltonian and theta moves that were accepted, 0 to 1.
    """

    point: IntArray
    x: FloatArray
    d: FloatArray
    pair: IntArray
    accepted: float
    moved: float


@dataclass(frozen=True)
class _State:
    """Chains side by side; C chains."""

    point: IntArray
    modes: Modes
    u_x: FloatArray
    u_d: FloatArray
    x: FloatArray
    d: FloatArray
    log_density: FloatArray
    slope_x: FloatArray
    slope_d: FloatArray


def run_chains(problem: ModeProblem, design: Design, plan: ChainPlan, seed: int) -> Draws:
    """Return draws from the posterior over the points of `design`; the same seed gives the same draws."""
    weight = (1 - FLAT) * np.exp(design.log_weight) + FLAT / len(design.z)
    block = 2 * int(np.clip(BLOCK // (2 * len(problem.field.paint_of_arm)), 4, plan.chains // 2))
    parts, first = [], 0
    for seeds in np.random.SeedSequence(seed).spawn(-(-plan.chains // block)):
        size = min(block, plan.chains - first)
        parts.append(_run_block(problem, design, plan, weight, (first, size), np.random.default_rng(seeds)))
        first += size
    return Draws(
        point=np.concatenate([part.point for part in parts]),
        x=np.concatenate([part.x for part in parts], axis=1),
        d=np.concatenate([part.d for part in parts], axis=1),
        pair=np.concatenate([part.pair for part in parts]),
        accepted=float(np.average([part.accepted for part in parts], weights=[len(part.pair) for part in parts])),
        moved=float(np.average([part.moved for part in parts], weights=[len(part.pair) for part in parts])),
    )


def _run_block(
    problem: ModeProblem,
    design: Design,
    plan: ChainPlan,
    weight: FloatArray,
    which: tuple[int, int],
    rng: np.random.Generator,
) -> Draws:
    first, chains = which
    start = np.exp(design.log_weight)
    point = _spread(start, chains, rng)
    u_x, u_d = _mirrored(len(design.modes.x), chains, rng), _mirrored(len(problem.field.paints), chains, rng)
    state = _start(problem, design, point, u_x, u_d)
    kept: list[tuple[IntArray, FloatArray, FloatArray]] = []
    tally = np.zeros(2)
    for turn in range(plan.dropped + plan.kept):
        state, moved = _move_theta(problem, design, state, weight, rng)
        state, accepted = _move_effects(problem, design, state, plan, rng)
        if turn >= plan.dropped:
            kept.append((state.point, state.x, state.d))
            tally += (accepted, moved)
    tally /= max(plan.kept, 1)
    return Draws(
        point=np.concatenate([point for point, _, _ in kept]),
        x=np.concatenate([x for _, x, _ in kept], axis=1),
        d=np.concatenate([d for _, _, d in kept], axis=1),
        pair=np.tile((first + np.tile(np.arange(chains // 2), 2) * 2) // 2, plan.kept),
        accepted=float(tally[0]),
        moved=float(tally[1]),
    )


def _start(problem: ModeProblem, design: Design, point: IntArray, u_x: FloatArray, u_d: FloatArray) -> _State:
    """Return the state at u, or nearer to the mode where the approximation does not hold at all."""
    modes = take_modes(design.modes, point)
    at_mode = modes.log_marginal + design.log_prior_ratio[point]
    for _ in range(MOST_HALVINGS):
        state = _place(problem, design, point, modes, u_x, u_d)
        expected = at_mode - 0.5 * ((u_x**2).sum(axis=0) + (u_d**2).sum(axis=0))
        lost = ~(state.log_density >= expected - LOST)
        if not lost.any():
            break
        u_x, u_d = np.where(lost, u_x / 2, u_x), np.where(lost, u_d / 2, u_d)
    return state


def _mirrored(rows: int, chains: int, rng: np.random.Generator) -> FloatArray:
    """Return standard normals (rows, chains), the second half minus the first."""
    half = rng.normal(size=(rows, chains // 2))
    return np.concatenate([half, -half], axis=1)


def _chances(chains: int, rng: np.random.Generator) -> FloatArray:
    """Return logs of uniform numbers, the same for both chains of a pair."""
    return np.tile(np.log(rng.random(chains // 2)), 2)


def _spread(weight: FloatArray, chains: int, rng: np.random.Generator) -> IntArray:
    """Return one design point per pair, by systematic sampling in random order; each has distribution `weight`."""
    pairs = chains // 2
    ends = np.cumsum(weight) / weight.sum()
    place = np.searchsorted(ends, (rng.permutation(pairs) + rng.random()) / pairs)
    return np.tile(np.minimum(place, len(weight) - 1), 2)


def _place(
    problem: ModeProblem, design: Design, point: IntArray, modes: Modes, u_x: FloatArray, u_d: FloatArray
) -> _State:
    """Map u to effects at the design points; return the state with its log density and slope in u."""
    step_x = np.matmul(modes.root.transpose(0, 2, 1), u_x.T[:, :, None])[:, :, 0].T
    follow = pulled(problem, modes.weight, modes.cross, step_x) / modes.stiff
    x, d = modes.x + step_x, modes.d + u_d / np.sqrt(modes.stiff) - follow
    eta = linear_predictor(problem, x, d)
    value, slope, slope_x, slope_d = log_joint(problem, modes.prior, modes.theta, x, d, eta)
    full_d = problem.to_paint @ slope + slope_d
    right = without_paints(problem, modes.weight, modes.cross, (slope, slope_x), full_d / modes.stiff)
    return _State(
        point=point,
        modes=modes,
        u_x=u_x,
        u_d=u_d,
        x=x,
        d=d,
        log_density=value + modes.log_volume + design.log_prior_ratio[point],
        slope_x=np.matmul(modes.root, right.T[:, :, None])[:, :, 0].T,
        slope_d=full_d / np.sqrt(modes.stiff),
    )


def _move_theta(
    problem: ModeProblem, design: Design, state: _State, weight: FloatArray, rng: np.random.Generator
) -> tuple[_State, float]:
    """Propose another design point for each chain at the same u."""
    point = _spread(weight, len(state.point), rng)
    there = _place(problem, design, point, take_modes(design.modes, point), state.u_x, state.u_d)
    gain = there.log_density - state.log_density - np.log(weight[point] / weight[state.point])
    return _choose(state, there, _chances(len(point), rng) < gain)


def _move_effects(
    problem: ModeProblem, design: Design, state: _State, plan: ChainPlan, rng: np.random.Generator
) -> tuple[_State, float]:
    """Move u by kicks and rotations, then accept or stay."""
    angle = plan.angle / plan.kicks * rng.uniform(0.8, 1.2)
    cos, sin = np.cos(angle), np.sin(angle)
    p_x, p_d = (_mirrored(u.shape[0], u.shape[1], rng) for u in (state.u_x, state.u_d))
    energy = 0.5 * ((p_x**2).sum(axis=0) + (p_d**2).sum(axis=0)) - state.log_density
    there = state
    for _ in range(plan.kicks):
        # What the normal approximation got wrong is the slope that is left when its own, -u, is taken out.
        p_x = p_x + angle / 2 * (there.slope_x + there.u_x)
        p_d = p_d + angle / 2 * (there.slope_d + there.u_d)
        u_x, p_x = there.u_x * cos + p_x * sin, p_x * cos - there.u_x * sin
        u_d, p_d = there.u_d * cos + p_d * sin, p_d * cos - there.u_d * sin
        there = _place(problem, design, state.point, state.modes, u_x, u_d)
        p_x = p_x + angle / 2 * (there.slope_x + there.u_x)
        p_d = p_d + angle / 2 * (there.slope_d + there.u_d)
    after = 0.5 * ((p_x**2).sum(axis=0) + (p_d**2).sum(axis=0)) - there.log_density
    return _choose(state, there, _chances(len(after), rng) < energy - after)


def _choose(here: _State, there: _State, accept: Any) -> tuple[_State, float]:
    """Return the state that takes `there` where `accept` and `here` elsewhere, and the share accepted."""
    modes = here.modes if there.modes is here.modes else _choose_modes(here.modes, there.modes, accept)
    pick = {
        name: np.where(accept, getattr(there, name), getattr(here, name))
        for name in ("point", "u_x", "u_d", "x", "d", "log_density", "slope_x", "slope_d")
    }
    return _State(modes=modes, **pick), float(np.mean(accept))


def _choose_modes(here: Modes, there: Modes, accept: Any) -> Modes:
    names = ("x", "d", "weight", "stiff", "cross", "log_joint", "log_volume", "settled")
    pick = {name: np.where(accept, getattr(there, name), getattr(here, name)) for name in names}
    theta = type(here.theta)(*np.where(accept, there.theta.stacked(), here.theta.stacked()))
    prior = replace(here.prior, precision=np.where(accept, there.prior.precision, here.prior.precision))
    # The factors are the bulk: those that stay are not copied again.
    root = there.root
    root[~accept] = here.root[~accept]
    return replace(here, theta=theta, prior=prior, root=root, **pick)
