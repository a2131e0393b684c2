"""Six rounds of buying by one's own advice in a fair field: who is accused at any look.

In each round six lots of whoever looks worst are bought and six of anybody's, and the field is looked at again. Two
ways to count are compared: *everything* bought enters the model, and *as the program does*: only what was bought as
planned enters the model, and what was bought because it looked bad has to bear the accusation out on its own.
"""

from dataclasses import replace

import numpy as np
from scipy.stats import binom

from qcledger.stats.pooled.design import Field, Lot, arrange
from qcledger.stats.pooled.fair_field import LINE, Unit, cells_of, check_units, units_of
from tests.bench.calibration.judge import enough, name_of
from tests.bench.calibration.scenarios import SMALL, Recipe, Truth, graded, make

ROUNDS, BOUGHT = 6, 6
CONFIRMING, LEVEL = 2, 0.05
"""Faulty specimens among those bought to confirm, and the level at which they must exceed the peers' rate."""


def buying(rho: float, seed: tuple[int, int], number: int) -> dict[str, object]:
    """Return who is accused at each look, by everything and as the program does."""
    truth, rng = make(Recipe(SMALL, rho), seed), np.random.default_rng([*seed, 2])
    looks, planned = [], None
    for turn in range(ROUNDS):
        accused = _accused(truth, number)
        looks.append(accused and name_of(*accused))
        if turn == 0:
            planned, suspect = accused, accused or _worst(truth)
        if planned is None:
            suspect = accused or _worst(truth)
        truth = _bought(truth, suspect, rng)
    first = len(make(Recipe(SMALL, rho), seed).lots)
    confirmed = planned is not None and any(_confirmed(truth, planned, first, turn) for turn in range(1, ROUNDS + 1))
    return {"looks": looks, "planned": planned and name_of(*planned), "confirmed": confirmed}


def _accused(truth: Truth, number: int) -> tuple[Field, Unit] | None:
    field = arrange(truth.lots)
    verdicts = check_units(field, [unit for unit in units_of(field) if enough(field, truth, unit)], seed=number)
    return (field, verdicts[0].unit) if verdicts and verdicts[0].p_value <= LINE else None


def _worst(truth: Truth) -> tuple[Field, Unit]:
    """Return the maker's format with the largest share of faulty specimens."""
    field = arrange(truth.lots)
    cell = field.cell_of_arm[field.arm_of_row]
    faulty, tested = (np.bincount(cell, values * field.lots) for values in (field.faulty, field.tested))
    return field, Unit("cell", int((faulty / tested).argmax()))


def _inside(truth: Truth, suspect: tuple[Field, Unit]) -> np.ndarray:
    field, unit = suspect
    cells = {(field.makers[m], field.formats[f]) for m, f in (field.cells[c] for c in cells_of(field, unit))}
    return np.array([(lot.maker, lot.format) in cells for lot in truth.lots])


def _bought(truth: Truth, suspect: tuple[Field, Unit], rng: np.random.Generator) -> Truth:
    """Add lots of the suspect's paints and of anybody's, each in a parcel of the round and one of the sessions."""
    pick = np.concatenate([
        rng.choice(np.flatnonzero(_inside(truth, suspect)), BOUGHT), rng.choice(len(truth.lots), BOUGHT)
    ])  # fmt: skip
    new = [_lot(truth, int(place), rng) for place in pick]
    return replace(
        truth,
        lots=(*truth.lots, *new),
        eta=np.append(truth.eta, truth.eta[pick]),
        paint=np.append(truth.paint, truth.paint[pick]),
        session=np.append(truth.session, rng.integers(0, 4, len(pick))),
        parcel=np.append(truth.parcel, rng.integers(10, 13, len(pick))),
    )


def _lot(truth: Truth, place: int, rng: np.random.Generator) -> Lot:
    tested = int(rng.integers(1, 3))
    read = graded(truth.eta[place] + truth.paint[place], tested, truth.rho, rng)
    return replace(truth.lots[place], tested=tested, faulty=read[0][1] + read[1][1])


def _confirmed(truth: Truth, suspect: tuple[Field, Unit], first: int, turn: int) -> bool:
    """Say whether lots of the suspect bought up to `turn` bear it out, beyond the rate of the other makers."""
    mine = _inside(truth, suspect)
    fresh = mine.copy()
    fresh[:first], fresh[first + turn * 2 * BOUGHT :] = False, False
    faulty, tested = (np.array([getattr(lot, name) for lot in truth.lots]) for name in ("faulty", "tested"))
    usual = (faulty[~mine].sum() + 1) / (tested[~mine].sum() + 2)
    seen = faulty[fresh].sum()
    return bool(seen >= CONFIRMING and binom.sf(seen - 1, tested[fresh].sum(), usual) <= LEVEL)
