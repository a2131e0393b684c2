"""Two readings to compare with: an oracle that knows every nuisance, and the naive one of Wilson intervals."""

import numpy as np
from scipy.special import betaln, expit, logsumexp

from qcledger.stats.pooled.design import PooledField
from qcledger.stats.pooled.fair_field import cells_of, units_of
from qcledger.stats.proportion import wilson_limits
from tests.bench.calibration.scenarios import FALSE_ALARM, SEEN, Truth

NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(7)


def oracle(field: PooledField, truth: Truth, bump: float) -> np.ndarray:
    """Return for each unit the log likelihood ratio of guilt `bump` over innocence, all nuisance known.

    Paint effects are integrated, lots in closed form. Grading noise is known too: a lot's count is taken as
    beta-binomial about the rate as it reads, with the concentration that keeps its variance.
    """
    plain = _lots(field, truth, 0.0)
    raised = _lots(field, truth, bump)
    paint = field.paint_of_arm[field.arm_of_row[field.row_of_lot]]
    cell = field.cell_of_arm[field.arm_of_row[field.row_of_lot]]
    base = _over_paints(field, paint, plain)
    found = []
    for unit in units_of(field):
        inside = np.isin(cell, cells_of(field, unit))[None, :]
        found.append(_over_paints(field, paint, np.where(inside, raised, plain)) - base)
    return np.array(found)


def _lots(field: PooledField, truth: Truth, bump: float) -> np.ndarray:
    """Return the log likelihood of each lot at each node of its paint's effect, shape (nodes, L)."""
    true = expit(truth.eta[None, :] + bump + NODES[:, None] * truth.paint_sd)
    read = true * SEEN + (1 - true) * FALSE_ALARM
    rho = truth.rho * (SEEN - FALSE_ALARM) ** 2 * true * (1 - true) / (read * (1 - read))
    s = (1 - rho) / rho
    n, y = field.tested[field.row_of_lot], field.faulty[field.row_of_lot]
    return betaln(read * s + y, (1 - read) * s + n - y) - betaln(read * s, (1 - read) * s)


def _over_paints(field: PooledField, paint: np.ndarray, per_lot: np.ndarray) -> float:
    per_paint = np.stack([np.bincount(paint, row, minlength=len(field.paints)) for row in per_lot])
    return float(logsumexp(per_paint + np.log(WEIGHTS / WEIGHTS.sum())[:, None], axis=0).sum())


def naive(field: PooledField) -> list[int]:
    """Return the cells whose Wilson interval lies above the field's rate."""
    tested, faulty = counts(field)
    low, _ = wilson_limits(faulty, tested)
    return np.flatnonzero(low > faulty.sum() / tested.sum()).tolist()


def counts(field: PooledField) -> tuple[np.ndarray, np.ndarray]:
    """Return specimens and faulty specimens per cell."""
    cell, size = field.cell_of_arm[field.arm_of_row], len(field.cells)
    tested = np.bincount(cell, field.tested * field.lots, minlength=size).astype(int)
    return tested, np.bincount(cell, field.faulty * field.lots, minlength=size).astype(int)
