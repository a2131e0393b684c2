"""Does a standing hang on the seed? The demo, and 200 made-up ledgers, answered anew with seeds 1 to 20.

``python -m tests.bench.calibration.seeds demo 20`` answers every criterion of the demo with each seed, and
``... made 20 --minutes 25`` goes through the made-up ledgers seed by seed, on from where it stopped. The program
keeps to seed 0. A row is a maker's format on a criterion; its standing is compared, and the extent
of what is to confirm or settled.

The made-up ledgers are twenty of each of ten worlds: nobody worse, makers that differ as in an ordinary field, a
maker's format at 50 and at 30 %, a maker at 50 %, with lots that are little and much alike. Each is looked at after
what the program asks for was bought to confirm, so that what is *settled* is among the standings. Ledger i of a world
has the seed (CRC-32 of "seeds " and the world's name, i); none is among those that the guide reports elsewhere.
"""

import argparse
import tempfile
import time
import zlib
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from click import progressbar

from qcledger.exchange import merge_folder
from qcledger.findings import Finding, gather
from qcledger.findings.evidence import Evidence
from qcledger.findings.model import answer, question
from qcledger.ledger import Ledger
from qcledger.report.kept import WorkedOut
from qcledger.report.store import Store
from tests.bench.calibration import kept
from tests.bench.calibration.after import bought_to_confirm
from tests.bench.calibration.program import REACHED, Said, rows_of, said_in
from tests.bench.calibration.scenarios import SCENARIOS, make
from tests.bench.calibration.table import of
from tests.findings.made import FROTH, only
from tests.studio.make import DEMO

KINDS = ("fair", "ordinary", "cell_half", "cell_third", "maker_half")
WORLDS = tuple(f"{kind}_small_{rho:g}" for kind in KINDS for rho in (0.15, 0.5))
EACH = 20
"""Ledgers of each world."""
DEMO_NAME, MADE_NAME = "seeds_demo", "seeds_made"

Standings = dict[str, str]
"""Standing of each row, with its extent where it is to confirm or settled, by criterion, maker and format."""


def standings(findings: Iterable[Finding]) -> Standings:
    """Return the standing of each row and, where something is to confirm or settled, how far it reaches."""
    return {f"{one.criterion.key} {one.maker} {one.format}": _standing(one) for one in findings}


def _standing(finding: Finding) -> str:
    claim = finding.claim
    return f"{finding.standing}, {claim.extent}" if claim and finding.standing in REACHED else str(finding.standing)


def moved(before: Standings, after: Standings) -> list[list[str]]:
    """Return the rows that read otherwise, each with what it read before and after."""
    return [[row, told, after[row]] for row, told in before.items() if after[row] != told]


def of_demo(ledger: Ledger, seed: int, folder: Path) -> Standings:
    """Return how the demo reads when everything is drawn with `seed`."""
    store = Store(folder / str(seed))
    reading = WorkedOut(ledger, None, store)
    for asked in reading.asked.values():
        store.put(asked.key, answer(question(asked.field, asked.suspects, asked.line), seed=seed))
    reading.work_out()
    return standings(reading.found.findings)


def demo(seeds: int) -> None:
    """Answer every criterion of the demo with each seed, and keep which rows read otherwise than with seed 0."""
    folder = Path(tempfile.mkdtemp())
    with Ledger.create(folder / "demo.ledger", letters="OV", tester="OV, Brinefold Studio") as ledger:
        merge_folder(ledger, DEMO)
        ours, rows = of_demo(ledger, 0, folder), kept.rows(DEMO_NAME)
        for seed in range(len(rows) + 1, seeds + 1):
            found = moved(ours, of_demo(ledger, seed, folder))
            rows.append({"seed": seed, "on": _today(), "rows": len(ours), "moved": found})
            kept.keep(DEMO_NAME, rows)
            print(f"seed {seed}: {len(found)} of {len(ours)} rows read otherwise {found}", flush=True)


