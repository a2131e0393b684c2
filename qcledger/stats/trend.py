"""Drift of a tester's scale in the course of a session, and from session to session."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import kendalltau, theilslopes

from qcledger.errors import bad
from qcledger.stats import check
from qcledger.stats.agreement import grade_pairs
from qcledger.stats.check import FloatArray

DRAWS = 20_000
"""Sign changes drawn where there are too many to count."""

EXACT = 12
"""Differences up to which every one of the 2**n sign changes is counted."""


@dataclass(frozen=True, slots=True)
class Trend:
    """A change over time.

    Parameters
    ----------
    size
        Differences or values it rests on.
    slope
        Grades, or units of the values, for each place of the sheet or each session.
    p_value
        Two-sided chance of a slope as strong where nothing drifts; 1 where the data say nothing.
    """

    size: int
    slope: float
    p_value: float


def within_session(places: ArrayLike, differences: ArrayLike, *, seed: int = 0) -> Trend:
    """Return the drift in the course of a session, from pieces graded twice on one sheet.

    Parameters
    ----------
    places
        Places on the sheet between the two looks at each piece, above 0, in a row.
    differences
        Second grade less first, in a row; pieces of several sessions may be taken together.
    seed
        Of the sign changes drawn, where there are more than 2**`EXACT`.

    Raises
    ------
    BadInput
        A number is missing or a place is not above 0; the message names it.

    Notes
    -----
    Least squares through 0, and its test by changing signs (Fisher 1935, Design of Experiments, section 21): without
    drift a difference is as likely up as down.
    """
    gap, apart = grade_pairs(places, differences)
    if (gap <= 0).any():
        raise bad("places", f"{gap.min():g}", "numbers above 0")
    if not apart.any():
        return Trend(len(gap), 0.0, 1.0)
    pull = gap * apart
    slopes = np.abs(_signs(int((pull != 0).sum()), seed) @ pull[pull != 0])
    p_value = float((slopes >= abs(pull.sum()) - 1e-9).mean())
    return Trend(len(gap), float(pull.sum() / (gap**2).sum()), p_value)


def between_sessions(values: ArrayLike) -> Trend:
    """Return the drift over sessions, of the control's mean grade or reading.

    Parameters
    ----------
    values
        One value a session in the order of time.

    Raises
    ------
    BadInput
        A value is no number.

    Notes
    -----
    Slope: median of the slopes of each two sessions (Theil 1950; Sen 1968, J Am Stat Assoc 63:1379-1389), which one
    drifted session hardly moves. Test: Kendall's tau, exact without ties.
    """
    row = check.numbers("values", values)
    if row.ndim != 1:
        raise bad("values", f"shape {row.shape}", "one value for each session")
    if len(row) < 3 or (row == row[0]).all():
        return Trend(len(row), 0.0, 1.0)
    order = np.arange(len(row))
    return Trend(len(row), float(theilslopes(row, order).slope), float(kendalltau(order, row).pvalue))


def _signs(size: int, seed: int) -> FloatArray:
    """Return rows of -1 and 1: every one up to `EXACT` columns, else the row of ones and `DRAWS` drawn ones."""
    if size <= EXACT:
        bits = np.arange(2**size)[:, None] >> np.arange(size)
        return np.asarray(1 - 2 * (bits & 1), dtype=np.float64)
    signs = np.asarray(2 * np.random.default_rng(seed).integers(0, 2, (DRAWS + 1, size)) - 1, dtype=np.float64)
    signs[0] = 1.0
    return signs
