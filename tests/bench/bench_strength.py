"""Prints what the exact test by exchanging lots adds to the pooled model, and what it costs, in invented fields.

Run: ``python -m tests.bench.bench_strength [FIELDS] [SCENARIO ...]`` (100 fields a scenario by default)

The fields are those of bench_accusations. Each is one criterion; a suspect has the pattern and the minimum evidence.
Counted are fields in which somebody is to be confirmed by the exact test alone (Holm over its family, 0.02), by the
pooled model (floor and fair-field check at its line) and by both; right or wrong by who was made worse.
"""

import sys
from collections import Counter

import numpy as np

from qcledger.findings import find, gather
from qcledger.findings.model import answer, question
from qcledger.findings.pool import Pool
from qcledger.findings.pooled import LINE
from qcledger.findings.strength import by_exchanging_lots
from qcledger.findings.stress import Worries
from qcledger.vocab import Standing
from tests.bench.bench_accusations import HALF, TUBE, Scenario, grown
from tests.bench.bench_accusations import accused as accused_by
from tests.findings.made import FROTH, only

WORSE = frozenset({("A", str(HALF))})
SCENARIOS = (
    Scenario("fair, small, rho 0.15", 12, (1, 1), (1, 2), 0.15),
    Scenario("fair, small, rho 0.5", 12, (1, 1), (1, 2), 0.5),
    Scenario("one maker's half pans at 50 %, small", 12, (1, 1), (1, 2), 0.15, WORSE, 0.5),
    Scenario("one maker at 50 %, small", 12, (1, 1), (1, 2), 0.15, WORSE | {("A", str(TUBE))}, 0.5),
)


def accused(found) -> set[str]:
    """Return the makers against whom something is to be confirmed, or holds."""
    return {maker for maker, _ in accused_by(found, (Standing.TO_CONFIRM, Standing.SETTLED))}


def by_model(evidence) -> set[str]:
    """Return whom the pooled model accuses."""
    asked = Pool(lambda key: None, Worries())
    find(evidence, pool=asked)
    known = {}
    for one in asked.missing.values():
        known[one.key] = answer(question(one.field, one.suspects, LINE if one.suspects else 1.0))
    return accused(find(evidence, pool=Pool(known.get, Worries())))


def line_of(scenario: Scenario, fields: int) -> str:
    """Return one line of the table."""
    counts: Counter[str] = Counter()
    guilty = {maker for maker, _ in scenario.worse}
    for seed in range(fields):
        chance = np.random.default_rng([seed, len(scenario.name)])
        evidence = gather(grown(chance, scenario), only(FROTH))
        exact, pooled = accused(find(evidence, strength=by_exchanging_lots)), by_model(evidence)
        for name, whom in (("exact", exact), ("pooled", pooled), ("both", exact & pooled)):
            counts[f"{name} right"] += bool(whom & guilty)
            counts[f"{name} wrong"] += bool(whom - guilty)
    told = "  ".join(
        f"{name} {counts[name]:3d}"
        for name in (f"{a} {b}" for b in ("right", "wrong") for a in ("exact", "pooled", "both"))
    )
    return f"{scenario.name:38} of {fields}: {told}"


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    for one in SCENARIOS:
        if not sys.argv[2:] or one.name in sys.argv[2:]:
            print(line_of(one, number), flush=True)
