"""Simulated testers: the chance of each two grades of one piece, for those a method was chosen on and for others.

A `Looks` is a table of chances over offered grades, rows by the first look and columns by the second. The truth of
an interval is the figure of infinitely many pieces. Testers *held out* are drawn from a seed: other mixtures of
pieces, noise that changes along the scale, a scale pressed together or stretched, a bias of the second look, slips to
any grade, and half grades given reluctantly.
"""

from dataclasses import dataclass
from itertools import product
from typing import NamedTuple

import numpy as np
from scipy.special import ndtr

GRADES = np.arange(6.0)
PIECES = {
    "even": [1 / 6] * 6,
    "traits": [0.05, 0.15, 0.3, 0.3, 0.15, 0.05],
    "faults": [0.45, 0.25, 0.12, 0.09, 0.05, 0.04],
}
NOISE = (0.35, 0.5, 0.8)
STEPS = (1.0, 0.5)
SANE = 0.4, 0.97
"""True kappas between which a tester held out is kept: one who deals grades, or never errs, is not asked about."""


class Looks(NamedTuple):
    """A name, the grades offered (k,), and the chance of each two of them for one piece (k, k)."""

    name: str
    grades: np.ndarray
    chance: np.ndarray

    @property
    def step(self):
        """The least distance of two offered grades."""
        return float(self.grades[1] - self.grades[0])


@dataclass(frozen=True)
class Hand:
    """How one look goes: mean grade and scatter along the scale, slips, and how often a half grade is avoided."""

    low_noise: float
    high_noise: float
    slope: float = 1.0
    bias: float = 0.0
    slip: float = 0.0
    avoids: float = 0.0

    def look(self, true, grades):
        """Return the chance of each grade for each true place, shape (places, grades)."""
        step = grades[1] - grades[0]
        mean = 2.5 + (true - 2.5) * self.slope + self.bias
        noise = self.low_noise + (self.high_noise - self.low_noise) * np.clip(true / 5, 0, 1)
        below = ndtr((grades[:-1] + step / 2 - mean[:, None]) / noise[:, None])
        chance = np.diff(below, axis=1, prepend=0.0, append=1.0)
        if step < 1:
            halves = self.avoids * chance[:, 1::2]
            chance[:, 1::2] -= halves
            chance[:, :-1:2] += halves / 2
            chance[:, 2::2] += halves / 2
        return (1 - self.slip) * chance + self.slip / len(grades)


def scale(step):
    """Return the grades offered."""
    return np.arange(0, 5 + step / 2, step)


def looks(name, step, true, often, first, second):
    """Return the table of two independent looks at pieces of `true` grades that occur `often`."""
    grades = scale(step)
    return Looks(name, grades, np.einsum("t,ti,tj->ij", often, first.look(true, grades), second.look(true, grades)))


def tuned(slip=0.0):
    """Yield 18 testers on which the interval for kappa was chosen: equal noise along the scale, no bias."""
    yield from _regular(slip, harsher=0.0, noisier=1.0)


def tuned_two(slip=0.0):
    """Yield 18 pairs of testers on which the interval for alpha was chosen: the second is harsher and noisier."""
    yield from _regular(slip, harsher=0.25, noisier=1.3)


def _regular(slip, harsher, noisier):
    for step, (pieces, often), noise in product(STEPS, PIECES.items(), NOISE):
        second = Hand(noisier * noise, noisier * noise, bias=harsher, slip=slip)
        name = f"{pieces} {noise}{f' slips {slip:.0%}' if slip else ''}"
        yield looks(name, step, GRADES, np.array(often), Hand(noise, noise, slip=slip), second)


def held_out(seed, number=24, two=False):
    """Yield `number` testers, whole and half grades in turn; of `two`, the second look is another tester's."""
    rng = np.random.default_rng(seed)
    kept = 0
    while kept < number:
        step = STEPS[kept % 2]
        true, often = _pieces(rng)
        first = _hand(rng)
        second = _hand(rng) if two else Hand(**{**vars(first), "bias": first.bias + rng.uniform(-0.25, 0.25)})
        found = looks(f"{'pair' if two else 'tester'} {kept + 1}", step, true, often, first, second)
        if SANE[0] <= kappa_of(found) <= SANE[1]:
            kept += 1
            yield found


def _pieces(rng):
    """Return true grades and their shares: whole, or for every third tester anywhere around them."""
    often = rng.dirichlet(np.full(6, 1.5))
    if rng.random() > 1 / 3:
        return GRADES, often
    around = np.linspace(-0.45, 0.45, 10)
    return np.clip((GRADES[:, None] + around).ravel(), 0, 5), np.repeat(often / 10, 10)


def _hand(rng):
    return Hand(
        *rng.uniform(0.3, 0.9, 2),
        slope=rng.uniform(0.8, 1.1),
        bias=rng.uniform(-0.4, 0.4),
        slip=rng.uniform(0, 0.06),
        avoids=rng.uniform(0, 0.8),
    )


def kappa_of(found):
    """Return the quadratic weighted kappa of infinitely many pieces."""
    apart, chance = np.subtract.outer(found.grades, found.grades) ** 2, found.chance
    return 1 - (apart * chance).sum() / (apart * np.outer(chance.sum(1), chance.sum(0))).sum()


def alpha_of(found):
    """Return Krippendorff's ordinal alpha of infinitely many pieces."""
    often = (found.chance.sum(0) + found.chance.sum(1)) / 2
    place = np.cumsum(often) - often / 2
    apart = np.subtract.outer(place, place) ** 2
    return 1 - (apart * found.chance).sum() / (often @ apart @ often)


def sets(found, runs, pairs, rng):
    """Return first and second grades, shape (sets, pairs), of the sets in which two grades differ."""
    cells = rng.choice(found.chance.size, (runs, pairs), p=found.chance.ravel() / found.chance.sum())
    one, other = found.grades[cells // len(found.grades)], found.grades[cells % len(found.grades)]
    has = (np.concatenate([one, other], axis=1) != one[:, :1]).any(axis=1)
    return one[has], other[has]
