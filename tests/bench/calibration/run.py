"""Run scenarios and keep one line per ledger; started again, it goes on where it stopped.

``python -m tests.bench.calibration.run --ledgers 200 --scenario fair_small_0.15`` (all scenarios without --scenario);
``--table`` prints the table of what is kept. Ledger i of a scenario has the same seed whenever and wherever it runs.
"""

import argparse
import json
import subprocess
import time
import zlib
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from qcledger.stats.pooled.design import arrange
from tests.bench.calibration.judge import judge
from tests.bench.calibration.oracle import oracle
from tests.bench.calibration.scenarios import HALF, SCENARIOS, make

RESULTS = Path(__file__).parent / "results"
EDITION = "2"
"""Lines and levels were chosen on the ledgers of edition 1; what is reported was drawn afterwards."""
WHOLE = 100
"""The posterior is read off whether anyone is accused or not in so many ledgers of a scenario, where it is costly."""


def seed_of(name: str, ledger: int) -> tuple[int, int]:
    """Return the seed of a ledger: a checksum of edition and scenario, and the ledger's number."""
    return zlib.crc32(f"{EDITION} {name}".encode()), ledger


def run(name: str, ledgers: int, until: float) -> None:
    """Run `name` up to `ledgers` ledgers, or until the clock reads `until`."""
    RESULTS.mkdir(exist_ok=True)
    place = RESULTS / f"{name}.jsonl"
    done = len(place.read_text(encoding="utf-8").splitlines()) if place.exists() else 0
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=False
    ).stdout
    with place.open("a", encoding="utf-8") as kept:
        for ledger in range(done, ledgers):
            if time.time() > until:
                return
            recipe = SCENARIOS[name]
            whole = recipe.at in {"pigment", "format"} or ledger < WHOLE
            found = judge(recipe, make(recipe, seed_of(name, ledger)), ledger, whole=whole)
            stamp = {"ledger": ledger, "commit": commit.strip(), "on": datetime.now(UTC).strftime("%Y-%m-%d")}
            kept.write(json.dumps(stamp | found) + "\n")
            kept.flush()


def oracle_line(size_and_rho: str, bump: float, share: float, ledgers: int = 2000) -> float:
    """Return the oracle's threshold: exceeded in `share` of `ledgers` fair ledgers, which are kept once made."""
    name = f"fair_{size_and_rho}"
    place = RESULTS / f"oracle_{size_and_rho}_{bump:g}.json"
    if not place.exists():
        most = []
        for ledger in range(ledgers):
            truth = make(SCENARIOS[name], seed_of(f"threshold_{name}", ledger))
            most.append(round(float(oracle(arrange(truth.lots), truth, bump).max()), 4))
        place.write_text(json.dumps(most) + "\n", encoding="utf-8")
    return float(np.quantile(json.loads(place.read_text(encoding="utf-8")), 1 - share))


def table() -> None:
    """Print one line per scenario kept."""
    for place in sorted(RESULTS.glob("*.jsonl")):
        rows = [json.loads(line) for line in place.read_text(encoding="utf-8").splitlines()]
        size, count = place.stem.split("_", 1)[1], len(rows)
        recipe = SCENARIOS[place.stem]
        right = [row for row in rows if row["guilty"] and row["accused"] == row["guilty"]]
        shown = {
            "ledgers": count,
            "accused": sum(row["accused"] is not None for row in rows),
            "innocent": sum(row["innocent_accused"] for row in rows),
            "hits": len(right),
            "naive": sum(row["naive"] > 0 for row in rows),
            "warned": sum(bool(row["warnings"]) for row in rows),
        }
        if recipe.at in {"pigment", "format"}:
            named = [f"P{row['guilty'][1]:02d}" if recipe.at == "pigment" else str(row["guilty"][1]) for row in rows]
            shown["named"] = sum(name in row[recipe.at] for name, row in zip(named, rows, strict=True))
        if recipe.bad_lot:
            shown["named"] = sum(row["guilty"][1] in row["lot"] for row in rows)
        if recipe.at in {"cell", "maker"}:
            fair = RESULTS / f"fair_{size.split('_', 1)[1]}.jsonl"
            lines = fair.read_text(encoding="utf-8").splitlines() if fair.exists() else []
            rate = max(sum(json.loads(line)["accused"] is not None for line in lines) / max(len(lines), 1), 0.001)
            for share in (rate, 0.02):
                line = oracle_line(size.split("_", 1)[1], recipe.bump or HALF, share)
                won = sum(row["oracle"] > line and row["oracle_unit"] == row["guilty"] for row in rows)
                shown[f"oracle at {share:.3f}"] = won
            shown["called none found"] = sum(
                any([m, f] in row["none_found"] for m, f in _cells(row["guilty"])) for row in rows
            )
        print(place.stem, shown, flush=True)


def _cells(guilty: list) -> list[tuple[int, int]]:
    kind, maker, format_ = guilty
    return [(maker, format_)] if kind == "cell" else [(maker, 0), (maker, 1)]


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ledgers", type=int, default=200)
    parser.add_argument("--scenario", action="append", choices=sorted(SCENARIOS))
    parser.add_argument("--minutes", type=float, default=600)
    parser.add_argument("--table", action="store_true")
    chosen = parser.parse_args()
    if chosen.table:
        table()
        return
    until = time.time() + 60 * chosen.minutes
    for name in chosen.scenario or SCENARIOS:
        run(name, chosen.ledgers, until)


if __name__ == "__main__":
    main()
