"""Agreement of two or more testers who need not have graded the same pieces: Krippendorff's alpha."""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from qcledger.errors import bad
from qcledger.stats import check
from qcledger.stats.agreement import SCALE, grade_pairs
from qcledger.stats.check import FloatArray
from qcledger.stats.pair_weights import Prior, limits
from qcledger.stats.proportion import Interval

ALPHA_FROM = 20
"""Pieces of two testers from which alpha is given, with its interval: with 10 it held the truth in as little as 90 %
(tests/bench/alpha_coverage.txt)."""

FAR, SLIP, TAILS = 0.34, 0.02, (0.8, 1.2)
"""Of the slip added in the interval for alpha: its squared distance, where places run from 0 to 1, and its weight;
and what is left out below and above; see `pair_weights.Prior`."""


class AlphaScale(StrEnum):
    """What a difference of two values means."""

    NOMINAL = "nominal"
    ORDINAL = "ordinal"
    INTERVAL = "interval"


@dataclass(frozen=True, slots=True)
class Alpha:
    """Krippendorff's alpha.

    Parameters
    ----------
    alpha
        1 for perfect agreement, 0 for what chance gives, below 0 for less; None where every value is the same or no
        piece has two.
    pieces, values
        Pieces with at least two values, and their values; the others say nothing about agreement.
    interval
        Interval for alpha, where one was asked for and there is one.
    """

    alpha: float | None
    pieces: int
    values: int
    interval: Interval | None = None


def krippendorff_alpha(ratings: ArrayLike, scale: AlphaScale = AlphaScale.ORDINAL) -> Alpha:
    """Return Krippendorff's alpha.

    Parameters
    ----------
    ratings
        Shape (testers, pieces); NaN where a tester has not graded a piece.
    scale
        `ORDINAL` for grades.

    Raises
    ------
    BadInput
        The ratings are no table of numbers.

    Notes
    -----
    Krippendorff 2011, Computing Krippendorff's Alpha-Reliability: 1 less observed over expected disagreement, from
    the coincidences of values within pieces, each weighted by 1 / (values of the piece - 1).
    """
    table = _ratings(ratings)
    held = table[:, (~np.isnan(table)).sum(axis=0) >= 2]
    values, which = np.unique(held[~np.isnan(held)], return_inverse=True)
    pieces = np.nonzero(~np.isnan(held))[1]
    counts = np.zeros((held.shape[1], len(values)))
    np.add.at(counts, (pieces, which), 1)
    return Alpha(_alpha(counts, distances(values, counts.sum(axis=0), scale)), held.shape[1], int(counts.sum()))


def alpha_of_two(first: ArrayLike, second: ArrayLike, level: float = 0.95) -> Alpha:
    """Return the ordinal alpha of two testers who both graded each piece, with its interval from `ALPHA_FROM` pieces.

    Parameters
    ----------
    first, second
        Grades in a row, one of each tester a piece.
    level
        Two-sided confidence, between 0 and 1.

    Raises
    ------
    BadInput
        A grade is no number, the rows differ in length, or the level is out of range; the message names it.
    """
    check.inner("level", level)
    one, other = grade_pairs(first, second)
    found = krippendorff_alpha(np.stack([one, other]))
    if found.alpha is None or found.pieces < ALPHA_FROM:
        return found
    low, high = (float(end) for end in alpha_limits(one, other, level))
    return replace(found, interval=Interval(min(low, found.alpha), max(high, found.alpha), level, "weighted pairs"))


def alpha_limits(first: ArrayLike, second: ArrayLike, level: float = 0.95) -> tuple[FloatArray, FloatArray]:
    """Return limits for the ordinal alpha of two testers, for many sets of pieces at once.

    Parameters
    ----------
    first, second
        Grades, shape (..., pieces); the last axis holds the pieces of one set, at least two.
    level
        Two-sided confidence, between 0 and 1.

    Returns
    -------
    low, high
        Shape (...).

    Notes
    -----
    `pair_weights.limits` on places: that of a grade is the share of grades below it and half of those equal to it, so
    that the ordinal distance of two grades is the distance of their places.
    """
    one, other = check.numbers("first", first), check.numbers("second", second)
    both = np.concatenate([one, other], axis=-1)
    mine, yours, scale = (_places(part, both) for part in (one, other, np.broadcast_to(SCALE, (*one.shape[:-1], 6))))
    prior = Prior(scale, (np.diff(scale, axis=-1) ** 2).mean(axis=-1), FAR, SLIP, TAILS)
    return limits((mine + yours) / 2, (mine - yours) ** 2, prior, check.inner("level", level))


def _places(grades: FloatArray, among: FloatArray) -> FloatArray:
    """Return the share of `among` below each of `grades`, and half of those equal to it, along the last axis."""
    here, there = grades[..., :, None], among[..., None, :]
    places: FloatArray = (there < here).mean(axis=-1) + (there == here).mean(axis=-1) / 2
    return places


def distances(values: FloatArray, often: FloatArray, scale: AlphaScale) -> FloatArray:
    """Return the squared distance of each two of `values`, which occur `often` among all that count.

    Parameters
    ----------
    values
        Distinct values in rising order, shape (k,).
    often
        How often each occurs, shape (k,); the ordinal distance of two values is the number of values from one to the
        other, half of those at either end.
    scale
        What a difference means.
    """
    if scale is AlphaScale.NOMINAL:
        return 1 - np.eye(len(values))
    place = np.cumsum(often) - often / 2 if scale is AlphaScale.ORDINAL else values
    apart: FloatArray = np.subtract.outer(place, place) ** 2
    return apart


def _ratings(ratings: ArrayLike) -> FloatArray:
    try:
        table = np.asarray(ratings, dtype=np.float64)
    except (TypeError, ValueError):
        raise bad("ratings", ratings, "numbers, NaN where there is none") from None
    if table.ndim != 2 or np.isinf(table).any():
        raise bad("ratings", f"shape {table.shape}", "finite numbers, a row for each tester, a column for each piece")
    return table


def _alpha(counts: FloatArray, apart: FloatArray) -> float | None:
    """Return alpha from how often each piece (row) got each value (column)."""
    per_piece, often = counts.sum(axis=1), counts.sum(axis=0)
    expected = float(often @ apart @ often)
    if not expected:
        return None
    seen = float((((counts @ apart) * counts).sum(axis=1) / (per_piece - 1)).sum())
    return 1 - (float(often.sum()) - 1) * seen / expected
