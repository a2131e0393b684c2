"""Agreement of two or more testers who need not have graded the same pieces: Krippendorff's alpha."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from qcledger.errors import bad
from qcledger.stats.check import FloatArray


class Scale(StrEnum):
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
    """

    alpha: float | None
    pieces: int
    values: int


def krippendorff_alpha(ratings: ArrayLike, scale: Scale = Scale.ORDINAL) -> Alpha:
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


def distances(values: FloatArray, often: FloatArray, scale: Scale) -> FloatArray:
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
    if scale is Scale.NOMINAL:
        return 1 - np.eye(len(values))
    place = np.cumsum(often) - often / 2 if scale is Scale.ORDINAL else values
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
