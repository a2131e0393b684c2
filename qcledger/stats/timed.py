"""Readings that stop at a limit: turns to full strength, seconds until froth is gone. "> 60" is never 60.

A reading beyond the limit is known only to lie above it (right-censored); it counts among those still waiting and
never as a value.
"""

import warnings
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from qcledger.errors import bad
from qcledger.stats import check
from qcledger.stats.check import FloatArray


@dataclass(frozen=True, slots=True)
class Median:
    """The median of readings of which some lie beyond a limit.

    Parameters
    ----------
    readings, beyond
        How many readings, and how many of them are known only to lie above a limit.
    median
        Smallest reading that at least half do not exceed, in the unit of the readings; None where it is not reached.
    low, high
        Ends of its interval; None where that end is not reached, so that the interval is open there.
    above
        Where `median` is None: the largest reading or limit, above which the median lies. None without readings.
    level
        Two-sided confidence, between 0 and 1.
    """

    readings: int
    beyond: int
    median: float | None
    low: float | None
    high: float | None
    above: float | None
    level: float


@dataclass(frozen=True, slots=True)
class TimedComparison:
    """Readings against those of peers.

    Parameters
    ----------
    ours, peers
        The two medians.
    statistic
        Signed root of the log-rank chi-square; positive when ours are reached sooner than the peers'.
    p_value
        Two-sided; 1 where nothing can be compared.
    """

    ours: Median
    peers: Median
    statistic: float
    p_value: float


def median(readings: ArrayLike, beyond: ArrayLike, level: float = 0.95) -> Median:
    """Return the median of readings of which some lie beyond a limit.

    Parameters
    ----------
    readings
        Readings, or the limits they lie above, in a row.
    beyond
        For each whether it is such a limit.
    level
        Two-sided confidence, between 0 and 1.

    Raises
    ------
    BadInput
        A reading is no number, `beyond` does not fit, or the level is out of range; the message names it.

    Notes
    -----
    Kaplan & Meier 1958, J Am Stat Assoc 53:457-481. Interval: the readings at which the pointwise limits of the
    curve, on the scale of log(-log), hold a half (Brookmeyer & Crowley 1982, Biometrics 38:29-41).
    """
    check.inner("level", level)
    row, above = _row("readings", readings, beyond)
    if not len(row):
        return Median(0, 0, None, None, None, None, level)
    curve = stats.ecdf(_censored(row, above)).sf
    low, high = _band(curve, level)
    reached = _first(curve.quantiles, curve.probabilities)
    return Median(
        len(row),
        int(above.sum()),
        reached,
        _first(curve.quantiles, low),
        _first(curve.quantiles, high),
        float(row.max()) if reached is None else None,
        level,
    )


def against_peers(
    readings: ArrayLike, beyond: ArrayLike, peers: ArrayLike, peers_beyond: ArrayLike, level: float = 0.95
) -> TimedComparison:
    """Compare readings with those of peers.

    Parameters
    ----------
    readings, peers
        Readings, or the limits they lie above, in a row.
    beyond, peers_beyond
        For each whether it is such a limit.
    level
        Two-sided confidence of the medians, between 0 and 1.

    Raises
    ------
    BadInput
        A reading is no number, or a row does not fit; the message names it.

    Notes
    -----
    Log-rank test (Mantel 1966, Cancer Chemother Rep 50:163-170). With few readings on either side its p-value, from
    the normal distribution, is an approximation.
    """
    ours, theirs = median(readings, beyond, level), median(peers, peers_beyond, level)
    one, other = _row("readings", readings, beyond), _row("peers", peers, peers_beyond)
    statistic, p_value = 0.0, 1.0
    if len(one[0]) and len(other[0]) and _comparable(one, other):
        found = stats.logrank(_censored(*one), _censored(*other))
        statistic, p_value = float(found.statistic), float(found.pvalue)
    return TimedComparison(ours, theirs, statistic, p_value)


def _row(name: str, readings: ArrayLike, beyond: ArrayLike) -> tuple[FloatArray, NDArray[np.bool_]]:
    row, above = check.numbers(name, readings), np.asarray(beyond)
    if row.ndim != 1 or above.shape != row.shape:
        raise bad(name, f"shapes {row.shape} and {above.shape}", "readings in a row, true or false for each")
    if above.size and above.dtype != np.bool_:
        raise bad("beyond", above[0], "true or false")
    return row, above.astype(np.bool_)


def _censored(row: FloatArray, above: NDArray[np.bool_]) -> "stats.CensoredData":
    return stats.CensoredData(uncensored=row[~above], right=row[above])


def _band(curve: object, level: float) -> tuple[FloatArray, FloatArray]:
    with warnings.catch_warnings():
        # At 1 and at 0 the curve has no limits on this scale: NaN, which never counts as reached.
        warnings.simplefilter("ignore", RuntimeWarning)
        band = curve.confidence_interval(level, method="log-log")  # type: ignore[attr-defined]
    return band.low.probabilities, band.high.probabilities


def _first(readings: FloatArray, still_waiting: FloatArray) -> float | None:
    """Return the first reading at which at most half are still waiting; None where that is not reached."""
    there = np.nonzero(still_waiting <= 0.5 + 1e-12)[0]
    return float(readings[there[0]]) if len(there) else None


def _comparable(one: tuple[FloatArray, NDArray[np.bool_]], other: tuple[FloatArray, NDArray[np.bool_]]) -> bool:
    """Say whether chance could have dealt any reading otherwise: some waited on while one of them was reached."""
    every, reached = np.concatenate([one[0], other[0]]), np.concatenate([one[0][~one[1]], other[0][~other[1]]])
    shared = reached[reached <= min(one[0].max(), other[0].max())]
    return any(bool((every >= time).sum() > (reached == time).sum()) for time in shared)
