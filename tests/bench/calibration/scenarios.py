"""Ledgers whose truth is known: one function per scenario of the calibration table.

Twelve makers, two formats. *Small*: 12 pigments, one lot of 1 or 2 specimens per paint and format. *Large*: 25
pigments, 1 to 3 lots of 1 to 3 specimens. A lot's rate is Beta about its arm's rate; a specimen is then graded with
noise (75 % as it is, 23 % one grade off, 2 % two off), which makes 2.1 % of sound specimens read faulty and 5.4 % of
faulty ones read sound at a fault line of 3; the field then reads faulty in about 8 %. Lots come in parcels, two or
three per maker, and are tested in four sessions.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from qcledger.stats.pooled.design import PooledLot

MAKERS, FORMATS = 12, 2
SESSIONS, DRIFTED = 4, 4
"""Ordinary sessions, and the number of one in which everything reads worse."""
LEVEL = -2.85
PIGMENT_SD, PAINT_SD, FORMAT_SD = 0.7, 0.3, 0.2
SOUND_GRADES, FAULTY_GRADES = ((0, 0.6), (1, 0.25), (2, 0.15)), ((3, 0.4), (4, 0.35), (5, 0.25))
STEPS = ((-2, 0.01), (-1, 0.115), (0, 0.75), (1, 0.115), (2, 0.01))


def _reads_faulty(grades: tuple[tuple[int, float], ...]) -> float:
    return sum(share * chance for grade, share in grades for step, chance in STEPS if grade + step >= 3)


FALSE_ALARM, SEEN = _reads_faulty(SOUND_GRADES), _reads_faulty(FAULTY_GRADES)
"""Chance that a sound, and that a faulty specimen reads faulty."""


def _looks(grades: tuple[tuple[int, float], ...], reads_faulty: bool) -> tuple[list[float], list[float]]:
    """Return the grades seen of specimens of a kind that read faulty, or sound, with their shares."""
    chances: dict[float, float] = {}
    for grade, share in grades:
        for step, chance in STEPS:
            if (grade + step >= 3) == reads_faulty:
                seen = float(min(max(grade + step, 0), 5))
                chances[seen] = chances.get(seen, 0.0) + share * chance
    total = sum(chances.values())
    return list(chances), [chance / total for chance in chances.values()]


LOOKS = tuple(tuple(_looks(kind, faulty) for faulty in (False, True)) for kind in (FAULTY_GRADES, SOUND_GRADES))
"""Of faulty, then of sound specimens: how those look that read sound, and those that read faulty."""


Counts = tuple[tuple[int, bool], ...]
"""Of each lot how many specimens, and whether all of them are faulty or none."""
BAD_LOT: Counts = ((3, False), (3, False), (6, True))
BAD_PAINT: Counts = ((2, True),) * 6
"""What is planted in place of one paint in one format: a bad lot beside two sound ones; a paint bad in each lot."""
SHORT_LOT: Counts = ((2, False), (2, False), (3, True))
"""A bad lot of three beside four sound specimens of two others."""


@dataclass(frozen=True)
class Size:
    """How much was bought."""

    pigments: int
    lots: tuple[int, int]
    specimens: tuple[int, int]


SMALL, LARGE = Size(12, (1, 1), (1, 2)), Size(25, (1, 3), (1, 3))


@dataclass(frozen=True)
class Truth:
    """A ledger and what made it.

    Parameters
    ----------
    lots
        As bought and graded.
    eta
        Logit of each lot's arm's true rate without paint effect and without anyone's guilt, shape (L,).
    paint
        True paint effect of each lot's paint, shape (L,).
    rho, paint_sd
        Nuisance the oracle knows.
    effects
        True a + g by (maker, format).
    grades
        Grades of each lot's specimens, 0 to 5; those at or past 3 read faulty.
    session, parcel
        Session (0 to 3, 4 for a drifted one) and parcel of each lot, shape (L,).
    guilty
        ("cell", maker, format), ("maker", maker, -1), ("lot", place, -1), ("paint", maker, p), ("parcel", maker, 0),
        ("pigment", p, -1), ("format", f, -1) or None.
    also
        A second guilty beside a cell or a maker: a pigment or a lot; or None.
    peers
        What labels say: `PIGMENTS`, `HARDNESS` in their place, or nothing, `SILENT`. In `lots` it stands as pigments.
    """

    lots: tuple[PooledLot, ...]
    eta: np.ndarray
    paint: np.ndarray
    rho: float
    paint_sd: float
    effects: np.ndarray
    grades: tuple[tuple[float, ...], ...]
    session: np.ndarray
    parcel: np.ndarray
    guilty: tuple[str, int, int] | None
    also: tuple[str, int, int] | None = None
    peers: str = "pigments"


PIGMENTS, HARDNESS, SILENT = "pigments", "hardness", "silent"


@dataclass(frozen=True)
class Recipe:
    """What a scenario adds to a fair field; `gaps` is the share of a maker's paints that it does not sell.

    With `groups` a maker's things fall into so many, of which each is as hard as a pigment would be, and `peers` says
    what labels tell of them.
    """

    size: Size
    rho: float
    scales: tuple[float, float] = (0.0, 0.0)
    bump: float = 0.0
    at: str = ""
    planted: Counts = ()
    bad_parcel: bool = False
    specialist: bool = False
    drift: float = 0.0
    pigment_sd: float = PIGMENT_SD
    paint_sd: float = PAINT_SD
    makers: int = MAKERS
    level: float = LEVEL
    gaps: float = 0.0
    second_pigment: float = 0.0
    groups: int = 0
    peers: str = PIGMENTS


def make(recipe: Recipe, seed: tuple[int, int]) -> Truth:
    """Return ledger `seed` of a scenario."""
    rng = np.random.default_rng(seed)
    size = recipe.size
    effects = (
        rng.normal(0, 1, (recipe.makers, 1)) * recipe.scales[0]
        + rng.normal(0, 1, (recipe.makers, FORMATS)) * recipe.scales[1]
    )
    c, b = rng.normal(0, recipe.pigment_sd, size.pigments), rng.normal(0, FORMAT_SD, FORMATS)
    who = (int(rng.integers(recipe.makers)), int(rng.integers(FORMATS)))
    guilty = {"cell": ("cell", *who), "maker": ("maker", who[0], -1)}.get(recipe.at)
    if recipe.at == "cell":
        effects[who] += recipe.bump
    if recipe.at == "maker":
        effects[who[0]] += recipe.bump
    if recipe.at == "pigment":
        hard = int(rng.integers(size.pigments))
        c[hard] += recipe.bump
        guilty = ("pigment", hard, -1)
    if recipe.at == "format":
        b[who[1]] += recipe.bump
        effects[rng.choice(recipe.makers, 2, replace=False), who[1]] -= recipe.bump
        guilty = ("format", who[1], -1)
    also = None
    if recipe.second_pigment:
        also = ("pigment", int(np.random.default_rng([*seed, 5]).integers(size.pigments)), -1)
        c[also[1]] += recipe.second_pigment
    aside = np.random.default_rng([*seed, 1])
    lots, eta, d, grades, session = _buy(recipe, (rng, aside), effects, c, b, who)
    if recipe.planted:
        others = [place for place, lot in enumerate(lots) if not guilty or lot.maker != guilty[1]]
        place, new = others[int(rng.integers(len(others)))], recipe.planted
        lots, like = _plant(lots, place, new)
        eta, d, session = [eta[k] for k in like], [d[k] for k in like], [session[k] for k in like]
        grades = [*(grades[k] for k in like[: -len(new)]), *((5.0 if bad else 0.0,) * each for each, bad in new)]
        planted = ("paint", *map(int, lots[-1].paint)) if new == BAD_PAINT else ("lot", len(lots) - 1, -1)
        guilty, also = (guilty, planted) if guilty else (planted, also)
        if new == BAD_PAINT:  # a paint is bad whenever it is tested
            session[-len(new) :] = aside.integers(0, SESSIONS, len(new)).tolist()
    maker = np.array([lot.maker for lot in lots], dtype=np.int64)
    parcel = aside.integers(0, 2 + aside.integers(0, 2, recipe.makers)[maker])
    if recipe.bad_parcel:
        guilty = ("parcel", who[0], 0)
        bad = (maker == who[0]) & (parcel == 0)
        grades = [(5.0,) * lot.tested if one else own for lot, own, one in zip(lots, grades, bad, strict=True)]
        lots = [replace(lot, faulty=lot.tested) if one else lot for lot, one in zip(lots, bad, strict=True)]
    return Truth(
        tuple(lots),
        np.array(eta),
        np.array(d),
        recipe.rho,
        recipe.paint_sd,
        effects,
        tuple(grades),
        np.array(session),
        parcel,
        guilty,
        also,
        recipe.peers,
    )


def _buy(
    recipe: Recipe, both, effects, c, b, who
) -> tuple[list[PooledLot], list[float], list[float], list[tuple[float, ...]], list[int]]:
    lots, eta, paint, grades, session = [], [], [], [], []
    rng, aside = both
    gaps = np.random.default_rng(aside.bit_generator.seed_seq.spawn(1)[0])  # type: ignore[attr-defined]
    for m in range(recipe.makers):
        for p in range(recipe.size.pigments):
            special = recipe.specialist and m == who[0]
            group = p % recipe.groups if recipe.groups else p
            # Nobody else sells the specialist's pigments, which are as hard as a hard pigment may be.
            hardness = c[group] + 2.0 if special else c[group]
            pigment = f"S{group:02d}" if special else f"P{group:02d}"
            d = rng.normal(0, recipe.paint_sd)
            for f in range(FORMATS):
                if recipe.gaps and gaps.random() < recipe.gaps:
                    continue
                field = recipe.level + b[f] + hardness
                for _ in range(rng.integers(recipe.size.lots[0], recipe.size.lots[1] + 1)):
                    tested = int(rng.integers(recipe.size.specimens[0], recipe.size.specimens[1] + 1))
                    session.append(_session(recipe, m == who[0], aside))
                    drift = recipe.drift if session[-1] == DRIFTED else 0.0
                    read = graded(field + effects[m, f] + d + drift, tested, recipe.rho, rng)
                    faulty = read[0][1] + read[1][1]
                    grades.append(looked_at(read, aside))
                    lots.append(
                        PooledLot(maker=m, format=f, paint=(m, p), pigments=(pigment,), tested=tested, faulty=faulty)
                    )
                    eta.append(field)
                    paint.append(d)
    return lots, eta, paint, grades, session


def _session(recipe: Recipe, suspect: bool, rng) -> int:
    """Draw a session: a drifted one holds a suspect's lots and, as controls, one in twelve of the others'."""
    drifted = recipe.drift and (suspect or rng.random() < 1 / 12)
    return DRIFTED if drifted else int(rng.integers(SESSIONS))


def graded(eta: float, tested: int, rho: float, rng) -> tuple[tuple[int, int], tuple[int, int]]:
    """Return how many truly faulty specimens of a lot read sound and faulty, and how many truly sound ones do."""
    rate = 1 / (1 + np.exp(-eta))
    strength = (1 - rho) / rho
    truly = rng.binomial(tested, rng.beta(max(rate * strength, 1e-9), max((1 - rate) * strength, 1e-9)))
    seen, false = int(rng.binomial(truly, SEEN)), int(rng.binomial(tested - truly, FALSE_ALARM))
    return (truly - seen, seen), (tested - truly - false, false)


def looked_at(read: tuple[tuple[int, int], tuple[int, int]], rng) -> tuple[float, ...]:
    """Draw grades of specimens that are truly faulty or sound and read sound or faulty."""
    found: list[float] = []
    for looks, counts in zip(LOOKS, read, strict=True):
        for (grades, shares), count in zip(looks, counts, strict=True):
            if count:
                found += rng.choice(grades, count, p=shares).tolist()
    return tuple(found)


def _plant(lots: list[PooledLot], place: int, new: Counts) -> tuple[list[PooledLot], list[int]]:
    """Put `new` lots in place of those of one paint in one format; return also which lot each one is like."""
    base = lots[place]
    kept = [k for k, lot in enumerate(lots) if (lot.paint, lot.format) != (base.paint, base.format)]
    planted = [replace(base, tested=each, faulty=each if bad else 0) for each, bad in new]
    return [*(lots[k] for k in kept), *planted], [*kept, *[place] * len(new)]


HALF, THIRD = 2.85, 2.0
"""Logit steps from the level to 50 % and to 30 %."""

SCENARIOS: dict[str, Recipe] = {
    f"{name}_{size_name}_{rho:g}": Recipe(size, rho, **extra)
    for size_name, size in (("small", SMALL), ("large", LARGE))
    for rho in (0.15, 0.5)
    for name, extra in {
        "fair": {},
        "ordinary": {"scales": (0.5, 0.3)},
        "bad_lot": {"planted": BAD_LOT},
        "bad_paint": {"planted": BAD_PAINT},
        "bad_parcel": {"bad_parcel": True},
        "hard_pigment": {"at": "pigment", "bump": 2.5},
        "hard_format": {"at": "format", "bump": 2.0},
        "specialist": {"specialist": True},
        "drifted": {"drift": 2.0},
        "cell_half": {"at": "cell", "bump": HALF},
        "maker_half": {"at": "maker", "bump": HALF},
        "cell_third": {"at": "cell", "bump": THIRD},
    }.items()
}

RARE, OFTEN = -3.9, -0.85
"""Levels at which 2 % and 30 % of an ordinary paint's specimens are truly faulty."""

