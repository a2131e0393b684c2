"""Run scenarios and keep what was found in each ledger; started again, it goes on where it stopped.

``python -m tests.bench.calibration.run --ledgers 200 --scenario fair_small_0.15`` (all scenarios without --scenario);
`table` prints what is kept. Ledger i of a scenario has the same seed whenever and wherever it runs.
"""

import argparse
import subprocess
import time
import zlib
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial

import numpy as np
from click import progressbar

from qcledger.stats.pooled.design import arrange
from tests.bench.calibration import kept
from tests.bench.calibration.after import after
from tests.bench.calibration.graded import both
from tests.bench.calibration.judge import judge
from tests.bench.calibration.listed import by_the_list
from tests.bench.calibration.narrow import LEVEL_RHO, narrow
from tests.bench.calibration.oracle import oracle
from tests.bench.calibration.peers import by_peers
from tests.bench.calibration.praise import praise
from tests.bench.calibration.rounds import buying
from tests.bench.calibration.sbc import one as sbc
from tests.bench.calibration.scenarios import AFTER, HALF, LARGE, PEERS, SCENARIOS, SMALL, make
from tests.bench.calibration.scorecard import scorecard

EDITION = "4"
"""Lines and levels were chosen on the ledgers of editions 1 and 2 and on others; what is reported was drawn later."""

ORACLES = {"small": 10_000, "large": 2_000}
"""Fair ledgers that the oracle's threshold is taken from: it is read at a rate of one in a thousand."""

KEPT_S = 20
"""Seconds of work that may be lost when a run is ended."""

ASIDE: dict[str, Callable[[tuple[int, int], int], dict[str, object]]] = {
    "buying_small_0.15": partial(buying, 0.15),
    "buying_small_0.5": partial(buying, 0.5),
    "listed_small_0.15": partial(by_the_list, 0.15),
    "listed_small_0.5": partial(by_the_list, 0.5),
    "sbc_small": sbc,
    **{
        f"narrow_{name}_{rho:g}": partial(narrow, size, rho)
        for name, size in (("small", SMALL), ("large", LARGE))
        for rho in (LEVEL_RHO, 0.15, 0.5)
    },
    **{name: partial(after, recipe) for name, recipe in AFTER.items()},
    **{name: partial(by_peers, recipe) for name, recipe in PEERS.items()},
    **{
        f"praise_{kind}_small_{rho:g}": partial(praise, kind, HALF, rho)
        for kind in ("alike", "ordinary", "free", "spared")
        for rho in (0.15, 0.5)
    },
    "scorecard_fair_small_0.5": partial(scorecard, False, 0.5),
    "scorecard_cell_small_0.5": partial(scorecard, True, 0.5),
    **{
        f"grades_{kind}_{who}_small_{rho:g}": partial(both, one_scale, rho, guilty)
        for kind, one_scale in (("two_kinds", False), ("one_scale", True))
        for who, guilty in (("fair", False), ("cell", True))
        for rho in (0.15, 0.5)
    },
}
"""What is no single ledger judged once."""


def seed_of(name: str, ledger: int) -> tuple[int, int]:
    """Return the seed of a ledger: a checksum of edition and scenario, and the ledger's number."""
    return zlib.crc32(f"{EDITION} {name}".encode()), ledger


def one_ledger(name: str, ledger: int) -> dict[str, object]:
    """Return what is kept of one ledger of a scenario."""
    if name in ASIDE:
        return ASIDE[name](seed_of(name, ledger), ledger)
    recipe = SCENARIOS[name]
    return judge(recipe, make(recipe, seed_of(name, ledger)))


def run(name: str, ledgers: int, until: float) -> None:
    """Run `name` up to `ledgers` ledgers, or until the clock reads `until`; what was found is kept now and then."""
    found, saved = kept.rows(name), time.time()
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=False
    ).stdout
    with progressbar(range(len(found), ledgers), label=name) as left:
        for ledger in left:
            if time.time() > until:
                break
            stamp = {"ledger": ledger, "commit": commit.strip(), "on": datetime.now(UTC).strftime("%Y-%m-%d")}
            found.append(stamp | one_ledger(name, ledger))
            if time.time() > saved + KEPT_S:
                kept.keep(name, found)
                saved = time.time()
    if found:
        kept.keep(name, found)


def oracle_line(size_and_rho: str, bump: float, share: float) -> float:
    """Return the oracle's threshold: exceeded in `share` of `ORACLES` fair ledgers, which are kept once made."""
    ledgers = ORACLES[size_and_rho.split("_")[0]]
    name = f"fair_{size_and_rho}"
    place = f"oracle_{size_and_rho}_{bump:g}"
    most = kept.column(place, "most")
    if most is None:
        most = []
        for ledger in range(ledgers):
            truth = make(SCENARIOS[name], seed_of(f"threshold_{name}", ledger))
            most.append(round(float(oracle(arrange(truth.lots), truth, bump).max()), 4))
        kept.write(place, {"most": most})
    return float(np.quantile(most, 1 - share))


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ledgers", type=int, default=200)
    parser.add_argument("--scenario", action="append", choices=sorted([*SCENARIOS, *ASIDE]))
    parser.add_argument("--minutes", type=float, default=600)
    chosen = parser.parse_args()
    until = time.time() + 60 * chosen.minutes
    for name in chosen.scenario or [*SCENARIOS, *ASIDE]:
        run(name, chosen.ledgers, until)


if __name__ == "__main__":
    main()
