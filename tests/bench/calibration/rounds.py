"""Six rounds of buying by one's own advice in a fair field: who is accused at any look.

In each round six lots of whoever looks worst are bought to confirm it, from sellers not met before, and six lots of
anybody's as planned; then the program looks at everything again.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from qcledger.vocab import Extent, Standing, WhyBought
from tests.bench.calibration.program import Name, Said, said_of
from tests.bench.calibration.scenarios import SMALL, Recipe, Truth, graded, looked_at, make

ROUNDS, BOUGHT = 6, 6


def buying(rho: float, seed: tuple[int, int], number: int) -> dict[str, object]:
    """Return who is accused, and against whom it holds, at each of the looks: before any round and after each."""
    truth, rng = make(Recipe(SMALL, rho), seed), np.random.default_rng([*seed, 2])
    why = [WhyBought.PLANNED] * len(truth.lots)
    accused, held = [], []
    for turn in range(ROUNDS + 1):
        said = said_of(truth, why, strict=False)
        accused.append(said.accused)
        held.append(list(said.claims(Extent.MAKER, Extent.MAKER_FORMAT, standings=(Standing.SETTLED,))))
        if turn < ROUNDS:
            truth, new = _bought(truth, _suspect(said, truth), turn, rng)
            why += new
    return {"accused": accused, "held": held}


def _suspect(said: Said, truth: Truth) -> Name:
    """Return whoever is accused, else the strongest suspect, else the maker's format with the most faults."""
    if said.accused:
        return said.accused[0]
    if said.fair:
        return said.fair[0][0]
    cells = sorted({(lot.maker, lot.format) for lot in truth.lots})
    return ("cell", *max(cells, key=lambda cell: _rate(truth, _inside(truth, ("cell", *cell)))))


def _rate(truth: Truth, inside: np.ndarray) -> float:
    faulty, tested = (np.array([getattr(lot, name) for lot in truth.lots])[inside] for name in ("faulty", "tested"))
    return float(faulty.sum() / tested.sum())


def _inside(truth: Truth, suspect: Name) -> np.ndarray:
    _, maker, format_ = suspect
    return np.array([lot.maker == maker and format_ in (-1, lot.format) for lot in truth.lots])


def _bought(truth: Truth, suspect: Name, turn: int, rng: np.random.Generator) -> tuple[Truth, Sequence[WhyBought]]:
    """Add lots of the suspect's paints and of anybody's, each side in a parcel of its own round."""
    mine = rng.choice(np.flatnonzero(_inside(truth, suspect)), BOUGHT)
    pick = np.concatenate([mine, rng.choice(len(truth.lots), BOUGHT)])
    lots, grades = [], []
    for place in pick.tolist():
        tested = int(rng.integers(1, 3))
        read = graded(truth.eta[place] + truth.paint[place], tested, truth.rho, rng)
        lots.append(replace(truth.lots[place], tested=tested, faulty=read[0][1] + read[1][1]))
        grades.append(looked_at(read, rng))
    more = replace(
        truth,
        lots=(*truth.lots, *lots),
        grades=(*truth.grades, *grades),
        eta=np.append(truth.eta, truth.eta[pick]),
        paint=np.append(truth.paint, truth.paint[pick]),
        session=np.append(truth.session, rng.integers(0, 4, len(pick))),
        parcel=np.append(truth.parcel, np.repeat([10 + 2 * turn, 11 + 2 * turn], BOUGHT)),
    )
    return more, [WhyBought.TO_CONFIRM] * BOUGHT + [WhyBought.PLANNED] * BOUGHT