AFTER: dict[str, Recipe] = {
    f"after_{name}_{rho:g}": Recipe(SMALL, rho, **extra)
    for rho in (0.15, 0.5)
    for name, extra in {
        "fair": {},
        "cell_half": {"at": "cell", "bump": HALF},
        "maker_half": {"at": "maker", "bump": HALF},
        "cell_and_pigment": {"at": "cell", "bump": HALF, "second_pigment": 2.5},
        "maker_and_lot": {"at": "maker", "bump": HALF, "planted": BAD_LOT},
        "lot_of_3": {"planted": SHORT_LOT},
        "bad_paint": {"planted": BAD_PAINT},
        "five_fair": {"makers": 5},
        "five_maker_half": {"makers": 5, "at": "maker", "bump": HALF},
        "rare_fair": {"level": RARE},
        "rare_cell_half": {"level": RARE, "at": "cell", "bump": -RARE},
        "often_fair": {"level": OFTEN},
        "often_cell_high": {"level": OFTEN, "at": "cell", "bump": 2.0},
        "gaps_fair": {"gaps": 0.4},
        "gaps_maker_half": {"gaps": 0.4, "at": "maker", "bump": HALF},
    }.items()
}
"""Worlds looked at twice: as planned, and after what the rules ask for was bought to confirm."""

PEERS: dict[str, Recipe] = {
    f"peers_{said}_{name}_{rho:g}": Recipe(SMALL, rho, groups=6, peers=said, gaps=gaps, **extra)
    for said, gaps in ((HARDNESS, 0.0), (SILENT, 0.4))
    for rho in (0.15, 0.5)
    for name, extra in {"fair": {}, "cell_half": {"at": "cell", "bump": HALF}}.items()
}
"""Twelve pencils of six hardnesses at each maker: labels that say it, and labels that say nothing.

Where they say nothing, makers sell different pencils as well: two in five of a maker's are missing.
"""

Judge = Callable[[Truth], dict[str, object]]
