"""The pooled model from lots to posterior in one call."""

from dataclasses import dataclass, field

import numpy as np

from qcledger.stats.pooled.correct import ChainPlan, run_chains
from qcledger.stats.pooled.design import PooledField
from qcledger.stats.pooled.diagnostics import ENOUGH_POINTS, Health, pair_error
from qcledger.stats.pooled.hyper import More, explore
from qcledger.stats.pooled.likelihoods import Likelihood, beta_binomial
from qcledger.stats.pooled.mode import pose
from qcledger.stats.pooled.priors import Priors
from qcledger.stats.pooled.summaries import Posterior

ROOM = 8_000_000
"""Numbers in the factors of all design points together; 8 bytes each."""
TIMES = 3
"""Most times that design points are added."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How much work to spend.

    Parameters
    ----------
    points
        Most values of theta in the design, a power of 2; fewer, but at least 64, where the field columns are many
        and the factors of all would not fit `ROOM`.
    enough
        Effective number of points below which as many again are added, up to `TIMES` times and as far as `ROOM`
        goes; 0 leaves it at `points`.
    plan
        Chains and moves.
    """

    points: int = 512
    enough: float = ENOUGH_POINTS
    plan: ChainPlan = field(default_factory=ChainPlan)

    def points_for(self, columns: int) -> int:
        """Return the number of design points for so many field columns."""
        points = self.points
        while points > 64 and points * columns**2 > ROOM:
            points //= 2
        return points

    def more_for(self, columns: int) -> More:
        """Return when, and how often, points are added for so many field columns."""
        room = ROOM // max(self.points_for(columns) * columns**2, 1)
        return More(self.enough, min(TIMES, max(room - 1, 0)))


def fit(
    found: PooledField,
    priors: Priors | None = None,
    *,
    likelihood: Likelihood | None = None,
    seed: int = 0,
    effort: Effort | None = None,
) -> Posterior:
    """Return the posterior of the pooled model.

    Parameters
    ----------
    found
        What was tested, from `design.arrange`.
    priors
        Priors; those of the guide when None.
    likelihood
        Of what was seen; the beta-binomial of the field's faulty specimens when None.
    seed
        The same field, priors, effort and seed give the same numbers.
    effort
        Work to spend; the default holds Monte-Carlo errors of probabilities near 0.01.

    Returns
    -------
    Posterior
    """
    effort = effort or Effort()
    problem = pose(found, likelihood or beta_binomial(found), priors or Priors())
    design = explore(problem, effort.points_for(found.columns), seed, effort.more_for(found.columns))
    draws = run_chains(problem, design, effort.plan, seed)
    theta = design.modes.theta.take(draws.point)
    own = draws.x[found.blocks["a"]][found.maker_of_cell] + draws.x[found.blocks["g"]]
    health = Health(
        draws=len(draws.point),
        accepted=draws.accepted,
        moved=draws.moved,
        design_size=design.effective_size,
        log_weight=design.log_weight,
        worst_error=float(pair_error((own > 0).astype(np.float64), draws.pair).max()),
        settled=bool(design.modes.settled.all()),
    )
    return Posterior(found, draws, theta, health)
