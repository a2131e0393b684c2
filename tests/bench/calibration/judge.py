"""What the program would say of one ledger: the decision of the guide on a single criterion, before confirmation."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.special import expit
from scipy.stats import fisher_exact

from qcledger.stats.pooled.design import Field, arrange
from qcledger.stats.pooled.fair_field import FLOOR, LINE, Unit, Verdict, cells_of, check_units, units_of
from qcledger.stats.pooled.fit import fit
from qcledger.stats.pooled.summaries import Posterior
from qcledger.stats.pooled.wide import DELTA, Wide, formats, pigments
from qcledger.stats.proportion import clopper_pearson_limits
from tests.bench.calibration.oracle import NODES, WEIGHTS, naive, oracle
from tests.bench.calibration.scenarios import HALF, Recipe, Truth

EXACT = 0.02


def judge(recipe: Recipe, truth: Truth, seed: int, *, whole: bool = True) -> dict[str, object]:
    """Return everything the table counts, as plain values for one line of JSON.

    `whole` False leaves out the posterior where nobody can be accused: the fair-field check of all units with the
    minimum evidence comes first, and where its strongest does not pass no unit of theirs does.
    """
    field = arrange(truth.lots)
    units = units_of(field)
    able = [unit for unit in units if enough(field, truth, unit)]
    first = check_units(field, able, seed=seed)
    # What a pigment or a format explains is charged to nobody: its lots are left out, as the findings do.
    if whole and (rest := unexplained(field, truth, seed)):
        return (
            judge(recipe, rest, seed, whole=False) | _read_off(fit(field, seed=seed), truth) | planted(recipe, truth)
        )
    passed = bool(first) and first[0].p_value <= LINE
    posterior = fit(field, seed=seed) if passed or whole else None
    verdicts = _past_floor(field, able, posterior, first, seed) if passed and posterior else first
    held = [verdict for verdict in verdicts if verdict.p_value <= LINE]
    accused = max(held, key=lambda verdict: verdict.strength).unit if held else None
    ratio = oracle(field, truth, recipe.bump or HALF)
    best = int(ratio.argmax())
    found: dict[str, object] = {
        "accused": name_of(field, accused),
        "held": [name_of(field, verdict.unit) for verdict in held],
        "able": len(able),
        "strongest": [name_of(field, first[0].unit), first[0].as_strong, first[0].fields] if first else None,
        "guilty": truth.guilty,
        "innocent_accused": accused is not None and mean_effect(field, truth, accused) <= 0,
        "under_delta": accused is not None and true_excess(field, truth, accused) <= DELTA,
        "lot": bad_lot(truth),
        **planted(recipe, truth),
        **({"none_found": none_found(field)} if recipe.at in {"cell", "maker"} else {}),
        "oracle": round(float(ratio.max()), 4),
        "oracle_unit": name_of(field, units[best]),
        "naive": len(naive(field)),
    }
    return found | (_read_off(posterior, truth) if posterior else {})


def unexplained(field: Field, truth: Truth, seed: int) -> Truth | None:
    """Return the ledger without the lots of pigments and formats that are named; None where none is."""
    posterior = fit(field, seed=seed)
    hard = {field.pigments[one.index] for one in pigments(posterior) if one.named}
    hard |= {field.formats[one.index] for one in formats(posterior) if one.named}
    keep = [n for n, lot in enumerate(truth.lots) if not hard & {lot.format, *lot.pigments}]
    if not hard or not keep:
        return None
    arrays = {name: getattr(truth, name)[keep] for name in ("eta", "paint", "session", "parcel")}
    lots, grades = ([some[n] for n in keep] for some in (truth.lots, truth.grades))
    return replace(truth, lots=tuple(lots), grades=tuple(grades), **arrays)


def _past_floor(
    field: Field, able: list[Unit], posterior: Posterior, verdicts: tuple[Verdict, ...], seed: int
) -> tuple[Verdict, ...]:
    """Return the verdicts on those of `able` past the floor, which are `verdicts` if all of them are."""
    chance = dict(zip(units_of(field), _chance(posterior), strict=True))
    past = [unit for unit in able if chance[unit] >= FLOOR]
    return verdicts if past == able else check_units(field, past, seed=seed)


def _read_off(posterior: Posterior, truth: Truth) -> dict[str, object]:
    low, high = np.quantile(posterior.cell_rate, [0.025, 0.975], axis=1)
    return {
        "pigment": _named(posterior.field.pigments, pigments(posterior), truth),
        "format": _named(posterior.field.formats, formats(posterior), truth),
        "warnings": posterior.health.warnings,
        "width": round(float(np.mean(high - low)), 4),
    }


def _named(names: Sequence[object], found: Sequence[Wide], truth: Truth) -> list[list[object]]:
    """Return name and true excess over the others of each pigment or format that is named."""
    return [
        [names[one.index], round(wide_excess(truth, one.kind, names[one.index]), 4)] for one in found if one.named
    ]


def planted(recipe: Recipe, truth: Truth) -> dict[str, object]:
    """Return how much harder the planted pigment or format truly is, where there is one."""
    if recipe.at not in {"pigment", "format"} or truth.guilty is None:
        return {}
    kind, which, _ = truth.guilty
    return {"planted": round(wide_excess(truth, kind, f"P{which:02d}" if kind == "pigment" else which), 4)}


def wide_excess(truth: Truth, kind: str, name: object) -> float:
    """Return the true rate of a pigment or format less that of the others, averaged over the lots of a fair maker."""
    rate = expit(truth.eta[:, None] + truth.paint_sd * NODES) @ (WEIGHTS / WEIGHTS.sum())
    inside = np.array([lot.format == name if kind == "format" else name in lot.pigments for lot in truth.lots])
    return float(rate[inside].mean() - rate[~inside].mean()) if 0 < inside.sum() < len(inside) else 0.0


def _chance(posterior: Posterior) -> np.ndarray:
    """Return P(effect > 0) of each unit."""
    cells, makers = (posterior.own > 0).mean(axis=1), (posterior.maker_own > 0).mean(axis=1)
    kinds = {"cell": cells, "maker": makers}
    return np.array([kinds[unit.kind][unit.index] for unit in units_of(posterior.field)])


def enough(field: Field, truth: Truth, unit: Unit) -> bool:
    """Say whether `unit` shows the pattern and has the minimum evidence of the findings.

    Three paints, three lots, faults in two of each and, for a maker, in two formats, none of them free of it; faults
    in two parcels; two valid sessions that hold its peers too; three pigments that three other makers have; and a
    rate more than ten points above the other makers'.
    """
    cells = set(cells_of(field, unit).tolist())
    where = [
        field.cells.index((field.makers.index(lot.maker), field.formats.index(lot.format))) for lot in truth.lots
    ]
    mine = np.isin(where, list(cells))
    bad = mine & np.array([lot.faulty > 0 for lot in truth.lots])
    others = np.array([lot.maker for lot in truth.lots]) != truth.lots[int(mine.argmax())].maker
    ours = set(truth.session[mine].tolist()) & set(truth.session[others].tolist())
    formats_here = [[cell] for cell in cells] if unit.kind == "maker" else []
    return (
        min(len({lot.paint for lot, one in zip(truth.lots, mine, strict=True) if one}), mine.sum()) >= 3
        and min(len({lot.paint for lot, one in zip(truth.lots, bad, strict=True) if one}), bad.sum()) >= 2
        and len(set(truth.parcel[bad].tolist())) >= 2
        and len(ours) >= 2
        and _pigments_with_peers(truth, mine) >= 3
        and all(_excess(truth, np.isin(where, some), others) > DELTA for some in [list(cells), *formats_here])
    )


def _excess(truth: Truth, mine: np.ndarray, others: np.ndarray) -> float:
    """Return the rate seen less that of other makers with the same pigments and format, or of all without any."""
    kinds = {(lot.pigments, lot.format) for lot, one in zip(truth.lots, mine, strict=True) if one}
    peers = others & np.array([(lot.pigments, lot.format) in kinds for lot in truth.lots])
    others = peers if peers.any() else others
    faulty, tested = (np.array([getattr(lot, name) for lot in truth.lots]) for name in ("faulty", "tested"))
    return float(faulty[mine].sum() / tested[mine].sum() - faulty[others].sum() / tested[others].sum())


def _pigments_with_peers(truth: Truth, mine: np.ndarray) -> int:
    sellers: dict[object, set[object]] = {}
    for lot in truth.lots:
        sellers.setdefault((lot.pigments, lot.format), set()).add(lot.maker)
    kinds = {(lot.pigments, lot.format) for lot, one in zip(truth.lots, mine, strict=True) if one}
    return len({pigment for pigment, format_ in kinds if len(sellers[pigment, format_]) >= 4})


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
    return bool(fisher_exact(table, alternative="greater").pvalue <= EXACT)


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


def name_of(field: Field, unit: Unit | None) -> list[object] | None:
    if unit is None:
        return None
    if unit.kind == "maker":
        return ["maker", field.makers[unit.index], -1]
    maker, format_ = field.cells[unit.index]
    return ["cell", field.makers[maker], field.formats[format_]]


def mean_effect(field: Field, truth: Truth, unit: Unit) -> float:
    """Return the mean true effect of the cells of `unit`, on the logit scale; 0 or less is innocence."""
    return float(np.mean([truth.effects[cell] for cell in _true_cells(field, unit)]))


def true_excess(field: Field, truth: Truth, unit: Unit) -> float:
    """Return the true rate of `unit` less that of a fair maker, averaged over all lots of the same formats."""
    found = []
    for maker, format_ in _true_cells(field, unit):
        eta = truth.eta[[lot.format == format_ for lot in truth.lots]][:, None] + truth.paint_sd * NODES
        gap = expit(eta + truth.effects[maker, format_]) - expit(eta)
        found.append((gap @ (WEIGHTS / WEIGHTS.sum())).mean())
    return float(np.mean(found))


def _true_cells(field: Field, unit: Unit) -> list[tuple[int, int]]:
    cells = (field.cells[c] for c in cells_of(field, unit))
    return [(field.makers[m], field.formats[f]) for m, f in cells]
