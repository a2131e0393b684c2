"""The pooled model of grades: how many grades harder, fainter or frothier than the field."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.fit import Effort, fit
from qcledger.stats.pooled.grades import GradedLot, arrange_graded
from qcledger.stats.pooled.likelihoods import logistic
from qcledger.stats.pooled.priors import Priors
from qcledger.stats.pooled.summaries import Posterior

NO_LEVEL = (0.0, 1e-3)
"""b0 is held at 0: the cut points carry the level."""
_NODES, _RAW = np.polynomial.hermite_e.hermegauss(5)
_SHARES = _RAW / _RAW.sum()


@dataclass(frozen=True)
class GradedPosterior:
    """Draws from the posterior of graded lots.

    Parameters
    ----------
    effects
        Draws and diagnostics; of its rates only `own`, `maker_own` and `block` have a meaning here.
    grades
        Categories' grades, rising, shape (J + 1,).
    most
        Expected grades use this many draws, spread over the run.
    """

    effects: Posterior
    grades: FloatArray
    most: int = 1000

    @cached_property
    def _some(self) -> np.ndarray:
        size = len(self.effects.theta.rho)
        return np.linspace(0, size - 1, min(size, self.most)).astype(np.int64)

    @cached_property
    def cell_grade(self) -> FloatArray:
        """Mean grade of each cell over the field's pigments, the maker's possible paints and lots, shape (C, S)."""
        return self._mean_grade(self._level + self.effects.own[:, self._some])

    @cached_property
    def cell_excess(self) -> FloatArray:
        """Mean grade of each cell less the field's in its format, in grades, shape (C, S)."""
        return self.cell_grade - self._mean_grade(self._level)

    @property
    def _level(self) -> FloatArray:
        return self.effects.block("b")[self.effects.field.format_of_cell][:, self._some]

    def _mean_grade(self, level: FloatArray) -> FloatArray:
        """Return the grade expected at `level` (C, S): the lowest, plus each step's chance of being passed."""
        cuts = self.effects.draws.x[self.effects.field.columns :, self._some]
        theta = self.effects.theta
        spread = np.sqrt(theta.s_d**2 + np.pi**2 / 3 * theta.rho / (1 - theta.rho))[self._some]
        total = np.full_like(level, self.grades[0])
        for share, effect in zip(
            self.effects.field.pigment_shares, self.effects.block("c")[:, self._some], strict=True
        ):
            for node, part in zip(_NODES, _SHARES, strict=True):
                eta = level + effect + node * spread
                for step, cut in zip(np.diff(self.grades), cuts, strict=True):
                    total += share * part * step * logistic(eta - cut)
        return total


def fit_grades(
    lots: Sequence[GradedLot], priors: Priors | None = None, *, seed: int = 0, effort: Effort | None = None
) -> GradedPosterior:
    """Return the posterior of graded `lots`; arguments and reproducibility are those of `fit`."""
    field, likelihood = arrange_graded(lots)
    graded = replace(priors or Priors(), level=NO_LEVEL)
    found = fit(field, graded, likelihood=likelihood, seed=seed, effort=effort or Effort(points=256))
    return GradedPosterior(found, likelihood.grades)
