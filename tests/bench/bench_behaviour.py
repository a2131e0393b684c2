"""How often honest paints are called unlike their peers, and what is found of those that are: made-up ledgers.

`python tests/bench/bench_behaviour.py [--ledgers 200] [--pairs 60] [--seed N]` prints what `behaviour.txt` keeps.
Grades come from `tests/reference/profiles`, which was written before what is tested here, over the program's own
criteria; 75 of 100 grades are as they should be, 23 one off, 2 two off. `WORLDS` says what is hard in each world.
"""

import argparse
import json
import sys
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from scipy.stats import beta

from qcledger.findings.behaves import BehaviourVerdict, TraitLook, beside_peers
from qcledger.rubric import load

ROOT = Path(__file__).parents[2]
PROFILES = ROOT / "tests" / "reference" / "profiles"
CRITERIA = load(ROOT / "rubrics" / "watercolour.yaml").criteria
OF = {"granulation": "grain", "opacity": "cover", "staining": "stain", "rewetting_in_fives": "rewet"}
"""The criterion that shows each trait of the reference."""
IDLE = ("wet_spread", "drying_shift")
"""Traits that are graded too, and hang on no pigment here."""
FORMATS = ("tube", "half pan")
GRADES = np.arange(6)
SITTINGS = 12


@dataclass(frozen=True)
class World:
    """What makes grades differ between honest paints, in grades.

    `sitting` and `maker` are deviations of what a sitting grades, or a maker makes, otherwise; `grind` moves a
    paint's grain and stain against each other; `lot` is between lots; `noise` the chances of 0, 1 and 2 grades off;
    `drifted` moves granulation and staining of one sitting in twelve; `guest` is how much higher a second tester
    grades.
    """

    sitting: float = 0.0
    maker: float = 0.0
    grind: float = 0.0
    lot: float = 0.3
    noise: tuple[float, ...] = (0.75, 0.23, 0.02)
    drifted: float = 0.0
    guest: float = 0.0


WORLDS = {
    "as the profiles say": World(),
    "sittings and makers differ": World(sitting=0.3, maker=0.4),
    "a drifted sitting, a second tester": World(sitting=0.3, drifted=1.25, guest=0.5),
    "finer and coarser grinds": World(sitting=0.3, maker=0.4, grind=0.7),
    "heavier noise": World(sitting=0.3, maker=0.4, noise=(0.6, 0.32, 0.08)),
    "all of it": World(sitting=0.3, maker=0.4, grind=0.5, lot=0.5, noise=(0.6, 0.32, 0.08), drifted=1.25, guest=0.5),
}
USUAL = World(sitting=0.3, maker=0.3, grind=0.3)
"""The world in which pairs are told apart."""


@dataclass(frozen=True)
class Made:
    """One paint of a made-up ledger: its maker, what its label declares, and the chances of its true grades."""

    name: str
    maker: str
    label: str
    chances: dict


def profiles():
    """Return the chances of whole grades by pigment and trait, of pigments of which grain and stain are told."""
    told = json.loads((PROFILES / "pigments.json").read_text())
    return {name: row for name, row in told.items() if row["grain"] and row["stain"]}


def chances_of(row, rng):
    """Return a pigment's chances; of a trait that practice does not tell, those of some place drawn for it."""
    return {trait: row[trait] or bell(rng.uniform(0, 5)) for trait in OF.values()}


def bell(middle):
    """Return the chances of grades about a middle one."""
    weight = np.exp(-0.5 * ((GRADES - middle) / 0.6) ** 2)
    return (weight / weight.sum()).tolist()


def ledger(rng, paints=60):
    """Return honest paints of pigments at five to ten makers each, until there are so many."""
    known, made = profiles(), []
    for label in rng.permutation(list(known)):
        chances = chances_of(known[label], rng)
        makers = rng.permutation(12)[: rng.integers(5, 11)]
        made += [Made(f"{label} {maker}", f"maker {maker}", str(label), chances) for maker in makers]
        if len(made) >= paints:
            return made[:paints]
    raise AssertionError("too few pigments")


def graded(made, world, rng, formats=FORMATS):
    """Return what is graded of the paints of a ledger, each lot in one of the formats."""
    shift = {key: rng.normal(0, world.sitting, SITTINGS) for key in (*OF, *IDLE)}
    for key in ("granulation", "staining"):
        shift[key][0] += world.drifted
    makers = {one.maker: {key: rng.normal(0, world.maker) for key in (*OF, *IDLE)} for one in made}
    for one in made:
        true = true_grades(one, world, rng)
        for lot in range(rng.integers(1, 4)):
            of_lot = {key: grade + rng.normal(0, world.lot) for key, grade in true.items()}
            format_ = formats[rng.integers(len(formats))]
            for _ in range(rng.integers(1, 3)):
                sitting = int(rng.integers(SITTINGS))
                for key, grade in of_lot.items():
                    guest = world.guest if sitting % 4 == 3 else 0.0
                    seen = look(grade + makers[one.maker][key] + shift[key][sitting] + guest, world.noise, rng)
                    yield TraitLook(key, one.name, one.maker, (one.label,), format_, lot, sitting, seen)


