"""The fair-field check by grades: what `fair_field.check_units` does for faults, with all that a grade says.

The statistic is again a unit's effect over its posterior deviation, now after one Fisher scoring step from the fair
fit: a specimen of grade j counts as eta + score_j / information, with the score of the cumulative logit at its arm's
fair linear predictor eta,

    score_j = F(tau_j - eta) + F(tau_{j-1} - eta) - 1,   information = sum of P(j) score_j^2,   F the logistic,

about which lots, paints, pigments, makers and formats are normal (McCullagh 1980, J R Stat Soc B 42:109-142). So the
statistic is linear in the scores, and thousands of fair fields cost as much as one matrix product.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import sparse

from qcledger.errors import bad
from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.correct import ChainPlan
from qcledger.stats.pooled.design import IntArray, PooledField
from qcledger.stats.pooled.fair_field import (
    HELD_CELL,
    HELD_MAKER,
    LINE,
    AccusedUnit,
    Verdict,
    Yardstick,
    cells_of,
    check_against,
    contrasts_of,
)
from qcledger.stats.pooled.fit import Effort, fit
from qcledger.stats.pooled.graded import NO_LEVEL
from qcledger.stats.pooled.grades import CumulativeLogit, GradedLot, arrange_graded
from qcledger.stats.pooled.likelihoods import logistic
from qcledger.stats.pooled.priors import SMALLEST_SCALE, Priors, Theta

NULL_EFFORT = Effort(points=64, plan=ChainPlan(chains=128, kept=6))


@dataclass(frozen=True)
class _Specimens:
    """Graded specimens one by one: arm, lot and category of each (S,), and sums over those of a lot (L, S)."""

    arm: IntArray
    lot: IntArray
    category: IntArray
    to_lot: Any


@dataclass(frozen=True)
class _FairGrades:
    """A field taken as fair: draws of columns with a = g = 0 (G, N) and cut points (J, N), theta of each (N,)."""

    x: FloatArray
    cuts: FloatArray
    theta: Theta


def check_grades(
    lots: Sequence[GradedLot],
    suspects: Sequence[AccusedUnit],
    *,
    line: float = LINE,
    seed: int = 0,
    most: int | None = None,
    stop: Callable[[], bool] = lambda: False,
) -> tuple[Verdict, ...]:
    """Return how often a fair field shows grades as bad as each suspect's, the strongest first.

    Parameters
    ----------
    lots
        What was graded; a higher grade is worse. Units are those of the field that `arrange_graded` makes of them.
    suspects, line, seed, most, stop
        As of `fair_field.check_units`.

    Raises
    ------
    BadInput
        As `arrange_graded` does, or when a suspect is no unit of the field.
    """
    field, likelihood = arrange_graded(lots)
    for unit in suspects:
        if not len(cells_of(field, unit)):
            raise bad(f"suspect {unit.kind}", unit.index, "a unit of the field of these lots")
    specimens = _one_by_one(field, lots, likelihood)

    def yardstick(guilty: Sequence[AccusedUnit]) -> Yardstick:
        fair = _fit_fair(field, likelihood, guilty, seed)
        weights, scores = _statistic(field, specimens, fair)
        return Yardstick(
            weights @ scores[specimens.arm, specimens.category],
            lambda size, rng: (
                weights @ scores[specimens.arm[:, None], _fair_grades(field, specimens, fair, size, rng)]
            ),
        )

    return check_against(field, suspects, yardstick, line=line, seed=seed, most=most, stop=stop)


def _one_by_one(field: PooledField, lots: Sequence[GradedLot], likelihood: CumulativeLogit) -> _Specimens:
    size = [len(lot.grades) for lot in lots]
    lot = np.repeat(np.arange(len(lots)), size)
    grades = np.concatenate([lot.grades for lot in lots])
    to_lot = sparse.csr_array((np.ones(len(lot)), (lot, np.arange(len(lot)))))
    arm = field.arm_of_row[field.row_of_lot][lot]
    return _Specimens(arm, lot, np.searchsorted(likelihood.grades, grades), to_lot)


def _fit_fair(
    field: PooledField, likelihood: CumulativeLogit, guilty: Sequence[AccusedUnit], seed: int
) -> _FairGrades:
    priors = Priors(level=NO_LEVEL)
    own = tuple(sorted({int(cell) for unit in guilty for cell in cells_of(field, unit)}))
    fair = replace(priors, scales=(SMALLEST_SCALE, SMALLEST_SCALE, *priors.scales[2:]), own=own)
    found = fit(field, fair, likelihood=likelihood, seed=seed, effort=NULL_EFFORT)
    x = found.draws.x[: field.columns].copy()
    x[field.blocks["a"]], x[field.blocks["g"]] = 0.0, 0.0
    return _FairGrades(x, found.draws.x[field.columns :], found.theta)


def _statistic(field: PooledField, specimens: _Specimens, fair: _FairGrades) -> tuple[FloatArray, FloatArray]:
    """Return weights (U, S) and working values (A, J + 1): the statistic is the weighted sum of specimens' values."""
    eta = field.matrix @ fair.x.mean(axis=1)
    edges = logistic(np.pad(fair.cuts.mean(axis=1), 1, constant_values=(-np.inf, np.inf))[None, :] - eta[:, None])
    chance, score = np.diff(edges, axis=1), edges[:, 1:] + edges[:, :-1] - 1
    information = (chance * score**2).sum(axis=1)
    _, _, s_c, s_d, rho = fair.theta.stacked().mean(axis=1)
    size = np.asarray(specimens.to_lot.sum(axis=1)).ravel()
    arm_of_lot = field.arm_of_row[field.row_of_lot]
    lot_weight = 1 / (np.pi**2 / 3 * rho / (1 - rho) + 1 / (size * information[arm_of_lot]))
    arm_weight = np.asarray(np.bincount(arm_of_lot, lot_weight, minlength=len(eta)), dtype=np.float64)
    effect = _effects(field, arm_weight, s_c, s_d)
    per_specimen = (lot_weight / size)[specimens.lot]
    return effect[:, specimens.arm] * per_specimen, eta[:, None] + score / information[:, None]


