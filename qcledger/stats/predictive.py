"""How well peers predict a grade, against how well all others do: a Dirichlet-multinomial predictive in bits.

Grades stand on an ordered scale of `CLASSES` half steps from 0 to 5. Each maker has one vote, spread over its lots; a
vote counts for the grades near it as well, by an ordinal kernel (Aitchison and Aitken 1976, Biometrika 63:413-420,
smooth categories by kernels; that of ordered ones is `kernel`).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammaln

from qcledger.errors import bad
from qcledger.stats import check
from qcledger.stats.check import FloatArray

CLASSES: Final = 11
"""Half steps from grade 0 to grade 5."""
NEAR: Final = 2.0
"""The kernel's deviation in half steps, where too little is on file to tell how far makers' paints lie apart."""
WIDTHS: Final = 1.0, 4.0
"""The least and the largest deviation that is taken from what is on file, in half steps."""
GAIN: Final = 1.4
"""How much wider the kernel is than makers lie apart: peers are few, and their middle is not known either."""
TRIM: Final = 0.05
"""Share of the farthest makers that says nothing of how far honest ones lie apart."""
KNOWN: Final = 10
"""Distances from which on they are asked."""
FAR: Final = 2.0
"""How much wider the prior's kernel is, which allows for a maker that lies farther apart."""
PRIOR: Final = 1.0
"""How many makers the prior counts for."""
LEAST: Final = 1 / 256
"""Share of the chance that peers leave to what all others show: one trait then tells 8 bits at most."""
LEVEL: Final = 4.0
"""Bits from which a paint is called unlike its peers, where no more than `MANY` were looked at.

So that at most one of 100 ledgers of `MANY` paints that are like their peers has one called unlike them.
"""
MANY: Final = 60
"""Paints that the level was counted for."""


@dataclass(frozen=True, slots=True)
class TraitBits:
    """What one trait says of a paint.

    Parameters
    ----------
    bits
        Binary logarithm of how much better all others predict its lots than its peers do: above 0 speaks for unlike.
    ours, peers
        Median grade of its lots, and that of the peers' votes, 0 to 5.
    makers
        Makers among the peers.
    """

    bits: float
    ours: float
    peers: float
    makers: int


def log2_sequence(counts: ArrayLike, weights: ArrayLike) -> float:
    """Return the Dirichlet-multinomial predictive of one ordered sequence, in bits at most 0.

    Parameters
    ----------
    counts
        How often each class came, whole numbers, shape (classes,).
    weights
        Dirichlet weights, above 0, of the same shape: what was seen before, and the prior.

    Raises
    ------
    BadInput
        A count is no whole number, a weight not above 0, or the shapes differ.

    Notes
    -----
    Gamma(A) / Gamma(A + n) times the product of Gamma(w + c) / Gamma(w), A the sum of the weights (Mosimann 1962,
    Biometrika 49:65-82, without the count of orders; the urn of Eggenberger and Polya 1923). The order of what came
    changes nothing.
    """
    came, known = check.whole("counts", counts), check.numbers("weights", weights)
    if came.ndim != 1 or came.shape != known.shape:
        raise bad("counts", f"shapes {came.shape} and {known.shape}", "one count for each weight, in a row")
    if (known <= 0).any():
        raise bad("weights", f"{known.min():g}", "numbers above 0")
    total, seen = known.sum(), came.sum()
    log = gammaln(total) - gammaln(total + seen) + (gammaln(known + came) - gammaln(known)).sum()
    return float(log / np.log(2))


@lru_cache(maxsize=64)
def kernel(width: float) -> FloatArray:
    """Return how a vote is spread over the scale, shape (`CLASSES`, `CLASSES`), a row for each grade, sum 1.

    Parameters
    ----------
    width
        Standard deviation in half steps, above 0, of the normal curve that is cut at both ends of the scale.
    """
    if check.one_number("width", width) <= 0:
        raise bad("width", width, "a number above 0")
    place = np.arange(CLASSES)
    weight = np.exp(-0.5 * ((place - place[:, None]) / width) ** 2)
    return np.asarray(weight / weight.sum(axis=1, keepdims=True), np.float64)