def evidence_of(world: str, number: int) -> Evidence:
    """Return a made-up ledger after what the program asked for was bought to confirm."""
    recipe, seed = SCENARIOS[world], (zlib.crc32(f"seeds {world}".encode()), number)
    truth = make(recipe, seed)
    rows = list(rows_of(truth))
    first = said_in(gather(rows, only(FROTH)), strict=False)
    more = bought_to_confirm(first, recipe, truth, np.random.default_rng([*seed, 6]))
    return gather([*rows, *more], only(FROTH))


def made(seeds: int, seconds: float) -> None:
    """Go through the made-up ledgers seed by seed, for so many seconds of computing at most."""
    rows = kept.rows(MADE_NAME) or [_new(world, number) for world in WORLDS for number in range(EACH)]
    for seed in range(1, seeds + 1):
        with progressbar([row for row in rows if row["seeds"] < seed], label=f"seed {seed}") as left:
            for number, row in enumerate(left, 1):
                if time.process_time() > seconds:
                    break
                row.update(_read_again(row, seed))
                if number % EACH == 0:
                    kept.keep(MADE_NAME, rows)
        kept.keep(MADE_NAME, rows)


def _new(world: str, number: int) -> dict[str, Any]:
    return {"world": world, "number": number, "seeds": 0, "able": 0, "moved": [], "p": [], "on": ""}


@cache
def _ours(world: str, number: int) -> tuple[Evidence, Said]:
    """Return a made-up ledger and what the program says of it."""
    evidence = evidence_of(world, number)
    return evidence, said_in(evidence, strict=False)


def _read_again(row: Mapping[str, Any], seed: int) -> dict[str, Any]:
    """Return what is kept of a ledger after one more seed; one with nobody to accuse draws nothing."""
    evidence, ours = _ours(row["world"], row["number"])
    other = said_in(evidence, strict=False, seed=seed) if ours.able else ours
    found = moved(standings(ours.findings), standings(other.findings))
    return {
        "seeds": seed,
        "able": len(ours.able),
        "moved": [*row["moved"], *([seed, *one] for one in found)],
        "p": [*row["p"], *(round((k + 1) / (fields + 1), 6) for _, k, fields in other.fair[:1])],
        "on": _today(),
    }


def told() -> Iterator[str]:
    """Yield how many ledgers keep one standing in every row whatever the seed, as a table in Markdown."""
    yield "| ledgers | seeds | one standing in every row (95 % limits) | in which anything is drawn |"
    yield "|---|---|---|---|"
    if rows := kept.rows(DEMO_NAME):
        otherwise = {one[0] for row in rows for one in row["moved"]}
        same = f"{rows[0]['rows'] - len(otherwise)} of {rows[0]['rows']} rows"
        yield f"| the demo | 1 to {len(rows)} | {same} | |"
    rows = [row for row in kept.rows(MADE_NAME) if row["seeds"]]
    for kind in (*KINDS, "") if rows else ():
        mine = [row for row in rows if kind in row["world"]]
        seeds = sorted({row["seeds"] for row in mine})
        same, able = sum(not row["moved"] for row in mine), sum(row["able"] > 0 for row in mine)
        most = " or ".join("1" if last == 1 else f"1 to {last}" for last in seeds)
        yield f"| {kind.replace('_', ' ') or 'all'} | {most} | {of(same, len(mine))} | {able} |"


def _today() -> str:
    return datetime.now(UTC).strftime("%Y-%m-%d")


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=("demo", "made", "told"))
    parser.add_argument("seeds", type=int, nargs="?", default=20)
    parser.add_argument("--minutes", type=float, default=600)
    chosen = parser.parse_args()
    if chosen.what == "demo":
        demo(chosen.seeds)
    if chosen.what == "made":
        made(chosen.seeds, 60 * chosen.minutes)
    print("\n".join(told()))


if __name__ == "__main__":
    main()