def _effects(field: PooledField, weight: FloatArray, s_c: float, s_d: float) -> FloatArray:
    """Return each unit's effect over its deviation per weighted sum of an arm's values, shape (U, A)."""
    matrix, blocks = field.matrix.toarray(), field.blocks
    # Paints are eliminated: what an arm says of its columns is what is left of it beside its paint's own effect.
    paint = np.bincount(field.paint_of_arm, weight) + s_d**-2.0
    shared = sparse.csr_array(
        (np.ones(len(weight)), (field.paint_of_arm, np.arange(len(weight)))), shape=(len(paint), len(weight))
    )
    pulled = shared @ (weight[:, None] * matrix)
    left = matrix - (pulled / paint[:, None])[field.paint_of_arm]
    precision = np.full(field.columns, Priors().cuts ** -2.0)
    precision[blocks["b"]] = Priors().formats ** -2.0
    precision[blocks["a"]], precision[blocks["g"]] = HELD_MAKER**-2.0, HELD_CELL**-2.0
    precision[blocks["c"]] = max(s_c, SMALLEST_SCALE) ** -2.0
    hessian = left.T @ (weight[:, None] * matrix) + np.diag(precision)
    contrasts = contrasts_of(field).toarray()
    solved = np.linalg.solve(hessian, contrasts.T)
    deviation = np.sqrt((contrasts.T * solved).sum(axis=0))
    return np.asarray((left @ solved / deviation).T)


def _fair_grades(
    field: PooledField, specimens: _Specimens, fair: _FairGrades, size: int, rng: np.random.Generator
) -> IntArray:
    """Return the categories of the specimens in `size` fair fields, shape (S, size)."""
    pick = rng.integers(0, fair.x.shape[1], size)
    rho = fair.theta.rho[pick]
    paint = rng.normal(size=(len(field.paints), size)) * fair.theta.s_d[pick]
    lot = rng.normal(size=(specimens.to_lot.shape[0], size)) * np.pi * np.sqrt(rho / (1 - rho) / 3)
    arm = field.matrix @ fair.x[:, pick] + paint[field.paint_of_arm]
    latent = arm[specimens.arm] + lot[specimens.lot] + rng.logistic(size=(len(specimens.arm), size))
    return np.asarray((latent[None] > fair.cuts[:, None, pick]).sum(axis=0), dtype=np.int64)
