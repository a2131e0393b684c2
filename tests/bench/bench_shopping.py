"""Prints whether foreseen chances come true, and what it costs to settle by them; both over made-up small ledgers.

Run: ``python -m tests.bench.bench_shopping [LEDGERS] [SEED] [WORSE]`` (300 by default; kept in ``shopping.txt``)

A small ledger: six makers with four pigments each, two or three lots of a paint, two specimens of a lot. A maker, a
pigment and a paint are worse or better by normal effects (0.8, 0.5, 0.5), lots by a concentration of 0.3; a tenth of
the lots is bad as a whole. One in 50 sound specimens reads faulty, one in ten faulty ones sound. A further specimen
of a lot has the lot's own rate, another lot one of its own. Findings are read by counts and exact tests: neither what
the pooled model says of a rate nor its fair-field check is asked here.

1. Each way to settle a finding is bought once and the ledger read again: how often it was settled, and what was
   foreseen.
2. Three buyers with the same purse go on until it is empty or nothing is offered: by most questions for the money, at
   random among the ways offered, and always more of the maker's format that looks worst.

With WORSE the first maker is worse by so much on the logit scale, and only what confirms a maker is bought: in the
ledgers above that is seldom asked for.
"""

import sys
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from time import process_time

import numpy as np

from qcledger.findings import Finding, read
from qcledger.findings.chances import WantedPieces, Way, ways
from qcledger.findings.settle import Buy
from qcledger.records import TestedRow
from qcledger.stats.proportion import clopper_pearson
from qcledger.vocab import Standing, WhyBought
from tests.findings.made import HALF, PIGMENTS, SESSIONS, only, row

MAKERS = "ABCDEF"
RHO = 0.3
BAD_LOT, BAD_RATE = 0.1, 0.95
FALSE_FAULT, MISSED = 0.02, 0.1
PURSE = 6000
BINS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
SETTLED = (Standing.SETTLED, Standing.NONE_FOUND)
Key = tuple[str, str]


@dataclass
class World:
    """One made-up ledger: the truth of its paints and lots, what a piece costs, and the rows so far."""

    rng: np.random.Generator
    rows: list[TestedRow] = field(default_factory=list)
    paints: dict[str, float] = field(default_factory=dict)
    lots: dict[tuple[str, str], float] = field(default_factory=dict)
    prices: dict[str, int] = field(default_factory=dict)
    bought: int = 0
    worse: float = 0.0

    def __post_init__(self) -> None:
        pigments = {name: self.rng.normal(0, 0.5) for name in PIGMENTS}
        for maker in MAKERS:
            own = self.rng.normal(0, 0.8) + self.worse * (maker == MAKERS[0])
            for pigment in PIGMENTS:
                paint = f"{maker}/Paint {pigment}"
                logit = -2.3 + own + pigments[pigment] + self.rng.normal(0, 0.5)
                self.paints[paint], self.prices[paint] = 1 / (1 + np.exp(-logit)), int(self.rng.integers(300, 1200))
                for lot in range(int(self.rng.integers(2, 4))):
                    for number in range(2):
                        self.add(paint, f"L{lot}", SESSIONS[(lot + number) % 3], {"parcel": f"P{lot}"})

    def add(self, paint: str, lot: str, session: str, more: dict[str, object]) -> None:
        """Buy and test one specimen; a lot seen for the first time gets its rate."""
        if (paint, lot) not in self.lots:
            rate, size = self.paints[paint], (1 - RHO) / RHO
            bad = self.rng.random() < BAD_LOT
            self.lots[paint, lot] = BAD_RATE if bad else self.rng.beta(rate * size + 1e-3, (1 - rate) * size + 1e-3)
        truly = self.rng.random() < self.lots[paint, lot]
        reads = self.rng.random() < (1 - MISSED if truly else FALSE_FAULT)
        maker, name = paint.split("/")
        pigment = (name.removeprefix("Paint "),)
        self.rows.append(
            row(maker=maker, paint=name, pigments=pigment, lot=lot, session=session, grade=4 * reads, **more)
        )

    def findings(self) -> Sequence[Finding]:
        """Return what is found so far."""
        return read(self.rows, only()).findings

    def buy(self, basket: Sequence[WantedPieces]) -> int:
        """Buy and test a basket from the cheapest paints, a seller who is new each time; return what it cost."""
        self.bought += 1
        when = date(2026, 4, 1) + timedelta(days=self.bought)
        facts = {"parcel": f"N{self.bought}", "bought_on": when}
        cost = 0
        for pieces in basket:
            why = WhyBought.TO_CONFIRM if pieces.confirms else WhyBought.PLANNED
            paints = sorted(pieces.paints, key=self.prices.__getitem__)
            for number in range(pieces.count):
                paint = paints[number % len(paints)]
                twice = len(basket) > 1 and pieces.lot is None  # other lots beside a bad one: two specimens of each
                lot = pieces.lot or f"N{self.bought}.{number // 2 if twice else number}"
                self.add(paint, lot, SESSIONS[number % 3], {**facts, "why": why})
                cost += self.prices[paint]
        return cost

    def copy(self, seed: int) -> "World":
        """Return the same ledger, in which other things may happen."""
        other = object.__new__(World)
        other.__dict__.update(self.__dict__, rng=np.random.default_rng(seed))
        other.rows, other.lots = list(self.rows), dict(self.lots)
        return other


