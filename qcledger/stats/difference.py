"""How much more often one group is faulty than its peers: differences and ratios of two rates of independent units.

Functions named ``..._limits`` take arrays of counts and return two arrays; the others take one comparison and return
an `Interval`. A group of which nothing was tested leaves every difference (-1 to 1) and every ratio (0 to infinity)
open, and so does a ratio where neither group has a faulty unit.

The four counts are whole numbers, 0 <= faulty <= tested and 0 <= peer_faulty <= peer_tested; arrays share one shape.
`level` is the two-sided confidence, between 0 and 1. `BadInput` names a count or level out of range.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from qcledger.stats import check
from qcledger.stats.check import FloatArray
from qcledger.stats.proportion import Interval, wilson_limits

HALVINGS = 60
"""Steps of the search for a score limit; each halves what is left, so 60 exhaust a float."""

PEER = ("peer_faulty", "peer_tested")


def difference_score(
    faulty: int, tested: int, peer_faulty: int, peer_tested: int, level: float = 0.95, *, corrected: bool = True
) -> Interval:
    """Return the score interval for one difference of rates; see `difference_score_limits`."""
    counts = _one(faulty, tested, peer_faulty, peer_tested)
    low, high = difference_score_limits(*counts, level, corrected=corrected)
    return Interval(float(low), float(high), level, "Miettinen-Nurminen" if corrected else "Mee")


def difference_score_limits(
    faulty: ArrayLike,
    tested: ArrayLike,
    peer_faulty: ArrayLike,
    peer_tested: ArrayLike,
    level: float = 0.95,
    *,
    corrected: bool = True,
) -> tuple[FloatArray, FloatArray]:
    """Return the score limits for many differences, rate minus peers' rate, from -1 to 1.

    `corrected` gives the variance the factor N/(N - 1) of Miettinen and Nurminen, N units in all.

    Notes
    -----
    Miettinen & Nurminen 1985, Stat Med 4:213-226; uncorrected: Mee 1984, Biometrics 40:1175-1176. All differences d
    whose score test, both rates being estimated under p1 - p2 = d, is not significant at 1 - `level`.
    """
    pair = _Pair.of(faulty, tested, peer_faulty, peer_tested)
    factor = pair.factor(level, corrected)

    def inside(difference: FloatArray) -> NDArray[np.bool_]:
        first = _rate_at_difference(pair, difference)
        variance = _spread(first, pair.total) + _spread(first - difference, pair.peer_total)
        return (pair.rate - pair.peer_rate - difference) ** 2 <= factor * variance

    estimate = pair.rate - pair.peer_rate
    low, high = (_edge(inside, estimate, end) for end in (-1.0, 1.0))
    return np.where(pair.empty, -1.0, low), np.where(pair.empty, 1.0, high)


def difference_hybrid(faulty: int, tested: int, peer_faulty: int, peer_tested: int, level: float = 0.95) -> Interval:
    """Return the hybrid score interval for one difference of rates; see `difference_hybrid_limits`."""
    low, high = difference_hybrid_limits(*_one(faulty, tested, peer_faulty, peer_tested), level)
    return Interval(float(low), float(high), level, "Newcombe hybrid score")


def difference_hybrid_limits(
    faulty: ArrayLike, tested: ArrayLike, peer_faulty: ArrayLike, peer_tested: ArrayLike, level: float = 0.95
) -> tuple[FloatArray, FloatArray]:
    """Return the hybrid score limits for many differences, rate minus peers' rate, from -1 to 1.

    Notes
    -----
    Newcombe 1998, Stat Med 17:873-890, method 10: the two Wilson intervals put together by squares. In closed form,
    hence the one for many cells at once.
    """
    pair = _Pair.of(faulty, tested, peer_faulty, peer_tested)
    low, high = wilson_limits(pair.faulty, pair.total, level)
    peer_low, peer_high = wilson_limits(pair.peer_faulty, pair.peer_total, level)
    estimate = pair.rate - pair.peer_rate
    down = np.hypot(pair.rate - low, peer_high - pair.peer_rate)
    up = np.hypot(high - pair.rate, pair.peer_rate - peer_low)
    return np.where(pair.empty, -1.0, estimate - down), np.where(pair.empty, 1.0, estimate + up)


def ratio_score(
    faulty: int, tested: int, peer_faulty: int, peer_tested: int, level: float = 0.95, *, corrected: bool = True
) -> Interval:
    """Return the score interval for one ratio of rates; see `ratio_score_limits`."""
    counts = _one(faulty, tested, peer_faulty, peer_tested)
    low, high = ratio_score_limits(*counts, level, corrected=corrected)
    return Interval(float(low), float(high), level, "Miettinen-Nurminen" if corrected else "Koopman")


def ratio_score_limits(
    faulty: ArrayLike,
    tested: ArrayLike,
    peer_faulty: ArrayLike,
    peer_tested: ArrayLike,
    level: float = 0.95,
    *,
    corrected: bool = True,
) -> tuple[FloatArray, FloatArray]:
    """Return the score limits for many ratios, rate over peers' rate, from 0 to infinity.

    `corrected` gives the variance the factor N/(N - 1) of Miettinen and Nurminen, N units in all.

    Notes
    -----
    Miettinen & Nurminen 1985, Stat Med 4:213-226; uncorrected: Koopman 1984, Biometrics 40:513-517. The search runs
    over s in 0 to 1 with the ratio s / (1 - s), so that no faulty unit among the peers is a point like any other.
    """
    pair = _Pair.of(faulty, tested, peer_faulty, peer_tested)
    factor = pair.factor(level, corrected)

    def inside(s: FloatArray) -> NDArray[np.bool_]:
        scale = _scale_at_ratio(pair, s)
        variance = (1 - s) ** 2 * _spread(s * scale, pair.total)
        variance += s**2 * _spread((1 - s) * scale, pair.peer_total)
        return ((1 - s) * pair.rate - s * pair.peer_rate) ** 2 <= factor * variance

    either = pair.rate + pair.peer_rate
    estimate = np.where(either > 0, pair.rate / np.where(either > 0, either, 1.0), 0.5)
    low, high = (_edge(inside, estimate, end) for end in (0.0, 1.0))
    return np.where(pair.empty, 0.0, _ratio(low, 1 - low)), np.where(pair.empty, np.inf, _ratio(high, 1 - high))


def ratio_hybrid(faulty: int, tested: int, peer_faulty: int, peer_tested: int, level: float = 0.95) -> Interval:
    """Return the hybrid score interval for one ratio of rates; see `ratio_hybrid_limits`."""
    low, high = ratio_hybrid_limits(*_one(faulty, tested, peer_faulty, peer_tested), level)
    return Interval(float(low), float(high), level, "MOVER-R Wilson")


def ratio_hybrid_limits(
    faulty: ArrayLike, tested: ArrayLike, peer_faulty: ArrayLike, peer_tested: ArrayLike, level: float = 0.95
) -> tuple[FloatArray, FloatArray]:
    """Return the hybrid score limits for many ratios, rate over peers' rate, from 0 to infinity.

    Notes
    -----
    Donner & Zou 2012, Stat Methods Med Res 21:347-359, from the two Wilson intervals. The low limit is written with
    the root below the line, which stays exact where the usual form divides nothing by nothing.
    """
    pair = _Pair.of(faulty, tested, peer_faulty, peer_tested)
    low, high = wilson_limits(pair.faulty, pair.total, level)
    peer_low, peer_high = wilson_limits(pair.peer_faulty, pair.peer_total, level)
    product = pair.rate * pair.peer_rate
    under, peer_over = low * (2 * pair.rate - low), peer_high * (2 * pair.peer_rate - peer_high)
    over, peer_under = high * (2 * pair.rate - high), peer_low * (2 * pair.peer_rate - peer_low)
    down = under / np.where(under > 0, product + _root(product**2 - under * peer_over), 1.0)
    up = _ratio(product + _root(product**2 - over * peer_under), peer_under)
    return np.where(pair.empty, 0.0, down), np.where(pair.empty, np.inf, up)


@dataclass(frozen=True, slots=True)
class _Pair:
    """Counts of two groups, cell by cell; a total of 1 stands in where `empty` says that nothing was tested."""

    faulty: FloatArray
    total: FloatArray
    peer_faulty: FloatArray
    peer_total: FloatArray
    empty: NDArray[np.bool_]

    @classmethod
    def of(cls, faulty: ArrayLike, tested: ArrayLike, peer_faulty: ArrayLike, peer_tested: ArrayLike) -> "_Pair":
        ours, peers = check.counts(faulty, tested), check.counts(peer_faulty, peer_tested, PEER)
        some, total, peer_some, peer_total = check.same_shape("peer_faulty", *ours, *peers)
        return cls(some, np.maximum(total, 1), peer_some, np.maximum(peer_total, 1), (total == 0) | (peer_total == 0))

    @property
    def rate(self) -> FloatArray:
        return self.faulty / self.total

    @property
    def peer_rate(self) -> FloatArray:
        return self.peer_faulty / self.peer_total

    def factor(self, level: float, corrected: bool) -> FloatArray:
        """Return z squared, with the correction N / (N - 1) if asked for."""
        both = self.total + self.peer_total
        z = float(ndtri(0.5 + check.inner("level", level) / 2))
        return z**2 * (both / (both - 1) if corrected else np.ones_like(both))


def _one(faulty: int, tested: int, peer_faulty: int, peer_tested: int) -> tuple[float, float, float, float]:
    return *check.one_count(faulty, tested), *check.one_count(peer_faulty, peer_tested, PEER)


def _spread(rate: FloatArray, total: FloatArray) -> FloatArray:
    return rate * (1 - rate) / total


def _root(square: FloatArray) -> FloatArray:
    """Return the square root of what rounding may have left a hair below nothing."""
    return np.sqrt(np.maximum(square, 0.0))


def _ratio(over: FloatArray, under: FloatArray) -> FloatArray:
    """Return `over` / `under`, infinite where `under` is 0."""
    return np.where(under > 0, over / np.where(under > 0, under, 1.0), np.inf)


def _rate_at_difference(pair: _Pair, difference: FloatArray) -> FloatArray:
    """Return the likeliest rate of the first group when it exceeds the peers' by `difference`.

    The middle root of a cubic, by the cosines of Farrington & Manning 1990, Stat Med 9:1447-1454.
    """
    theta = pair.peer_total / pair.total
    a = 1 + theta
    b = -(1 + theta + pair.rate + theta * pair.peer_rate + difference * (theta + 2))
    c = difference**2 + difference * (2 * pair.rate + theta + 1) + pair.rate + theta * pair.peer_rate
    d = -pair.rate * difference * (1 + difference)
    v = (b / (3 * a)) ** 3 - b * c / (6 * a**2) + d / (2 * a)
    u = np.copysign(_root((b / (3 * a)) ** 2 - c / (3 * a)), v)
    cosine = np.clip(v / np.where(u == 0, 1.0, u**3), -1, 1)
    root = 2 * u * np.cos((np.pi + np.arccos(cosine)) / 3) - b / (3 * a)
    return np.clip(root, np.maximum(0.0, difference), np.minimum(1.0, 1 + difference))


def _scale_at_ratio(pair: _Pair, s: FloatArray) -> FloatArray:
    """Return k such that the likeliest rates in the ratio s : 1 - s are s k and (1 - s) k.

    The smaller root of N s (1 - s) k^2 - b k + faulty = 0, written so that s = 0 and s = 1 divide by no zero.
    """
    faulty, both = pair.faulty + pair.peer_faulty, pair.total + pair.peer_total
    b = faulty + s * (pair.total - pair.faulty) + (1 - s) * (pair.peer_total - pair.peer_faulty)
    under = b + _root(b**2 - 4 * both * s * (1 - s) * faulty)
    return 2 * faulty / np.where(under > 0, under, 1.0)


def _edge(inside: Callable[[FloatArray], NDArray[np.bool_]], estimate: FloatArray, end: float) -> FloatArray:
    """Return, by halving, how far from `estimate` towards `end` one stays `inside`."""
    near, far = estimate, np.full_like(estimate, end)
    reached = inside(far)
    for _ in range(HALVINGS):
        middle = (near + far) / 2
        held = inside(middle)
        near, far = np.where(held, middle, near), np.where(held, far, middle)
    return np.where(reached, end, near)
