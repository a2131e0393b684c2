"""Put a criterion to the pooled model: lots in, `Pooled` out; heavy to load, so only what works it out loads it."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np
from scipy.stats import beta

from qcledger.findings.checks import DELTA, chance
from qcledger.findings.field import CriterionField
from qcledger.findings.finding import Chance, Check, CheckName
from qcledger.findings.pooled import FLOOR, QUANTILES, Accused, Estimate, Fair, Key, Level, Pooled, Reach, fields_for
from qcledger.findings.strength import Family, Suspect
from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.design import PooledField as Design
from qcledger.stats.pooled.design import PooledLot as ModelLot
from qcledger.stats.pooled.design import arrange
from qcledger.stats.pooled.fair_field import (
    BATCH,
    AccusedUnit,
    check_units,
    fair_outcomes,
    fit_fair,
    strengths,
    units_of,
)
from qcledger.stats.pooled.fit import fit
from qcledger.stats.pooled.priors import Theta
from qcledger.stats.pooled.summaries import Posterior, Summary, above_others

_FEWER = 2
"""Fair fields for stress checks, times the line: one as strong among them still passes."""
UNDECLARED = "none declared"
"""Stands for the pigments of a paint whose label names none."""


@dataclass(frozen=True)
class ModelQuestion:
    """One criterion's lots as the model takes them.

    Parameters
    ----------
    lots, keys
        Every lot, and its key.
    planned
        The same lots with only what was bought as planned; None where nothing was.
    suspects
        Whoever shows the pattern of an accusation, with paints and lots enough.
    line
        Largest p-value that the fair-field check should tell apart.
    """

    lots: tuple[ModelLot, ...]
    keys: tuple[Key, ...]
    planned: tuple[ModelLot, ...]
    suspects: tuple[Accused, ...]
    line: float


def question(field: CriterionField, suspects: Sequence[Accused], line: float) -> ModelQuestion:
    """Return a criterion's field as the model takes it."""
    numbers = np.flatnonzero(field.tested > 0).tolist()
    rows, names = field.shelf.rows, field.shelf.key.names
    planned_faulty, planned_tested = field.as_planned.faulty, field.as_planned.tested

    def lot(number: int, tested: int, faulty: int) -> ModelLot:
        row = rows[number]
        pigments = tuple(sorted(row.pigments)) or (UNDECLARED,)
        # A paint whose pigments changed between two lots is two paints to the model.
        paint = (row.maker, row.paint, *pigments)
        return ModelLot(
            maker=row.maker, format=str(row.format), paint=paint, pigments=pigments, tested=tested, faulty=faulty
        )

    return ModelQuestion(
        lots=tuple(lot(n, int(field.tested[n]), int(field.faulty[n])) for n in numbers),
        keys=tuple(_texts(names[n]) for n in numbers),
        planned=tuple(lot(n, int(planned_tested[n]), int(planned_faulty[n])) for n in numbers if planned_tested[n]),
        suspects=tuple(suspects),
        line=line,
    )


def answer(asked: ModelQuestion, stop: Callable[[], bool] = lambda: False) -> Pooled:
    """Return the model's answer; the same question has the same answer.

    Parameters
    ----------
    asked
        At least one lot.
    stop
        Asked now and then; True ends the fair-field check with what it has.
    """
    design = arrange(asked.lots)
    found = fit(design)
    cells = [(str(design.makers[m]), str(design.formats[f])) for m, f in design.cells]
    fewer = _thinned(found)
    pooled = Pooled(
        cells=dict(zip(cells, _reaches(found, "cell"), strict=True)),
        makers=dict(zip(map(_single, design.makers), _reaches(found, "maker"), strict=True)),
        formats=_levels(
            map(_single, design.formats), found.summarise(found.format_rate), above_others(found.format_rate)
        ),
        pigments=_levels(
            map(_single, design.pigments), found.summarise(found.pigment_rate), above_others(found.pigment_rate)
        ),
        paints=_paints(fewer),
        lots=_lots(fewer, asked.keys),
        fair={},
        line=asked.line,
        warnings=found.health.warnings,
    )
    past = [one for one in asked.suspects if (reach := pooled.reach(one)) and reach.above >= FLOOR]
    return replace(pooled, fair=checked(asked, past, stop)) if asked.planned and past else pooled


def checked(
    asked: ModelQuestion, past: Sequence[Accused], stop: Callable[[], bool] = lambda: False, most: int | None = None
) -> dict[Accused, Fair]:
    """Put suspects to the fair-field check, a maker and its formats side by side.

    The strongest comes first. Where it passes, what overlaps it is explained by it and has no outcome of its own: a
    maker whose one format is the stronger suspect is not accused beyond it. Measured so, 2 % or fewer of fair fields
    accuse somebody; asking makers before their formats called one bad format its maker's habit.
    """
    design = arrange(asked.planned)
    units = {one: unit for one in past if (unit := _unit(design, one)) is not None}
    verdicts = check_units(
        design, list(dict.fromkeys(units.values())), line=asked.line, most=most or fields_for(asked.line), stop=stop
    )
    fair = {verdict.unit: Fair(verdict.as_strong, verdict.fields) for verdict in verdicts}
    return {one: fair[unit] for one, unit in units.items() if unit in fair}


