"""What is kept of one ledger: what the program says of it, what is true of it, and what others would have said."""

from collections.abc import Iterator

import numpy as np
from scipy.special import expit

from qcledger.stats.pooled.design import PooledField, arrange
from qcledger.stats.pooled.fair_field import AccusedUnit, units_of
from qcledger.vocab import Extent, Standing
from tests.bench.calibration.oracle import NODES, WEIGHTS, naive, oracle
from tests.bench.calibration.program import FORMATS, Name, Said, said_of
from tests.bench.calibration.scenarios import HALF, Recipe, Truth

DELTA = 0.10
"""A difference in true rates that matters, as a share of specimens."""


def judge(recipe: Recipe, truth: Truth, *, strict: bool = False) -> dict[str, object]:
    """Return everything the table counts, as plain values for one line of JSON; `strict` as for `said_of`."""
    said, field = said_of(truth, strict=strict), arrange(truth.lots)
    ratio = oracle(field, truth, recipe.bump or HALF)
    return {
        "accused": said.accused,
        "able": len(said.able),
        "strongest": next(iter(said.fair), None),
        "guilty": truth.guilty,
        "innocent_accused": any(mean_effect(truth, name) <= 0 for name in said.accused),
        "under_delta": any(true_excess(truth, name) <= DELTA for name in said.accused),
        "pigment": list(_named(said, truth, Extent.PIGMENT)),
        "format": list(_named(said, truth, Extent.FORMAT)),
        "lot": lots_named(said),
        "paint": sorted(_narrow(said, Extent.PAINT)),
        "parcel": sorted(_narrow(said, Extent.PARCEL)),
        **_planted(recipe, truth),
        **({"none_found": none_found(said)} if recipe.at in {"cell", "maker"} else {}),
        "oracle": round(float(ratio.max()), 4),
        "oracle_unit": name_of(field, units_of(field)[int(ratio.argmax())]),
        "naive": len(naive(field)),
    }


def _named(said: Said, truth: Truth, extent: Extent) -> Iterator[tuple[str, float]]:
    """Yield each pigment or format named, with its true excess over the others."""
    for subject in said.claims(extent, standings=(Standing.SETTLED,)):
        yield subject[0], round(wide_excess(truth, extent, subject[0]), 4)


def lots_named(said: Said) -> list[int]:
    """Return the places of the lots that are named, to be confirmed or settled."""
    claims = said.claims(Extent.LOT).values()
    return [int(str(claim.lots[0].row.lot_code)[1:]) for claim in claims]


def _narrow(said: Said, extent: Extent) -> set[tuple[int, int]]:
    """Return maker and paint of each paint, or of the first lot of each parcel, that is named."""
    firsts = [claim.lots[0].row for claim in said.claims(extent).values()]
    return {(int(row.maker), int(row.paint_name[1:])) for row in firsts}


def none_found(said: Said) -> list[tuple[int, int]]:
    """Return maker and format of the cells in which none was found."""
    return [
        (int(one.maker), FORMATS.index(one.format)) for one in said.findings if one.standing is Standing.NONE_FOUND
    ]


def _planted(recipe: Recipe, truth: Truth) -> dict[str, object]:
    """Return the name of the planted pigment or format and how much harder it truly is, where there is one."""
    if recipe.at not in {"pigment", "format"} or truth.guilty is None:
        return {}
    kind, which, _ = truth.guilty
    extent, name = (Extent.PIGMENT, f"P{which:02d}") if kind == "pigment" else (Extent.FORMAT, str(FORMATS[which]))
    return {"planted": (name, round(wide_excess(truth, extent, name), 4))}


def wide_excess(truth: Truth, extent: Extent, name: str) -> float:
    """Return the true rate of a pigment or format less that of the others, averaged over the lots of a fair maker."""
    rate = expit(truth.eta[:, None] + truth.paint_sd * NODES) @ (WEIGHTS / WEIGHTS.sum())
    of_format = extent is Extent.FORMAT
    inside = np.array([
        str(FORMATS[lot.format]) == name if of_format else name in lot.pigments for lot in truth.lots
    ])  # fmt: skip
    return float(rate[inside].mean() - rate[~inside].mean()) if 0 < inside.sum() < len(inside) else 0.0


def name_of(field: PooledField, unit: AccusedUnit) -> Name:
    """Return a unit of the model as a `Truth` names it."""
    if unit.kind == "maker":
        return ("maker", int(str(field.makers[unit.index])), -1)
    maker, format_ = field.cells[unit.index]
    return ("cell", int(str(field.makers[maker])), int(str(field.formats[format_])))


def mean_effect(truth: Truth, name: Name) -> float:
    """Return the mean true effect of the cells of a unit, on the logit scale; 0 or less is innocence."""
    return float(np.mean([truth.effects[cell] for cell in _cells(name)]))


def true_excess(truth: Truth, name: Name) -> float:
    """Return the true rate of a unit less that of a fair maker, averaged over all lots of the same formats."""
    found = []
    for maker, format_ in _cells(name):
        eta = truth.eta[[lot.format == format_ for lot in truth.lots]][:, None] + truth.paint_sd * NODES
        gap = expit(eta + truth.effects[maker, format_]) - expit(eta)
        found.append((gap @ (WEIGHTS / WEIGHTS.sum())).mean())
    return float(np.mean(found))


def _cells(name: Name) -> list[tuple[int, int]]:
    kind, maker, format_ = name
    return [(maker, f) for f in range(len(FORMATS))] if kind == "maker" else [(maker, format_)]
