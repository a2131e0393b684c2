"""What a pigment or a format does at whichever maker: whether it is harder than the others, and how widely.

Naming a pigment accuses nobody, so it needs no fair field: a pigment's effect is drawn from a population like all
others, and its posterior says how sure it is that it lies above them.
"""

import math
from dataclasses import dataclass

import numpy as np

from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.design import Field, IntArray
from qcledger.stats.pooled.summaries import Posterior

DELTA = 0.10
"""A difference in rates that matters, as a share of specimens."""
SURE = 0.95
"""Posterior chance of a positive excess from which a pigment or a format is named; chosen by calibration: 0.99 named
72 and 0.95 named 80 of 100 hard pigments in small fields, each with 1 or 2 named that were not hard at all."""
LEAST_MAKERS, SHOWING = 4, 0.5
"""Makers that must show it, and the share of those who have it."""


@dataclass(frozen=True, slots=True)
class Wide:
    """One pigment or format beside the others of its kind.

    Parameters
    ----------
    kind, index
        "pigment" or "format", and its index in the field.
    chance, beyond
        Posterior chance that its rate exceeds the mean rate of the others at all, and by more than `DELTA`.
    excess
        Posterior mean of that difference, as a share of specimens.
    seen
        The same difference in what was counted, no model.
    makers, showing
        Makers with it, and those of them with at least one faulty specimen in it.
    """

    kind: str
    index: int
    chance: float
    beyond: float
    excess: float
    seen: float
    makers: int
    showing: int

    @property
    def named(self) -> bool:
        """Whether it is surely harder, by an amount that matters, at half of its makers or more, at least four."""
        widely = self.showing >= max(LEAST_MAKERS, math.ceil(SHOWING * self.makers))
        return self.chance >= SURE and self.seen > DELTA and widely


def pigments(posterior: Posterior) -> tuple[Wide, ...]:
    """Return each pigment of the field beside the other pigments; a mixture counts for each of its pigments."""
    field = posterior.field
    inside = np.asarray(field.mix.toarray() > 0).T[:, field.paint_of_arm]
    return _beside("pigment", field, posterior.pigment_rate, inside)


def formats(posterior: Posterior) -> tuple[Wide, ...]:
    """Return each format of the field beside its other formats."""
    field = posterior.field
    inside = field.format_of_cell[field.cell_of_arm] == np.arange(len(field.formats))[:, None]
    return _beside("format", field, posterior.format_rate, inside)


def _beside(kind: str, field: Field, rate: FloatArray, inside: np.ndarray) -> tuple[Wide, ...]:
    """Compare groups of arms, `inside` (groups, A), whose rates have the draws `rate` (groups, N)."""
    if len(rate) < 2:
        return ()
    faulty, tested = (_by_maker(field, inside, values) for values in (field.faulty, field.tested))
    excess = rate - (rate.sum(axis=0) - rate) / (len(rate) - 1)
    mine, all_mine = faulty.sum(axis=1), tested.sum(axis=1)
    rest, all_rest = (int((values * field.lots).sum()) for values in (field.faulty, field.tested))
    seen = mine / all_mine - (rest - mine) / np.maximum(all_rest - all_mine, 1)
    return tuple(
        Wide(
            kind=kind,
            index=index,
            chance=float((excess[index] > 0).mean()),
            beyond=float((excess[index] > DELTA).mean()),
            excess=float(excess[index].mean()),
            seen=float(seen[index]),
            makers=int((tested[index] > 0).sum()),
            showing=int((faulty[index] > 0).sum()),
        )
        for index in range(len(rate))
    )


def _by_maker(field: Field, inside: np.ndarray, values: IntArray) -> IntArray:
    """Return the specimens of each group and maker, shape (groups, M)."""
    per_arm = np.add.reduceat(values * field.lots, field.arm_starts)
    maker = field.maker_of_cell[field.cell_of_arm]
    sums = [np.bincount(maker[some], per_arm[some], minlength=len(field.makers)) for some in inside]
    return np.asarray(sums, dtype=np.int64)
