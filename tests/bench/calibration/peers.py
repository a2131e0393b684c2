"""Ledgers whose rubric takes something else than pigments to make peers: who is accused, and whether rightly."""

from qcledger.stats.pooled.design import arrange
from qcledger.vocab import Extent, Standing
from tests.bench.calibration.judge import mean_effect
from tests.bench.calibration.oracle import naive
from tests.bench.calibration.program import said_of
from tests.bench.calibration.scenarios import Recipe, make


def by_peers(recipe: Recipe, seed: tuple[int, int], _: int) -> dict[str, object]:
    """Return what the program says of one ledger, and what is true of it, as plain values."""
    truth = make(recipe, seed)
    said = said_of(truth, strict=False)
    return {
        "accused": said.accused,
        "able": len(said.able),
        "guilty": truth.guilty,
        "innocent": any(mean_effect(truth, name) <= 0 for name in said.accused),
        "groups": [name for name, *_ in said.claims(Extent.PIGMENT, standings=(Standing.SETTLED,))],
        "naive": len(naive(arrange(truth.lots))),
    }
