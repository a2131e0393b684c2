"""The fair-field check: how often fair fields with the same purchases show something as strong.

A unit - a maker or a maker's format - is measured by a cheap statistic: its effect at one joint mode, over its
posterior deviation there, with theta held. The field is then fitted without maker effects, fair fields are drawn from
that fit with the same lots, and in each the strongest unit of all is compared with the suspect. So the chance named
is that of accusing anybody, not of accusing this one.

The suspect itself stays in the field that is fitted, as one of the fair. It is the strongest of all, and a field
without its strongest looks milder than it is: p <= 0.01 came in 18 of 1,000 small fair fields with the suspect left
out of the fit, in 13 with it left in, and in no fewer with wider priors of rho.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import sparse

from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.correct import ChainPlan
from qcledger.stats.pooled.design import IntArray, PooledField
from qcledger.stats.pooled.fit import ROOM, Effort, fit
from qcledger.stats.pooled.levels import FLOOR as FLOOR
from qcledger.stats.pooled.levels import LINE as LINE
from qcledger.stats.pooled.levels import is_clear as is_clear
from qcledger.stats.pooled.likelihoods import beta_binomials
from qcledger.stats.pooled.mode import find_each, pose
from qcledger.stats.pooled.priors import SMALLEST_SCALE, Priors, Theta
from qcledger.stats.pooled.simulate import outcomes
from qcledger.stats.pooled.summaries import Posterior

HELD_MAKER, HELD_CELL = 0.3, 1.0
"""Scales held in the statistic, fixed in advance: of those tried (0.2 to 2) they rank guilty cells best."""
BATCH = 250
MOST = 2000
"""Fair fields drawn at a time, and at most."""
ENOUGH, AT_MOST = 8.0, 64.0
"""Fair fields for a line are at least so many divided by it before anybody passes, and at most so many: at the very
line p is then known to an eighth of itself, where 16 left it at a quarter and a standing to the seed."""
TOP = 1000
"""So many of the strongest are kept of the fair fields drawn, for whatever is measured against them later: more than
`AGAIN` times `AT_MOST`, the most that a claim may reach when it is looked at again."""
NULL_EFFORT = Effort(points=512, enough=0.0, plan=ChainPlan(chains=256, kept=12))
"""Of the field taken as fair. With 128 points and 768 draws p differed by a tenth of itself from seed to seed beyond
what counting fields explains, with these by nothing that eight seeds could show."""


@dataclass(frozen=True, slots=True)
class AccusedUnit:
    """Something that may be accused: a "maker" or a "cell", by its index in the field."""

    kind: str
    index: int


@dataclass(frozen=True, slots=True)
class Verdict:
    """Outcome of the check for one unit.

    Parameters
    ----------
    unit
        Who.
    strength
        The statistic as observed.
    as_strong, fields
        k and N: of N fair fields, k showed some unit at least as strong.
    held
        The scales that the statistic holds, as `Theta.stacked` gives them, shape (5,).
    strongest
        The strongest unit of those fair fields in which it was strongest, from the strongest on; at most `TOP`.
    """

    unit: AccusedUnit
    strength: float
    as_strong: int
    fields: int
    held: tuple[float, ...] = ()
    strongest: tuple[float, ...] = ()

    @property
    def p_value(self) -> float:
        """(k + 1) / (N + 1), between 0 and 1."""
        return (self.as_strong + 1) / (self.fields + 1)


@dataclass(frozen=True, slots=True)
class FairFit:
    """A field taken as fair: draws of its columns (G, N) with a = g = 0, theta of each, theta held (1,)."""

    x: FloatArray
    theta: Theta
    held: Theta


def units_of(field: PooledField) -> tuple[AccusedUnit, ...]:
    """Return the units of `field`: its cells, then the makers tested in more than one format."""
    formats = np.bincount(field.maker_of_cell)
    makers = (AccusedUnit("maker", int(m)) for m in np.flatnonzero(formats > 1))
    return (*(AccusedUnit("cell", c) for c in range(len(field.cells))), *makers)


def cells_of(field: PooledField, unit: AccusedUnit) -> IntArray:
    """Return the cells that `unit` is made of."""
    return np.array([unit.index]) if unit.kind == "cell" else np.flatnonzero(field.maker_of_cell == unit.index)


def strengths(field: PooledField, faulty: IntArray, held: Theta, priors: Priors | None = None) -> FloatArray:
    """Return the statistic of each unit of `units_of(field)` in T outcomes of the field's purchases.

    Parameters
    ----------
    field
        The purchases.
    faulty
        Faulty specimens per lot (L, T), lots as given to `arrange`.
    held
        s_c, s_d and rho to hold, each of shape (1,); s_a and s_g are held at `HELD_MAKER`, `HELD_CELL`.
    priors
        Priors of the level and formats.

    Returns
    -------
    array
        Effect over its posterior deviation at the joint mode, shape (U, T).
    """
    priors, outcomes_ = priors or Priors(), faulty.shape[1]
    most = max(1, ROOM // max(field.columns**2, len(field.paint_of_arm)))
    if outcomes_ > most:
        parts = [faulty[:, first : first + most] for first in range(0, outcomes_, most)]
        return np.concatenate([strengths(field, part, held, priors) for part in parts], axis=1)
    theta = Theta(*(np.full(outcomes_, one) for one in (HELD_MAKER, HELD_CELL, *held.stacked()[2:, 0])))
    problem = pose(field, beta_binomials(field, faulty), priors)
    mode, root = find_each(problem, theta, 1e-4)
    contrasts = contrasts_of(field)
    spread = np.matmul(root, contrasts.T.toarray())
    return np.asarray((contrasts @ mode) / np.sqrt((spread**2).sum(axis=1)).T)


def contrasts_of(field: PooledField) -> Any:
    """Return the effect of each unit as weights of field columns: a + g of a cell, a + mean g of a maker; (U, G)."""
    entries = []
    for row, unit in enumerate(units_of(field)):
        cells = cells_of(field, unit)
        entries.append((row, field.blocks["a"].start + int(field.maker_of_cell[cells[0]]), 1.0))
        entries += [(row, field.blocks["g"].start + int(cell), 1 / len(cells)) for cell in cells]
    rows, columns, values = zip(*entries, strict=True)
    return sparse.csr_array((values, (rows, columns)), shape=(len(units_of(field)), field.columns))


def fit_fair(
    field: PooledField, guilty: Sequence[AccusedUnit], *, priors: Priors | None = None, seed: int = 0
) -> FairFit:
    """Return the fit of `field` without maker effects, but for the cells of `guilty`, which take one of their own."""
    priors = priors or Priors()
    scales = (SMALLEST_SCALE, SMALLEST_SCALE, *priors.scales[2:])
    own = tuple(sorted({int(cell) for unit in guilty for cell in cells_of(field, unit)}))
    fair = replace(priors, scales=scales, tails=None, own=own)
    found: Posterior = fit(field, fair, seed=seed, effort=NULL_EFFORT)
    x = found.draws.x.copy()
    x[field.blocks["a"]], x[field.blocks["g"]] = 0.0, 0.0
    return FairFit(x, found.theta, Theta(*found.theta.stacked().mean(axis=1, keepdims=True)))


def fair_outcomes(field: PooledField, fair: FairFit, size: int, rng: np.random.Generator) -> IntArray:
    """Return `size` fair outcomes of the purchases of `field`, shape (L, size); paints are drawn anew."""
    pick = rng.integers(0, fair.x.shape[1], size)
    d = rng.normal(size=(len(field.paints), size)) * fair.theta.s_d[pick]
    return outcomes(field, field.matrix @ fair.x[:, pick] + d[field.paint_of_arm], fair.theta.rho[pick], rng)


def check_units(
    field: PooledField,
    suspects: Sequence[AccusedUnit],
    *,
    line: float = LINE,
    seed: int = 0,
    most: int | None = None,
    stop: Callable[[], bool] = lambda: False,
) -> tuple[Verdict, ...]:
    """Return how often a fair field shows something as strong as each suspect, the strongest first.

    The strongest suspect is checked against a field in which nobody differs. If it passes, what overlaps it - a
    maker's format and the maker - is explained by it, and the strongest of the rest is checked against a field in
    which only those that passed differ; once one does not pass, weaker ones are read off the same fair fields and the
    check ends.

    Parameters
    ----------
    field
        What was tested.
    suspects
        Units past the floor.
    line
        p-value that the caller will compare with, already divided among criteria.
    seed
        Same field, suspects and seed, same verdicts.
    most
        Most fair fields drawn for one suspect; `MOST`, or `AT_MOST` for the line if that is more, when None. Nobody
        passes before `ENOUGH` for the line are drawn, or `most` where that is less.
    stop
        Asked between batches; True ends the check with what it has.
    """
    return check_against(
        field, suspects, lambda guilty: _yardstick(field, guilty, seed), line=line, seed=seed, most=most, stop=stop
    )


@dataclass(frozen=True, slots=True)
class Yardstick:
    """A fair field to measure with.

    Parameters
    ----------
    observed
        The statistic of each unit of `units_of(field)` as seen, shape (U,).
    draw
        Returns the same for so many fair fields, shape (U, size), by a generator of random numbers.
    held
        Scales that the statistic holds.
    """

    observed: FloatArray
    draw: Callable[[int, np.random.Generator], FloatArray]
    held: tuple[float, ...] = ()


def check_against(
    field: PooledField,
    suspects: Sequence[AccusedUnit],
    yardstick: Callable[[Sequence[AccusedUnit]], Yardstick],
    *,
    line: float,
    seed: int,
    most: int | None,
    stop: Callable[[], bool],
) -> tuple[Verdict, ...]:
    """Return what `check_units` does; `yardstick` gives the fair field in which only given units differ."""
    held: list[AccusedUnit] = []
    found: list[Verdict] = []
    waiting, most = list(suspects), most or max(MOST, math.ceil(AT_MOST / line))
    while waiting and not stop():
        fair = yardstick(held)
        waiting = _by_strength(field, waiting, fair.observed)
        verdicts = _verdicts(field, waiting, fair, line, (seed, len(held), most), stop)
        if verdicts[0].p_value > line:
            return (*found, *verdicts)
        found.append(verdicts[0])
        held.append(waiting[0])
        mine = set(cells_of(field, waiting[0]).tolist())
        waiting = [unit for unit in waiting[1:] if not mine & set(cells_of(field, unit).tolist())]
    return tuple(found)


def _yardstick(field: PooledField, guilty: Sequence[AccusedUnit], seed: int) -> Yardstick:
    fair = fit_fair(field, guilty, seed=seed)
    observed = strengths(field, field.faulty[field.row_of_lot][:, None], fair.held)[:, 0]
    return Yardstick(
        observed,
        lambda size, rng: strengths(field, fair_outcomes(field, fair, size, rng), fair.held),
        tuple(fair.held.stacked()[:, 0].tolist()),
    )


def _some(field: PooledField, units: Sequence[AccusedUnit], every: FloatArray) -> FloatArray:
    place = {unit: row for row, unit in enumerate(units_of(field))}
    return np.asarray(every[[place[unit] for unit in units]])


def _by_strength(field: PooledField, units: Sequence[AccusedUnit], every: FloatArray) -> list[AccusedUnit]:
    order = np.argsort(-_some(field, units, every), kind="stable")
    return [units[place] for place in order]


def _verdicts(
    field: PooledField,
    units: Sequence[AccusedUnit],
    fair: Yardstick,
    line: float,
    run: tuple[int, int, int],
    stop: Callable[[], bool],
) -> list[Verdict]:
    """Draw fair fields until it is clear on which side of `line` the first of `units` lies."""
    seed, turn, most = run
    mine = _some(field, units, fair.observed)
    rng, fields, as_strong = np.random.default_rng([seed, turn, 1]), 0, np.zeros(len(units), dtype=np.int64)
    top, least = np.zeros(0), min(most, math.ceil(ENOUGH / line))
    while fields < most and not stop():
        strongest = fair.draw(BATCH, rng).max(axis=0)
        as_strong += (strongest[None, :] >= mine[:, None]).sum(axis=1)
        top = np.sort(np.concatenate([top, strongest]))[::-1][:TOP]
        fields += BATCH
        passes = as_strong[0] + 1 <= line * (fields + 1)
        if is_clear(int(as_strong[0]), fields, line) and (fields >= least or not passes):
            break
    kept = tuple(top.round(6).tolist())
    each = zip(units, mine, as_strong, strict=True)
    return [Verdict(unit, float(strength), int(k), fields, fair.held, kept) for unit, strength, k in each]