def key_of(finding: Finding) -> Key:
    """Return which question a finding is."""
    return finding.maker, str(finding.format)


def comes_true(world: World, finding: Finding, way: Way, seed: int) -> bool:
    """Say whether a way that is bought ends as it foresees: with the claim settled, or none found."""
    after = world.copy(seed)
    after.buy(way.pieces)
    found = next(one for one in after.findings() if key_of(one) == key_of(finding))
    if way.settles == "none found":
        return found.standing is Standing.NONE_FOUND
    same = [
        one
        for one in (found.claim, *found.exceptions)
        if one and finding.claim and one.extent is finding.claim.extent
    ]
    return any(one.standing is Standing.SETTLED and one.subject[:2] == finding.claim.subject[:2] for one in same)


Basket = Sequence[WantedPieces] | None
Chooses = Callable[[World, Sequence[Finding], int, np.random.Generator], Basket]


def _cost(world: World, basket: Sequence[WantedPieces]) -> int:
    cost = 0
    for pieces in basket:
        paints = sorted(pieces.paints, key=world.prices.__getitem__)
        cost += sum(world.prices[paints[number % len(paints)]] for number in range(pieces.count))
    return cost


def by_worth(world: World, found: Sequence[Finding], left: int, _: np.random.Generator) -> Basket:
    """Return the basket that settles most for the money."""
    offers = [(way.chance / _cost(world, way.pieces), way.pieces) for one in found for way in ways(one)]
    offers = [one for one in offers if _cost(world, one[1]) <= left]
    return max(offers, key=lambda one: one[0])[1] if offers else None


def at_random(world: World, found: Sequence[Finding], left: int, rng: np.random.Generator) -> Basket:
    """Return any basket that is offered."""
    offers = [way.pieces for one in found for way in ways(one) if _cost(world, way.pieces) <= left]
    return offers[rng.integers(len(offers))] if offers else None


def the_worst(world: World, found: Sequence[Finding], left: int, _: np.random.Generator) -> Basket:
    """Return two more lots of the maker that looks worst and is not settled."""
    asked = [one for one in found if one.standing not in SETTLED and one.counts.faulty]
    if not asked:
        return None
    worst = max(asked, key=lambda one: one.counts.faulty / one.counts.tested)
    paints = tuple(dict.fromkeys(lot.row.paint for lot in worst.lots))
    basket = (WantedPieces(paints, str(HALF), 2),)
    return basket if _cost(world, basket) <= left else None


