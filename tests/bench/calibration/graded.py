"""What grades add to faults: the fair-field check by either, on the same small ledgers.

*two kinds*: the scenarios' own grades, where a specimen is sound or faulty and its grade only tells how it looks;
*one scale*: all grades move together, as of hardness or strength: a latent logistic, cut where 60, 85, 92, 96 and 98
% of a fair field lie below, so that the fault line of 3 is passed by 8 %.
"""

from dataclasses import replace

import numpy as np
from scipy.special import logit

from qcledger.stats.pooled.design import arrange
from qcledger.stats.pooled.fair_field import LINE, check_units, units_of
from qcledger.stats.pooled.graded_check import check_grades
from qcledger.stats.pooled.grades import GradedLot
from tests.bench.calibration.judge import name_of
from tests.bench.calibration.program import said_of
from tests.bench.calibration.scenarios import HALF, PAINT_SD, SMALL, Recipe, Truth, make

BELOW = (0.60, 0.85, 0.92, 0.96, 0.98)
FAULT_LINE = 3


def both(one_scale: bool, rho: float, guilty: bool, seed: tuple[int, int], number: int) -> dict[str, object]:
    """Return who is accused by faults and by grades in one ledger, with its strongest unit's p-value."""
    recipe = Recipe(SMALL, rho, at="cell" if guilty else "", bump=HALF if guilty else 0.0)
    truth = make(recipe, seed)
    if one_scale:
        truth = _on_one_scale(truth, np.random.default_rng([*seed, 3]))
    field = arrange(truth.lots)
    names = said_of(truth, strict=False).able
    able = [unit for unit in units_of(field) if name_of(field, unit) in names]
    lots = [
        GradedLot(maker=lot.maker, format=lot.format, paint=lot.paint, pigments=lot.pigments, grades=grades)
        for lot, grades in zip(truth.lots, truth.grades, strict=True)
    ]
    found: dict[str, object] = {"guilty": truth.guilty}
    checked = {"faults": check_units(field, able, seed=number), "grades": check_grades(lots, able, seed=number)}
    for how, verdicts in checked.items():
        first = verdicts[0] if verdicts else None
        found[how] = name_of(field, first.unit) if first and first.p_value <= LINE else None
        found[f"p_{how}"] = round(first.p_value, 5) if first else 1.0
    return found


def _on_one_scale(truth: Truth, rng: np.random.Generator) -> Truth:
    """Return the same purchases with grades of a latent logistic, its lots normal about their arm."""
    middle = np.median(truth.eta)
    effect = np.array([truth.effects[lot.maker, lot.format] for lot in truth.lots])
    lot_sd = np.pi * np.sqrt(truth.rho / (1 - truth.rho) / 3)
    paints = {paint: rng.normal(0, PAINT_SD) for paint in dict.fromkeys(lot.paint for lot in truth.lots)}
    # The latent is wider than a logistic by what varies between specimens, so cut points and effects are too.
    wide = np.sqrt(1 + 3 / np.pi**2 * (lot_sd**2 + PAINT_SD**2 + np.var(truth.eta)))
    cuts = logit(np.array(BELOW)) * wide
    grades = []
    for lot, eta, own in zip(truth.lots, truth.eta - middle, effect * wide, strict=True):
        level = eta + own + paints[lot.paint] + rng.normal(0, lot_sd)
        grades.append(tuple(float((level + one > cuts).sum()) for one in rng.logistic(size=lot.tested)))
    faulty = [sum(grade >= FAULT_LINE for grade in some) for some in grades]
    lots = [replace(lot, faulty=count) for lot, count in zip(truth.lots, faulty, strict=True)]
    return replace(truth, lots=tuple(lots), grades=tuple(grades))
