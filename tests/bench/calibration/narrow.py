"""What is said of pigments, paints, lots and parcels in a fair field.

With *level* lots (rho 0.001, pigments and paints all alike) whatever is named is wrong. With rho 0.15 or 0.5 lots
truly differ, so that a named lot may be right; a paint is wrong where its own true effect is not above 0, a parcel
always.
"""

from dataclasses import replace

import numpy as np

from qcledger.findings import gather
from qcledger.vocab import Extent, Standing
from tests.bench.calibration.program import Said, rows_of, worked_out
from tests.bench.calibration.scenarios import Recipe, Size, make
from tests.findings.made import FROTH, only

LEVEL_RHO = 1e-3


def narrow(size: Size, rho: float, seed: tuple[int, int], number: int) -> dict[str, object]:
    """Return how many paints, lots and parcels are named in one fair ledger, and how many of the paints wrongly."""
    level = rho == LEVEL_RHO
    recipe = Recipe(size, rho)
    truth = make(replace(recipe, pigment_sd=0.0, paint_sd=0.0) if level else recipe, seed)
    effect = {lot.paint: float(d) for lot, d in zip(truth.lots, truth.paint, strict=True)}
    said = Said(worked_out(gather(rows_of(truth), only(FROTH)), {}), (), ())
    paints = [
        (int(claim.lots[0].row.maker), int(claim.lots[0].row.paint_name[1:]))
        for claim in said.claims(Extent.PAINT).values()
    ]
    wide = [said.claims(extent, standings=(Standing.SETTLED,)) for extent in (Extent.PIGMENT, Extent.FORMAT)]
    return {
        "pigment": len(wide[0]),
        "format": len(wide[1]),
        "paint": len(paints),
        "wrong_paint": sum(effect[paint] <= 0 for paint in paints),
        "true_effects": [round(effect[paint], 3) for paint in paints],
        "lot": len(said.claims(Extent.LOT)),
        "parcel": len(said.claims(Extent.PARCEL)),
        "tested": int(np.sum([lot.tested for lot in truth.lots])),
    }
