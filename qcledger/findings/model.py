"""Put a criterion to the pooled model: lots in, `Pooled` out; heavy to load, so only what works it out loads it."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from scipy.stats import beta

from qcledger.findings.checks import DELTA
from qcledger.findings.field import CriterionField
from qcledger.findings.pooled import (
    FLOOR,
    QUANTILES,
    Accused,
    Estimate,
    Fair,
    FairFields,
    Key,
    Level,
    Pooled,
    Reach,
    fields_for,
    fingerprint,
)
from qcledger.stats.check import FloatArray
from qcledger.stats.pooled.design import PooledField as Design
from qcledger.stats.pooled.design import PooledLot as ModelLot
from qcledger.stats.pooled.design import arrange
from qcledger.stats.pooled.fair_field import AccusedUnit, check_units, strengths, units_of
from qcledger.stats.pooled.fit import fit
from qcledger.stats.pooled.priors import Theta
from qcledger.stats.pooled.summaries import Posterior, Summary, above_others

UNDECLARED = "none declared"
"""Stands for the group of a paint whose label does not say it."""


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
        # What the design calls pigments is whatever the rubric takes to make peers.
        group = tuple(sorted(row.peer_group)) or (UNDECLARED,)
        # A paint whose group changed between two lots is two paints to the model.
        paint = (row.maker, row.paint, *group)
        return ModelLot(
            maker=row.maker, format=str(row.format), paint=paint, pigments=group, tested=tested, faulty=faulty
        )

    return ModelQuestion(
        lots=tuple(lot(n, int(field.tested[n]), int(field.faulty[n])) for n in numbers),
        keys=tuple(_texts(names[n]) for n in numbers),
        planned=tuple(lot(n, int(planned_tested[n]), int(planned_faulty[n])) for n in numbers if planned_tested[n]),
        suspects=tuple(suspects),
        line=line,
    )


class Checked(NamedTuple):
    """Outcome of the fair-field check of each suspect, and the fair fields of each that passed."""

    fair: dict[Accused, Fair]
    drawn: dict[Accused, FairFields]


def answer(asked: ModelQuestion, stop: Callable[[], bool] = lambda: False, seed: int = 0) -> Pooled:
    """Return the model's answer; the same question has the same answer.

    Parameters
    ----------
    asked
        At least one lot.
    stop
        Asked now and then; True ends the fair-field check with what it has.
    seed
        Of everything drawn. The program keeps to one; others show how little hangs on it.
    """
    design = arrange(asked.lots)
    found = fit(design, seed=seed)
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
        remarks=found.health.remarks,
    )
    past = [one for one in asked.suspects if (reach := pooled.reach(one)) and reach.above >= FLOOR]
    if not (asked.planned and past):
        return pooled
    told = checked(asked, past, stop, seed=seed)
    return replace(pooled, fair=told.fair, drawn=told.drawn)


def checked(
    asked: ModelQuestion,
    past: Sequence[Accused],
    stop: Callable[[], bool] = lambda: False,
    most: int | None = None,
    seed: int = 0,
) -> Checked:
    """Put suspects to the fair-field check, a maker and its formats side by side.

    The strongest comes first. Where it passes, what overlaps it is explained by it and has no outcome of its own: a
    maker whose one format is the stronger suspect is not accused beyond it. Measured so, 2 % or fewer of fair fields
    accuse somebody; asking makers before their formats called one bad format its maker's habit.
    """
    design = arrange(asked.planned)
    units = {one: unit for one in past if (unit := _unit(design, one)) is not None}
    different, most = list(dict.fromkeys(units.values())), most or fields_for(asked.line)
    verdicts = check_units(design, different, line=asked.line, seed=seed, most=most, stop=stop)
    told = {verdict.unit: verdict for verdict in verdicts}
    known = {one: told[unit] for one, unit in units.items() if unit in told}
    return Checked(
        fair={one: Fair(verdict.as_strong, verdict.fields) for one, verdict in known.items()},
        drawn={
            one: FairFields(verdict.held, verdict.fields, verdict.strongest)
            for one, verdict in known.items()
            if verdict.p_value <= asked.line
        },
    )


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


def strength_left(
    rest: CriterionField, accused: Accused, held: Sequence[float], kept: dict[str, FloatArray]
) -> float | None:
    """Return how strong a suspect still is in changed evidence, by the statistic of the fair-field check.

    Parameters
    ----------
    rest
        The changed evidence of the criterion.
    accused
        Whom it is about.
    held
        Scales that the statistic holds: those of the fair fields it is compared with.
    kept
        Answers to the same question, taken from here and put here: two suspects of one field are one question.

    Returns
    -------
    float or None
        None where nothing of the suspect is left that was bought as planned.
    """
    whole = replace(rest, shown=np.ones_like(rest.shown))
    planned = question(whole, (), 1.0).planned
    if not planned:
        return None
    design = arrange(planned)
    unit = _unit(design, accused)
    if unit is None:
        return None
    key = f"{fingerprint(whole, ())} {held}"
    if key not in kept:
        theta = Theta(*np.array(held, np.float64)[:, None])
        kept[key] = strengths(design, design.faulty[design.row_of_lot][:, None], theta)[:, 0]
    return float(kept[key][units_of(design).index(unit)])
