"""Small fields used by several tests."""

import numpy as np

from qcledger.stats.pooled.correct import ChainPlan
from qcledger.stats.pooled.design import PooledLot
from qcledger.stats.pooled.fit import Effort
from qcledger.stats.pooled.priors import Priors

QUICK = Effort(points=64, plan=ChainPlan(chains=64, kept=8))
NO_EFFECTS = Priors(formats=1e-3, scales=(1e-3, 1e-3, 1e-3, 1e-3))
"""Only the level b0 and rho are left."""


def lot(maker=0, format_=0, pigment=0, tested=2, faulty=0, paint=None):
    """Return a lot of the maker's paint of one pigment."""
    name = (maker, pigment) if paint is None else paint
    return PooledLot(maker=maker, format=format_, paint=name, pigments=(pigment,), tested=tested, faulty=faulty)


def grid(makers, formats, pigments, tested=2, faulty=lambda maker, format_, pigment: 0):
    """Return one lot of every pigment in every format of every maker."""
    return [
        lot(m, f, p, tested, faulty(m, f, p)) for m in range(makers) for f in range(formats) for p in range(pigments)
    ]


def some(seed, makers=5, formats=2, pigments=6, rate=0.2):
    """Return a field with faults at random."""
    rng = np.random.default_rng(seed)
    return grid(makers, formats, pigments, 3, lambda *_: int(rng.binomial(3, rate)))