def true_grades(one, world, rng):
    """Return the true grade of a paint on each criterion."""
    grind = rng.normal(0, world.grind)
    moved = {"granulation": grind, "staining": -grind}
    true = {key: rng.choice(6, p=norm(one.chances[trait])) + moved.get(key, 0.0) for key, trait in OF.items()}
    return true | {key: rng.choice(6, p=bell(2.0)) for key in IDLE}


def norm(chance):
    """Return chances that add up to 1 exactly."""
    return np.array(chance) / np.sum(chance)


def look(grade, noise, rng):
    """Return a grade as it is given: whole, within the scale, some of them off."""
    off = rng.choice(len(noise), p=noise) * rng.choice([-1, 1])
    return float(np.clip(np.rint(grade) + off, 0, 5))


def exact(some, total):
    """Return the Clopper-Pearson interval of a share, level 0.95 (Clopper and Pearson 1934)."""
    low = 0.0 if some == 0 else beta.ppf(0.025, some, total - some + 1)
    high = 1.0 if some == total else beta.ppf(0.975, some + 1, total - some)
    return low, high


def unlike(made, world, rng, formats):
    """Return the names of the paints that are called unlike, and how many paints had a baseline."""
    found = beside_peers(graded(made, world, rng, formats), CRITERIA)
    named = {one.paint for one in found if one.verdict is BehaviourVerdict.UNLIKE}
    return named, sum(one.verdict is not BehaviourVerdict.NO_BASELINE for one in found)


def honest(ledgers, seed, paints=60):
    """Yield a line for each world: ledgers of honest paints in which one is called unlike, or more."""
    for place, (name, world) in enumerate(WORLDS.items()):
        rng = np.random.default_rng([seed, place])
        # Every other ledger holds one format, in which a paint has more peers.
        seen = (unlike(ledger(rng, paints), world, rng, FORMATS[: 1 + n % 2]) for n in range(ledgers))
        named, looked_at = zip(*seen, strict=True)
        hit, low_high = sum(map(bool, named)), exact(sum(map(bool, named)), ledgers)
        yield (
            f"honest, {name}: {hit} of {ledgers} ledgers with a paint called unlike "
            f"({hit / ledgers:.2%}, 95 %: {low_high[0]:.2%} to {low_high[1]:.2%}); {sum(map(len, named))} of "
            f"{sum(looked_at)} paints"
        )


def pairs(ledgers, seed, paints=60):
    """Yield a line for each pair: how often a paint with something else inside is called unlike six peers' paints."""
    known = profiles()
    for place, pair in enumerate(json.loads((PROFILES / "pairs.json").read_text())["pairs"]):
        rng = np.random.default_rng([seed, 1000 + place])
        hits = sum(is_found(pair, known, rng, paints) for _ in range(ledgers))
        low, high = exact(hits, ledgers)
        yield (
            f"{pair['label']} with {pair['inside']} inside, expected {pair['expected']}: {hits / ledgers:.0%} "
            f"({hits} of {ledgers}; 95 %: {low:.0%} to {high:.0%})"
        )


def is_found(pair, known, rng, paints):
    """Say whether a paint with something else inside is called unlike, beside six makers' in its format."""
    chances, mixture = chances_of(known[pair["label"]], rng), pair.get("mixture")
    inside = {trait: mixed(mixture[trait], trait, rng) for trait in OF.values()} if mixture else None
    # One mixture holds either of its words; a trait that is not told is no other than the label's.
    inside = inside or {trait: known[pair["inside"]][trait] or chances[trait] for trait in OF.values()}
    those = [Made(f"peer {n}", f"maker {n}", pair["label"], chances) for n in range(6)]
    rest = [one for one in ledger(rng, paints) if one.label != pair["label"]][: paints - 7]
    named, _ = unlike([*those, Made("odd", "maker 11", pair["label"], inside), *rest], USUAL, rng, FORMATS[:1])
    return "odd" in named


def mixed(words, trait, rng):
    """Return the chances of one of a mixture's words."""
    from tests.reference.make_profiles import spread

    return spread([words[rng.integers(len(words))]], trait)


def main():
    """Print the table."""
    read = argparse.ArgumentParser()
    read.add_argument("--ledgers", type=int, default=200)
    read.add_argument("--pairs", type=int, default=60)
    read.add_argument("--seed", type=int, default=20261203)
    asked = read.parse_args()
    print(f"Paints beside their peers, seed {asked.seed}, {datetime.now(UTC):%Y-%m-%d}", flush=True)
    for of, count in (honest, asked.ledgers), (pairs, asked.pairs):
        for line in of(count, asked.seed) if count else ():
            print(line, flush=True)


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    main()
