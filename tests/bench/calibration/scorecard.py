"""A scorecard of many criteria: the same specimens judged on twelve, which share the line of an accusation."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from qcledger.findings import find, gather
from qcledger.findings.model import question
from qcledger.findings.pool import Pool
from qcledger.findings.stress import Worries
from qcledger.records import TestedRow
from qcledger.vocab import Extent, Standing
from tests.bench.calibration.program import REACHED, Said, cheaply, claimed, rows_of
from tests.bench.calibration.scenarios import HALF, SMALL, Recipe, Truth, graded, looked_at, make
from tests.findings.made import criterion, only

CRITERIA = 12


def scorecard(guilty: bool, rho: float, seed: tuple[int, int], number: int) -> dict[str, object]:
    """Return who is accused on any of twelve criteria; `guilty`, one maker's format is at 50 % on the first."""
    truth, rng = make(Recipe(SMALL, rho), seed), np.random.default_rng([*seed, 4])
    whom = ("cell", int(rng.integers(12)), int(rng.integers(2))) if guilty else None
    criteria = [criterion(f"c{place}") for place in range(CRITERIA)]
    rows = [
        one for place in range(CRITERIA) for one in _judged(truth, f"c{place}", whom if place == 0 else None, rng)
    ]
    evidence = gather(rows, only(*criteria))
    pool = Pool({}.get, Worries({}))
    waiting = Said(find(evidence, pool=pool).findings, (), ())
    able = {
        one.criterion.key
        for one in waiting.findings
        for claim in (one.claim, *one.exceptions)
        if claim and claim.standing is Standing.CHECKING
    }
    asked = [one for key, one in pool.missing.items() if key in able]
    kept = {one.key: cheaply(question(one.field, one.suspects, one.line)) for one in asked}
    accused = {
        (one.criterion.key, *claimed(claim))
        for one in find(evidence, pool=Pool(kept.get, Worries({}))).findings
        for claim in (one.claim, *one.exceptions)
        if claim and claim.extent in (Extent.MAKER, Extent.MAKER_FORMAT) and claim.standing in REACHED
    }
    return {"guilty": whom and ("c0", *whom), "accused": sorted(accused), "able": len(able)}


def _judged(
    truth: Truth, key: str, whom: tuple[str, int, int] | None, rng: np.random.Generator
) -> Iterator[TestedRow]:
    """Yield the ledger's specimens judged anew on one criterion."""
    lots, grades = [], []
    for lot, eta, paint in zip(truth.lots, truth.eta, truth.paint, strict=True):
        bump = HALF if whom == ("cell", lot.maker, lot.format) else 0.0
        read = graded(eta + paint + bump, lot.tested, truth.rho, rng)
        lots.append(replace(lot, faulty=read[0][1] + read[1][1]))
        grades.append(looked_at(read, rng))
    for place, one in enumerate(rows_of(replace(truth, lots=tuple(lots), grades=tuple(grades)))):
        yield replace(
            one, criterion=key, observation=f"{key}.{place}", specimen=f"s{place}", trial=f"t{place}", at=_SAME
        )


_SAME = next(rows_of(make(Recipe(SMALL, 0.5), (0, 0)))).at
