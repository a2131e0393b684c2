"""What the program would say of one ledger: the decision of the guide on a single criterion, before confirmation."""

from collections.abc import Sequence

import numpy as np
from scipy.stats import fisher_exact

from qcledger.stats.pooled.design import Field, arrange
from qcledger.stats.pooled.fair_field import LINE, Unit, cells_of, check_units, units_of
from qcledger.stats.pooled.fit import fit
from qcledger.stats.pooled.summaries import Posterior
from qcledger.stats.proportion import clopper_pearson_limits
from tests.bench.calibration.oracle import naive, oracle
from tests.bench.calibration.scenarios import HALF, Recipe, Truth

FLOOR, DELTA, SURE = 0.90, 0.10, 0.95


def judge(recipe: Recipe, truth: Truth, seed: int) -> dict[str, object]:
    """Return everything the table counts, as plain values for one line of JSON."""
    field = arrange(truth.lots)
    posterior = fit(field, seed=seed)
    units = units_of(field)
    chance = _chance(posterior)
    suspects = [unit for unit, one in zip(units, chance, strict=True) if one >= FLOOR and enough(field, unit)]
    verdicts = check_units(field, suspects, seed=seed)
    held = [verdict for verdict in verdicts if verdict.p_value <= LINE]
    accused = max(held, key=lambda verdict: verdict.strength).unit if held else None
    ratio = oracle(field, truth, recipe.bump or HALF)
    best = int(ratio.argmax())
    low, high = np.quantile(posterior.cell_rate, [0.025, 0.975], axis=1)
    return {
        "accused": _name(field, accused),
        "held": [_name(field, verdict.unit) for verdict in held],
        "suspects": len(suspects),
        "least_p": min((verdict.p_value for verdict in verdicts), default=1.0),
        "most_chance": float(chance.max()),
        "guilty": truth.guilty,
        "innocent_accused": accused is not None and _innocent(field, truth, accused),
        "pigment": _hard(posterior, "pigment"),
        "format": _hard(posterior, "format"),
        "lot": bad_lot(truth),
        "none_found": none_found(field),
        "oracle": float(ratio.max()),
        "oracle_unit": _name(field, units[best]),
        "naive": len(naive(field)),
        "warnings": posterior.health.warnings,
        "width": float(np.mean(high - low)),
    }


def _chance(posterior: Posterior) -> np.ndarray:
    """Return P(effect > 0) of each unit."""
    cells, makers = (posterior.own > 0).mean(axis=1), (posterior.maker_own > 0).mean(axis=1)
    kinds = {"cell": cells, "maker": makers}
    return np.array([kinds[unit.kind][unit.index] for unit in units_of(posterior.field)])


def enough(field: Field, unit: Unit) -> bool:
    """Say whether `unit` has the minimum evidence: 3 paints, 3 lots, faults in 2 of each, peers for 3 pigments."""
    inside = np.isin(field.cell_of_arm[field.arm_of_row], cells_of(field, unit))
    paint = field.paint_of_arm[field.arm_of_row]
    faulty = inside & (field.faulty > 0)
    if len(set(paint[inside])) < 3 or field.lots[inside].sum() < 3:
        return False
    if len(set(paint[faulty])) < 2 or field.lots[faulty].sum() < 2:
        return False
    return _pigments_with_peers(field, set(paint[inside])) >= 3


def _pigments_with_peers(field: Field, paints: set[int]) -> int:
    sellers = np.zeros((len(field.makers), len(field.pigments)), dtype=bool)
    mix = field.mix.tocoo()
    sellers[field.maker_of_paint[mix.row], mix.col] = True
    mine = {int(p) for k, p in zip(mix.row, mix.col, strict=True) if k in paints}
    return sum(1 for p in mine if sellers[:, p].sum() >= 4)


def bad_lot(truth: Truth) -> list[int]:
    """Return lots with 2 or more faulty beside 2 sound lots of their paint and format, Fisher exact p <= 2 %."""
    groups: dict[object, list[int]] = {}
    for place, lot in enumerate(truth.lots):
        groups.setdefault((lot.paint, lot.format), []).append(place)
    return [place for group in groups.values() for place in group if _stands_out(truth, place, group)]


def _stands_out(truth: Truth, place: int, group: Sequence[int]) -> bool:
    lot, others = truth.lots[place], [truth.lots[other] for other in group if other != place]
    if lot.faulty < 2 or sum(other.faulty == 0 for other in others) < 2:
        return False
    faulty, tested = sum(other.faulty for other in others), sum(other.tested for other in others)
    table = [[lot.faulty, lot.tested - lot.faulty], [faulty, tested - faulty]]
    return bool(fisher_exact(table, alternative="greater").pvalue <= LINE)


def none_found(field: Field) -> list[list[int]]:
    """Return cells called *none found* by the lot-aware upper limit below field + 2 delta, 5 specimens of 2 lots."""
    cell, size = field.cell_of_arm[field.arm_of_row], len(field.cells)
    tested = np.bincount(cell, field.tested * field.lots, minlength=size)
    lots = np.bincount(cell, field.lots, minlength=size)
    square = np.bincount(cell, field.tested**2 * field.lots, minlength=size)
    faulty = np.bincount(cell, field.faulty * field.lots, minlength=size)
    # Effective specimens as if a lot were half alike: the check is the cell's own, and rho is not known from a cell.
    effective = tested / (1 + 0.5 * (square / tested - 1))
    some = np.round(faulty * effective / tested)
    high = clopper_pearson_limits(some, np.maximum(np.floor(effective), np.maximum(some, 1)))[1]
    below = (high < faulty.sum() / tested.sum() + 2 * DELTA) & (tested >= 5) & (lots >= 2)
    return [[field.makers[m], field.formats[f]] for m, f in (field.cells[c] for c in np.flatnonzero(below))]


def _hard(posterior: Posterior, kind: str) -> list[object]:
    """Return pigments or formats whose field rate is surely above the mean of the others by more than delta."""
    rate = posterior.pigment_rate if kind == "pigment" else posterior.format_rate
    names = posterior.field.pigments if kind == "pigment" else posterior.field.formats
    others = (rate.sum(axis=0) - rate) / max(len(rate) - 1, 1)
    sure = ((rate - others) > DELTA).mean(axis=1) >= SURE
    return [str(names[place]) for place in np.flatnonzero(sure)]


def _name(field: Field, unit: Unit | None) -> list[object] | None:
    if unit is None:
        return None
    if unit.kind == "maker":
        return ["maker", field.makers[unit.index], -1]
    maker, format_ = field.cells[unit.index]
    return ["cell", field.makers[maker], field.formats[format_]]


def _innocent(field: Field, truth: Truth, unit: Unit) -> bool:
    """Say whether the true effect of `unit` is at or under the field's."""
    cells = [field.cells[c] for c in cells_of(field, unit)]
    effects = [truth.effects[field.makers[m], field.formats[f]] for m, f in cells]
    return bool(np.mean(effects) <= 0)