def _unit(design: Design, accused: Accused) -> AccusedUnit | None:
    """Return a suspect as the check knows it; None where nothing of it was planned."""
    maker, format_ = accused
    cells = [
        place
        for place, (m, f) in enumerate(design.cells)
        if design.makers[m] == maker and format_ in (None, design.formats[f])
    ]
    if not cells:
        return None
    # A maker tested in one format is that format to the check.
    whole = AccusedUnit("maker", design.makers.index(maker))
    return whole if format_ is None and whole in units_of(design) else AccusedUnit("cell", cells[0])


def _reaches(found: Posterior, unit: str) -> list[Reach]:
    """Return the posterior of each "cell" or "maker", in the order of the field."""
    rate = found.cell_rate if unit == "cell" else found.maker_rate
    excess = found.cell_excess if unit == "cell" else found.maker_excess
    curves = np.quantile(rate, QUANTILES, axis=1).T.round(5).tolist()
    return [
        Reach(one, more, above, far, tuple(curve))
        for one, more, above, far, curve in zip(
            _listed(found.summarise(rate)),
            _listed(found.summarise(excess)),
            found.probability(unit).tolist(),
            found.probability(unit, DELTA).tolist(),
            curves,
            strict=True,
        )
    ]


def _listed(summary: Summary) -> list[Estimate]:
    columns = np.stack([summary.mean, summary.sd, summary.low, summary.high], axis=1)
    return [Estimate(*values) for values in columns.round(5).tolist()]


def _levels(keys: Iterable[Key], summary: Summary, above: FloatArray) -> dict[Key, Level]:
    return dict(zip(keys, map(Level, _listed(summary), above.round(5).tolist()), strict=True))


def _paints(found: Posterior) -> dict[Key, Level]:
    """Return the rate of each paint in each format."""
    design = found.field
    keys = [
        (str(design.paints[k][1]), str(design.formats[design.cells[cell][1]]))
        for k, cell in zip(design.paint_of_arm.tolist(), design.cell_of_arm.tolist(), strict=True)
    ]
    return _levels(keys, found.summarise(found.arm_rate), found.paint_above())


def _lots(found: Posterior, keys: Sequence[Key]) -> dict[Key, Level]:
    """Return each lot's own rate; its ends are those of the Beta with the same mean and standard deviation."""
    mean, sd = found.lot_rate()
    strength = np.maximum(mean * (1 - mean) / np.maximum(sd, 1e-9) ** 2 - 1, 1e-6)
    low, high = beta.ppf([[0.025], [0.975]], mean * strength, (1 - mean) * strength)
    return _levels(keys, Summary(mean, sd, low, high, found.level), found.lot_above())


def _thinned(found: Posterior, room: int = 4_000_000) -> Posterior:
    """Return fewer draws, evenly spread, for what has many rows: about `room` numbers in all."""
    draws = found.draws
    most = int(np.clip(room // max(len(found.field.tested), 1), 200, len(draws.point)))
    some = np.linspace(0, len(draws.point) - 1, most).astype(np.int64)
    fewer = replace(draws, point=draws.point[some], x=draws.x[:, some], d=draws.d[:, some], pair=draws.pair[some])
    return replace(found, draws=fewer, theta=found.theta.take(some))


def _texts(key: Iterable[object]) -> Key:
    return tuple(map(str, key))


def _single(name: object) -> Key:
    return (str(name),)


@dataclass(frozen=True, eq=False)
class SameFairFields:
    """A `Strength` for stress checks: changed evidence against fair fields drawn once, one mode a look.

    Parameters
    ----------
    held
        Scales held in the statistic.
    strongest
        The strongest unit of each fair field, shape (N,).
    line
        Largest p-value that passes.
    """

    held: Theta
    strongest: FloatArray
    line: float

    @classmethod
    def of(cls, everyone: CriterionField, line: float) -> "SameFairFields":
        """Draw fair fields with the planned purchases of a whole field."""
        design = arrange(question(everyone, (), line).planned)
        fair, rng = fit_fair(design, []), np.random.default_rng(1)
        drawn = [
            strengths(design, fair_outcomes(design, fair, BATCH, rng), fair.held).max(axis=0)
            for _ in range(ceil(_FEWER / line / BATCH))
        ]
        return cls(fair.held, np.concatenate(drawn), line)

    def __call__(self, rest: CriterionField, suspects: Sequence[Suspect], family: Family) -> Sequence[Chance]:
        """Return whether each suspect is still stronger than the fair fields' strongest."""
        whole = replace(rest, shown=np.ones_like(rest.shown))
        planned = question(whole, (), self.line).planned
        if not planned:
            return [Chance((_still(1.0, self.line),), 1.0) for _ in suspects]
        design = arrange(planned)
        found = strengths(design, design.faulty[design.row_of_lot][:, None], self.held)[:, 0]
        of_unit = dict(zip(units_of(design), found.tolist(), strict=True))
        units = [_unit(design, (one.maker, None if one.format is None else str(one.format))) for one in suspects]
        return [Chance((_still(self._p(None if unit is None else of_unit[unit]), self.line),), 1.0) for unit in units]

    def _p(self, strength: float | None) -> float:
        """Return (k + 1) / (N + 1); 1 for what was not bought as planned."""
        beaten = len(self.strongest) if strength is None else int((self.strongest >= strength).sum())
        return (beaten + 1) / (len(self.strongest) + 1)


def _still(p: float, line: float) -> Check:
    return Check(CheckName.FAIR_FIELD, p <= line, chance(p), f"{line:.2g} or less")
