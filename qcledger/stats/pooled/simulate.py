"""Fair fields: the same purchases, with nobody better or worse than the field."""

import numpy as np
from scipy.special import expit

from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.design import IntArray, PooledField


def outcomes(field: PooledField, eta: FloatArray, rho: FloatArray, rng: np.random.Generator) -> IntArray:
    """Return faulty specimens per lot, shape (L, T), for linear predictors `eta` (A, T) and `rho` (T,).

    Each lot draws its own rate from a Beta about its arm's rate with concentration rho, then its specimens; rho = 0
    takes the arm's rate itself.
    """
    rate = np.clip(expit(eta), 1e-12, 1 - 1e-12)[field.arm_of_row[field.row_of_lot]]
    strength = np.minimum((1 - rho) / np.maximum(rho, 1e-12), 1e9)
    lot_rate = rng.beta(rate * strength, (1 - rate) * strength)
    return rng.binomial(field.tested[field.row_of_lot][:, None], lot_rate).astype(np.int64)
