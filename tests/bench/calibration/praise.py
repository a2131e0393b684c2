"""Praise on a scorecard: twelve criteria of the same specimens, on which a format is hard at most makers.

*alike*: on each criterion a format is as hard at every maker, so nobody is better and whoever is praised is praised
falsely. *ordinary*: makers differ as they do in an ordinary field; praise is false of whoever is truly no better than
the typical maker. *free*: on the first criterion one maker never shows it, misread grades aside; the others are fair.
*spared*: on the first criterion one maker shows no more of it than its other format does; the others are fair.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from qcledger.findings import find, gather
from qcledger.findings.pool import Pool
from qcledger.findings.stress import Worries
from qcledger.records import TestedRow
from qcledger.vocab import Extent, Standing
from tests.bench.calibration.program import FORMATS, rows_of
from tests.bench.calibration.scenarios import (
    FORMAT_SD,
    LEVEL,
    MAKERS,
    PIGMENT_SD,
    SMALL,
    Recipe,
    Size,
    Truth,
    graded,
    looked_at,
    make,
)
from tests.findings.made import criterion, only

CRITERIA = 12
ONE_BETTER = ("free", "spared")
NEVER = 6.0
"""Logits below the level at which next to nothing is truly faulty."""
ORDINARY = (0.5, 0.3)
"""Scales of what makers, and their formats, differ by."""


def praise(
    kind: str, bump: float, rho: float, seed: tuple[int, int], number: int, size: Size = SMALL
) -> dict[str, object]:
    """Return who is praised on any of twelve criteria, and how much better each of them truly is, in logits.

    Parameters
    ----------
    kind
        ``alike``, ``ordinary``, ``free`` or ``spared``.
    bump
        Logits by which a format is harder at most makers.
    rho
        Lot concentration.
    """
    truth, rng = make(Recipe(size, rho), seed), np.random.default_rng([*seed, 6])
    spared = int(rng.integers(MAKERS)) if kind in ONE_BETTER else -1
    keys = [f"c{place}" for place in range(CRITERIA)]
    rows: list[TestedRow] = []
    better: dict[str, np.ndarray] = {}
    for key in keys:
        hard = int(rng.integers(2)) if kind not in ONE_BETTER or key == "c0" else -1
        effects = _effects(kind, rng)
        if hard >= 0:
            effects[:, hard] += bump
        if key == "c0" and spared >= 0:
            effects[spared, hard] -= bump + (NEVER if kind == "free" else 0.0)
        better[key] = np.median(effects, axis=0) - effects
        rows += _judged(truth, key, effects, rng)
    found = find(gather(rows, only(*map(criterion, keys))), pool=Pool({}.get, Worries({}))).findings
    praised = [
        (one.criterion.key, int(one.maker), FORMATS.index(one.format), str(told.maker.extent))
        for one in found
        for told in one.free
    ]
    shared = {
        one.criterion.key
        for one in found
        for claim in (one.claim, *one.exceptions)
        if claim and claim.extent is Extent.FORMAT and claim.standing is Standing.SETTLED
    }
    return {
        "praised": [[*one, round(float(better[one[0]][one[1], one[2]]), 3)] for one in praised],
        "shared": len(shared),
        "named": "c0" in shared,
        "spared": spared,
    }


def _effects(kind: str, rng: np.random.Generator) -> np.ndarray:
    """Return what each maker's formats add, shape (makers, formats)."""
    scales = ORDINARY if kind == "ordinary" else (0.0, 0.0)
    shape = (MAKERS, len(FORMATS))
    return rng.normal(0, 1, (MAKERS, 1)) * scales[0] + rng.normal(0, 1, shape) * scales[1]


def _judged(truth: Truth, key: str, effects: np.ndarray, rng: np.random.Generator) -> Iterator[TestedRow]:
    """Yield the ledger's specimens judged on a criterion of its own pigments, formats and makers."""
    c = {pigment: rng.normal(0, PIGMENT_SD) for pigment in dict.fromkeys(lot.pigments for lot in truth.lots)}
    b = rng.normal(0, FORMAT_SD, len(FORMATS))
    paints = {lot.paint: rng.normal(0, truth.paint_sd) for lot in truth.lots}
    lots, grades = [], []
    for lot in truth.lots:
        eta = LEVEL + c[lot.pigments] + b[lot.format] + paints[lot.paint] + effects[lot.maker, lot.format]
        read = graded(eta, lot.tested, truth.rho, rng)
        lots.append(replace(lot, faulty=read[0][1] + read[1][1]))
        grades.append(looked_at(read, rng))
    for place, one in enumerate(rows_of(replace(truth, lots=tuple(lots), grades=tuple(grades)))):
        named = {"specimen": f"s{place}", "trial": f"t{place}", "observation": f"{key}.{place}"}
        yield replace(one, criterion=key, at=_AT, **named)


_AT = next(rows_of(make(Recipe(SMALL, 0.5), (0, 0)))).at
"""One time for every criterion of a trial."""
