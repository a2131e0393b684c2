"""Prints how often the plain rules accuse a maker in invented fields, fair ones and ones with a planted fault.

Run: ``python -m tests.bench.bench_accusations [FIELDS]`` (200 fields a scenario by default)

Each field is one criterion over 12 makers in half pans and tubes. Where something is to be confirmed, the tester buys
three specimens of new lots from a new seller and looks again, as the rules ask. Lots are alike to the concentration
rho: a lot's rate is drawn from a Beta with that intra-lot correlation.
"""

import sys
from collections import Counter
from dataclasses import dataclass

import numpy as np

from qcledger.findings import Findings, read
from qcledger.vocab import Extent, Standing, WhyBought
from tests.findings.made import FROTH, HALF, SESSIONS, TUBE, only, row

MAKERS = "ABCDEFGHIJKL"
BASE = 0.08
ACCUSATIONS = (Extent.MAKER, Extent.MAKER_FORMAT)


@dataclass(frozen=True)
class Scenario:
    """A field: pigments, lots a paint and specimens a lot (from, to), rho, who is worse at what rate, all makers."""

    name: str
    pigments: int
    lots: tuple[int, int]
    each: tuple[int, int]
    rho: float
    worse: frozenset[tuple[str, str]] = frozenset()
    rate: float = BASE
    makers: str = MAKERS


def lot_rate(chance: np.random.Generator, rate: float, rho: float) -> float:
    """Return one lot's rate."""
    scale = (1 - rho) / rho
    return float(chance.beta(rate * scale, (1 - rate) * scale))


def grown(chance: np.random.Generator, scenario: Scenario) -> list:
    """Return the rows of one field."""
    rows = []
    for maker in scenario.makers:
        for form in (HALF, TUBE):
            rate = scenario.rate if (maker, str(form)) in scenario.worse else BASE
            for pigment in range(scenario.pigments):
                for lot in range(chance.integers(*scenario.lots, endpoint=True)):
                    rows += bought(chance, maker, form, pigment, f"L{lot}", rate, scenario)
    return rows


def bought(chance, maker, form, pigment, lot, rate, scenario, number=None, **more) -> list:
    """Return the specimens of one lot."""
    bad = lot_rate(chance, rate, scenario.rho)
    number = number or chance.integers(*scenario.each, endpoint=True)
    return [
        row(
            maker=maker,
            paint=f"Paint {pigment}",
            pigments=(f"P{pigment}",),
            format=form,
            lot=lot,
            grade=5 if chance.random() < bad else 0,
            session=SESSIONS[int(chance.integers(3))],
            **({"parcel": f"P{pigment % 3}"} | more),
        )
        for _ in range(number)
    ]


def confirmed(chance: np.random.Generator, rows: list, found: Findings, scenario: Scenario) -> list:
    """Return the rows with what was bought to confirm: two lots each, from a new seller."""
    more = []
    for finding in found.findings:
        if any(claim.standing is Standing.TO_CONFIRM for claim in (finding.claim, *finding.exceptions) if claim):
            rate = scenario.rate if (finding.maker, str(finding.format)) in scenario.worse else BASE
            for pigment in (0, 1):
                new = {"parcel": "P9", "seller": "a third seller", "why": WhyBought.TO_CONFIRM, "number": 2 - pigment}
                more += bought(chance, finding.maker, finding.format, pigment, "L9", rate, scenario, **new)
    return rows + more


def accused(found: Findings, standings: tuple[Standing, ...]) -> set[tuple[str, Extent]]:
    """Return whom the findings accuse, also beyond what a pigment explains."""
    return {
        (finding.maker, claim.extent)
        for finding in found.findings
        for claim in (finding.claim, *finding.exceptions)
        if claim and claim.extent in ACCUSATIONS and claim.standing in standings
    }


def scorecard(scenario: Scenario, fields: int) -> str:
    """Return one line of the table."""
    counts: Counter[str] = Counter()
    guilty = {maker for maker, _ in scenario.worse}
    for seed in range(fields):
        chance = np.random.default_rng([seed, len(scenario.name)])
        rows = grown(chance, scenario)
        first = read(rows, only(FROTH))
        last = read(confirmed(chance, rows, first, scenario), only(FROTH))
        private = accused(first, (Standing.TO_CONFIRM, Standing.SETTLED))
        public = accused(last, (Standing.SETTLED,))
        counts["private"] += any(maker not in guilty for maker, _ in private)
        counts["public"] += any(maker not in guilty for maker, _ in public)
        counts["hit"] += any(maker in guilty for maker, _ in private)
        counts["held"] += any(maker in guilty for maker, _ in public)
        counts["sound"] += any(
            finding.standing is Standing.NONE_FOUND and (finding.maker, str(finding.format)) in scenario.worse
            for finding in last.findings
        )
        counts["none found"] += sum(finding.standing is Standing.NONE_FOUND for finding in last.findings)
        counts["cells"] += len(last.findings)
    shares = {key: f"{counts[key] / fields:6.1%}" for key in ("private", "public", "hit", "held", "sound")}
    none = f"{counts['none found'] / counts['cells']:6.1%}"
    return f"{scenario.name:42} {'  '.join(shares.values())}  {none}"


SMALL, LARGE = {"pigments": 12, "lots": (1, 1), "each": (1, 2)}, {"pigments": 25, "lots": (1, 3), "each": (1, 3)}
ONE_FORMAT, WHOLE = frozenset({("A", "half pan")}), frozenset({("A", "half pan"), ("A", "tube")})
SCENARIOS = (
    *(
        Scenario(f"fair, {size}, rho {rho}", **shape, rho=rho)
        for size, shape in (("small", SMALL), ("large", LARGE))
        for rho in (0.15, 0.5)
    ),
    Scenario("one maker's half pans at 50 %, small", **SMALL, rho=0.15, worse=ONE_FORMAT, rate=0.5),
    Scenario("one maker at 50 %, small", **SMALL, rho=0.15, worse=WHOLE, rate=0.5),
    Scenario("one maker's half pans at 30 %, small", **SMALL, rho=0.15, worse=ONE_FORMAT, rate=0.3),
    Scenario("one maker's half pans at 50 %, large", **LARGE, rho=0.15, worse=ONE_FORMAT, rate=0.5),
)


def main() -> None:
    """Print the table."""
    fields = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    print(f"{fields} fields a scenario; share of fields, and of cells in the last column")
    print(f"{'':42} {'wrong, private':>6} {'wrong, public'} hit  held  called none found | none found")
    for scenario in SCENARIOS:
        print(scorecard(scenario, fields), flush=True)


if __name__ == "__main__":
    main()