def spend(world: World, chooses: Chooses, seed: int) -> tuple[int, int]:
    """Return how many questions were settled at the end of a purse, and what was spent."""
    rng, mine, left = np.random.default_rng(seed), world.copy(seed), PURSE
    found = mine.findings()
    asked = {key_of(one) for one in found if one.counts.faulty and one.standing not in SETTLED}
    for _ in range(20):
        wanted = chooses(mine, found, left, rng)
        if wanted is None:
            break
        left -= mine.buy(wanted)
        found = mine.findings()
    return sum(one.standing in SETTLED for one in found if key_of(one) in asked), PURSE - left


def main(ledgers: int, seed: int) -> None:
    """Print both tables."""
    began = process_time()
    binned: dict[int, list[tuple[float, bool]]] = defaultdict(list)
    kinds: dict[str, list[tuple[float, bool]]] = defaultdict(list)
    buyers = {"most for the money": by_worth, "at random": at_random, "what looks worst": the_worst}
    totals = {name: np.zeros(2) for name in buyers}
    open_ = 0
    for number in range(ledgers):
        world = World(np.random.default_rng((seed, number)))
        found = world.findings()
        open_ += sum(one.standing not in SETTLED and one.counts.faulty > 0 for one in found)
        for place, (one, way) in enumerate((asked, way) for asked in found for way in ways(asked)):
            true = comes_true(world, one, way, hash((seed, number, place)) & 0xFFFFFFFF)
            binned[min(int(way.chance * 5), 4)].append((way.chance, true))
            kinds[str(way.what) + ("; none found" if way.settles == "none found" else "")].append((way.chance, true))
        for name, chooses in buyers.items():
            totals[name] += spend(world, chooses, hash((seed, number)) & 0xFFFFFFFF)
    print(f"{ledgers} ledgers, seed {seed}, {date.today()}, {open_} open questions with a fault")  # noqa: DTZ011 - a note
    print("foreseen       bought  mean foreseen  settled  95 % interval")
    for place in sorted(binned):
        _tell(f"{BINS[place]:.1f} to {BINS[place + 1]:.1f}", binned[place])
    for kind in sorted(kinds):
        _tell(kind, kinds[kind])
    print(f"purse of {PURSE / 100:.2f}      settled a ledger  spent a ledger  spent a question")
    for name, (settled, spent) in totals.items():
        each = f"{spent / settled / 100:.2f}" if settled else "none settled"
        print(f"{name:20} {settled / ledgers:10.2f} {spent / ledgers / 100:16.2f} {each:>18}")
    print(f"{process_time() - began:.0f} s of processor time", file=sys.stderr)


def confirming(ledgers: int, seed: int, worse: float) -> None:
    """Print how often a maker was settled by what is bought to confirm it, beside what was foreseen."""
    binned: dict[int, list[tuple[float, bool]]] = defaultdict(list)
    for number in range(ledgers):
        world = World(np.random.default_rng((seed, number)), worse=worse)
        asked = [(one, way) for one in world.findings() for way in ways(one) if way.what is Buy.CONFIRM]
        for place, (one, way) in enumerate(asked):
            true = comes_true(world, one, way, hash((seed, number, place)) & 0xFFFFFFFF)
            binned[min(int(way.chance * 5), 4)].append((way.chance, true))
    print(f"{ledgers} ledgers, seed {seed}, {date.today()}, the first maker worse by {worse:g}: to confirm a maker")  # noqa: DTZ011 - a note
    for place in sorted(binned):
        _tell(f"{BINS[place]:.1f} to {BINS[place + 1]:.1f}", binned[place])
    _tell("all", [one for some in binned.values() for one in some])


def _tell(name: str, some: list[tuple[float, bool]]) -> None:
    true = sum(one for _, one in some)
    low, high = (getattr(clopper_pearson(true, len(some)), end) for end in ("low", "high"))
    foreseen = sum(one for one, _ in some) / len(some)
    print(f"{name:14} {len(some):6} {foreseen:14.3f} {true / len(some):8.3f}  {low:.3f} to {high:.3f}")


if __name__ == "__main__":
    if len(sys.argv) > 3:
        confirming(int(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3]))
    else:
        main(*(int(one) for one in (*sys.argv[1:], *("300", "1")[len(sys.argv) - 1 :])))