def width_of(apart: Iterable[Iterable[float]]) -> float:
    """Return the kernel's deviation for a trait in half steps, from how far makers lie apart.

    Parameters
    ----------
    apart
        For each declaration of pigments, how far each maker's lots lie from the others' middle, in grades.

    Notes
    -----
    `GAIN` times the root mean square without the farthest `TRIM`, to a quarter step, within `WIDTHS`; `NEAR` with
    fewer than `KNOWN`. Whoever grades with more noise, or tests makers that lie farther apart, needs more to
    call a paint unlike.
    """
    far = np.sort(np.abs([one for some in apart for one in some]))
    if len(far) < KNOWN:
        return NEAR
    kept = far[: int(np.ceil(len(far) * (1 - TRIM)))]
    deviation = 2 * GAIN * float(np.sqrt((kept**2).mean()))
    return float(np.clip(round(deviation * 4) / 4, *WIDTHS))


def votes(grades: ArrayLike) -> FloatArray:
    """Return one maker's vote, shape (`CLASSES`,), sum 1, from the grades of its lots, each 0 to 5."""
    row = check.numbers("grades", grades)
    if row.ndim != 1 or not len(row) or (row < 0).any() or (row > 5).any():
        raise bad("grades", np.array2string(row), "grades from 0 to 5 in a row, at least one")
    return np.bincount(_places(row), minlength=CLASSES) / len(row)


def predictive(makers: ArrayLike, near: float = NEAR) -> FloatArray:
    """Return the chance of each class for a lot of one maker more, shape (`CLASSES`,), sum 1.

    Parameters
    ----------
    makers
        Votes of makers, shape (makers, `CLASSES`), at least one row.
    near
        The kernel's deviation in half steps, above 0 (`width_of`).
    """
    given = np.atleast_2d(check.numbers("makers", makers))
    weights = given.sum(axis=0) @ kernel(near) + PRIOR * given.mean(axis=0) @ kernel(near * FAR)
    return np.asarray(weights / weights.sum(), np.float64)


def trait_bits(ours: ArrayLike, peers: ArrayLike, others: ArrayLike, near: float = NEAR) -> TraitBits:
    """Return what one trait says of a paint.

    Parameters
    ----------
    ours
        Grades of its lots, 0 to 5, in a row.
    peers
        Votes of other makers that declare the same pigments, shape (makers, `CLASSES`).
    others
        For every other pigment its own predictive, shape (pigments, `CLASSES`); each counts alike.
    near
        The kernel's deviation in half steps, above 0 (`width_of`).

    Notes
    -----
    The lots of a paint are no independent looks: their bits are averaged, not added. Under the peers' predictive a
    single lot's ratio has the mean 1; so has the geometric mean of several at most, however they hang together
    (Hölder's inequality).
    """
    lots = _places(check.numbers("ours", ours))
    given = np.atleast_2d(check.numbers("peers", peers))
    all_others = np.atleast_2d(check.numbers("others", others)).mean(axis=0)
    same = (1 - LEAST) * predictive(given, near) + LEAST * all_others
    bits = [_one(lot, all_others) - _one(lot, same) for lot in lots]
    return TraitBits(float(np.mean(bits)), float(np.median(lots)) / 2, _middle(given), len(given))


def level(looked_at: int) -> float:
    """Return the bits from which a paint is called unlike its peers, where so many were looked at, at least 1.

    Notes
    -----
    Chances of several paints add up at most (Bonferroni). For a paint like its peers a ratio whose mean is 1 reaches
    k in at most 1 of k cases (Markov's inequality; e-values: Vovk and Wang 2021, Annals of Statistics 49:1736-1754):
    one bit more halves that bound, so the level rises by a bit where twice as many are looked at. The bound itself,
    log2(looked_at / 0.01), is far from reached: `LEVEL` was chosen by counting in made-up ledgers, and
    `tests/bench/behaviour.txt` counts again, on other seeds.
    """
    return LEVEL + float(np.log2(max(check.one_whole("looked_at", looked_at, 1), MANY) / MANY))


def _one(place: int, chance: FloatArray) -> float:
    """Return the bits of one lot."""
    count = np.zeros(CLASSES)
    count[place] = 1
    return log2_sequence(count, chance)


def _places(grades: FloatArray) -> "np.ndarray[tuple[int, ...], np.dtype[np.intp]]":
    """Return the classes that grades fall in; a quarter step goes to the lower one."""
    return np.ceil(grades * 2 - 0.5).astype(np.intp)


def _middle(makers: FloatArray) -> float:
    """Return the middle grade of votes."""
    share = makers.mean(axis=0).cumsum()
    return float(np.searchsorted(share, 0.5 - 1e-9)) / 2
