"""Sessions that graded otherwise than the others, by the grades of pieces that were seen more than once.

Grades have few values: a chart for each criterion would cry out at every second grade, or never. Here the control
and the hidden repeats of a session are judged together, over its criteria, against how grades scatter elsewhere.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qcledger.errors import bad
from qcledger.stats import check
from qcledger.stats.check import FloatArray

LINE = 0.0027
"""Chance of a false alarm from which a session counts as moved or scattered: that of three deviations on a chart."""

DRAWS = 10_000
"""Steady sessions drawn for each session judged."""

FIRST_DRAWS, FIRST_LINE = 500, 10 * LINE
"""Draws of a first look, and the chance above which it spares a session the others: one that moved lies above it once
in 10 ** 8 first looks."""

USUAL = ((0.0, 0.75), (1.0, 0.23), (2.0, 0.02))
"""How far a second grade lies from the first before a tester has shown how well he repeats (our proposal)."""

MANY = 4
"""Sessions from which a piece counts as the control does: its median elsewhere hardly scatters."""

USUAL_WEIGHT = 20
"""Comparisons that `USUAL` counts for."""


@dataclass(frozen=True, slots=True)
class SessionShift:
    """How far one criterion, or all together, stood from other sessions.

    Parameters
    ----------
    criterion
        Its number, as given; None for all together.
    pieces
        Pieces compared (pieces times criteria for all together).
    shift
        Mean of their grades here less their median grade in other sessions, in grades; 0 without pieces.
    limit
        Shift, either way, that a steady session of this make exceeds with a chance of `LINE`.
    p_value
        Chance of a shift as large, either way, in a steady session.
    """

    criterion: int | None
    pieces: int
    shift: float
    limit: float
    p_value: float


@dataclass(frozen=True, slots=True)
class SessionCheck:
    """How one session stood against the others.

    Parameters
    ----------
    session
        Its number, as given.
    mean
        All its criteria together.
    shifts
        Each criterion by itself, rising by number.
    moved_p_value
        Chance that a steady session shows shifts as large, each criterion in its own direction.
    scattered_p_value
        Chance that it shows single differences as large, in whatever direction. Both are 1 where nothing can be
        compared.
    """

    session: int
    mean: SessionShift
    shifts: tuple[SessionShift, ...]
    moved_p_value: float
    scattered_p_value: float

    @property
    def moved(self) -> bool:
        """Whether the session's scale stood elsewhere, in one criterion or more."""
        return self.moved_p_value <= LINE

    @property
    def scattered(self) -> bool:
        """Whether its grades scatter more than elsewhere."""
        return self.scattered_p_value <= LINE


def unheard() -> None:
    """Hear that the work goes on, and let it."""


def check_sessions(
    grades: ArrayLike,
    session: ArrayLike,
    criterion: ArrayLike,
    piece: ArrayLike,
    *,
    seed: int = 0,
    going_on: Callable[[], None] = unheard,
) -> tuple[SessionCheck, ...]:
    """Judge each session by pieces that were also graded in other sessions, or twice in this one.

    Parameters
    ----------
    grades
        Grades in a row, one a look, in the order of time: of the control, of hidden repeats, and of the pieces they
        repeat.
    session, criterion, piece
        Whole numbers of the same length: which session, criterion and piece each grade belongs to.
    seed
        Of the steady sessions drawn; the same seed gives the same chances.
    going_on
        Called before each session is looked at; what it raises ends the work.

    Returns
    -------
    tuple of SessionCheck
        One for each session named, rising by number.

    Raises
    ------
    BadInput
        A grade is no number, or the rows differ in length; the message names it.

    Notes
    -----
    A piece's difference is its mean grade in the session less the median of its means in other sessions. *Moved*
    adds up, over the criteria, the squared sum of differences over their number; *scattered* the squared
    differences, and those of pieces graded twice in the session. Both are compared with sessions of the same make
    whose differences are drawn from those of the others, either sign as likely, mixed with `USUAL`; differences of
    two single looks and those from a median of many are drawn apart. The session that stands out most is set aside
    and the others are judged without it, so that one session's shift is not laid to its neighbours.
    """
    looks = _looks(grades, session, criterion, piece)
    found: dict[int, SessionCheck] = {}
    while left := [one for one in range(len(looks.sessions)) if one not in found]:
        field = _Field(looks, tuple(found))
        worst = _worst(field, left, seed, going_on)
        for one in left if worst is None else [worst]:
            going_on()
            found[one] = field.judge(one, seed)
    return tuple(found[one] for one in sorted(found))


def _worst(field: "_Field", left: Sequence[int], seed: int, going_on: Callable[[], None]) -> int | None:
    """Return the session that stands out most, the first of several; None where none has moved."""
    worst, chance = None, LINE
    for one in left:
        going_on()
        if field.moved(one, seed, FIRST_DRAWS) <= FIRST_LINE:
            own = field.moved(one, seed)
            if own < chance or (worst is None and own <= LINE):
                worst, chance = one, own
            if chance <= 1 / (DRAWS + 1):  # no other can stand out more
                break
    return worst


@dataclass(frozen=True, slots=True)
class _Looks:
    """Grades by item, which is a piece on one criterion, and session."""

    sessions: NDArray[np.intp]
    criterion: NDArray[np.intp]  # of each item
    means: FloatArray  # (items, sessions), NaN where not seen
    twice: tuple[FloatArray, ...]  # of each session: later grade less the one before, of items seen twice in it


def _looks(grades: ArrayLike, session: ArrayLike, criterion: ArrayLike, piece: ArrayLike) -> _Looks:
    row = check.numbers("grades", grades)
    if row.ndim != 1:
        raise bad("grades", f"shape {row.shape}", "grades in a row")
    of_session, of_criterion, of_piece = (
        _labels(name, given, row.size)
        for name, given in (("session", session), ("criterion", criterion), ("piece", piece))
    )
    sessions, column = np.unique(of_session, return_inverse=True)
    items, line = np.unique(np.stack([of_criterion, of_piece]), axis=1, return_inverse=True)
    line = line.reshape(-1)
    total, seen = np.zeros((items.shape[1], len(sessions))), np.zeros((items.shape[1], len(sessions)))
    np.add.at(total, (line, column), row)
    np.add.at(seen, (line, column), 1)
    means = np.where(seen > 0, total / np.maximum(seen, 1), np.nan)
    by_cell = np.lexsort((line, column))
    again = (np.diff(line[by_cell]) == 0) & (np.diff(column[by_cell]) == 0)
    later, apart = column[by_cell][1:][again], np.diff(row[by_cell])[again]
    return _Looks(sessions, items[0], means, tuple(apart[later == one] for one in range(len(sessions))))


def _labels(name: str, given: ArrayLike, size: int) -> NDArray[np.intp]:
    numbers = check.whole(name, given)
    if numbers.shape != (size,):
        raise bad(name, f"shape {numbers.shape}", f"a number for each of {size} grades")
    return numbers.astype(np.intp)


class _Field:
    """Differences of each item in each session from its other sessions, without the sessions set aside."""

    def __init__(self, looks: _Looks, aside: tuple[int, ...]) -> None:
        self.looks, self.aside = looks, aside
        self.seen = ~np.isnan(looks.means)
        means = looks.means.copy()
        means[:, aside] = np.nan
        # One look from the median of many scatters less than two single looks from each other.
        self.single = (~np.isnan(means)).sum(axis=1) < MANY
        self.apart = means - _median_of_others(means)
        self.item, self.column = np.nonzero(~np.isnan(self.apart))
        self.known = self.apart[self.item, self.column]

    def moved(self, session: int, seed: int, draws: int = DRAWS) -> float:
        """Return the chance of what `session`, a column, shows together."""
        apart, groups, alike = self._of(session)
        drawn = self._drawn(session, alike, seed, draws)[:, : len(apart)]
        return _chance_moved(apart, drawn, [own for _, own in groups])

    def judge(self, session: int, seed: int) -> SessionCheck:
        """Return how `session`, a column, stood."""
        apart, groups, alike = self._of(session)
        drawn = self._drawn(session, alike, seed, DRAWS)
        outside = drawn[:, : len(apart)]
        twice = self.looks.twice[session]
        scatter = (drawn**2).sum(axis=1), float((apart**2).sum() + (twice**2).sum())
        return SessionCheck(
            int(self.looks.sessions[session]),
            _shift(None, apart, outside),
            tuple(_shift(one, apart[own], outside[:, own]) for one, own in groups),
            _chance_moved(apart, outside, [own for _, own in groups]),
            _share(*scatter),
        )

    def _of(self, session: int) -> tuple[FloatArray, list[tuple[int, NDArray[np.bool_]]], NDArray[np.bool_]]:
        """Return its differences, which are of each criterion, and whether each drawn one is of two single looks."""
        here = ~np.isnan(self.apart[:, session])
        criterion = self.looks.criterion[here]
        groups = [(int(one), criterion == one) for one in np.unique(criterion)]
        alike = np.concatenate([self.single[here], np.ones(len(self.looks.twice[session]), dtype=bool)])
        return self.apart[here, session], groups, alike

    def _drawn(self, session: int, alike: NDArray[np.bool_], seed: int, draws: int) -> FloatArray:
        """Draw steady sessions, shape (draws, differences); `alike` marks those of two single looks."""
        rng = np.random.default_rng([seed, session])
        drawn = np.empty((draws, len(alike)))
        for single in (False, True):
            shape = draws, int((alike == single).sum())
            drawn[:, alike == single] = _signed(self._elsewhere(session, single), shape, rng)
        return drawn

    def _elsewhere(self, session: int, single: bool) -> FloatArray:
        """Return the differences of other sessions, of two single looks or of one look from many."""
        touched = self.seen[:, session] & (self.seen.sum(axis=1) == 2)
        wanted = (~touched & (self.single == single))[self.item] & (self.column != session)
        others = [one for one in range(self.seen.shape[1]) if one not in (*self.aside, session)]
        return np.concatenate([self.known[wanted], *(self.looks.twice[one] for one in others if single)])


def _median_of_others(means: FloatArray) -> FloatArray:
    """Return for each known value the median of the other known values of its row, shape as given; else NaN."""
    known = ~np.isnan(means)
    many = known.sum(axis=1)
    order = np.argsort(means, axis=1)  # NaN comes last
    place = np.argsort(order, axis=1)
    rising = np.take_along_axis(means, order, axis=1)

    def without(rank: NDArray[np.intp]) -> FloatArray:
        """Return the value of this rank, of each row, among the others."""
        at = np.clip(rank[:, None] + (place <= rank[:, None]), 0, means.shape[1] - 1)
        return np.take_along_axis(rising, at, axis=1)

    middle: FloatArray = (without((many - 2) // 2) + without((many - 1) // 2)) / 2
    return np.where(known & (many > 1)[:, None], middle, np.nan)


def _signed(elsewhere: FloatArray, shape: tuple[int, int], rng: np.random.Generator) -> FloatArray:
    """Draw differences from those `elsewhere` and `USUAL`, either sign as likely."""
    values, often = np.unique(np.abs(elsewhere), return_counts=True)
    usual, chance = np.array(USUAL).T
    weights = np.concatenate([often, USUAL_WEIGHT * chance])
    level = rng.random(shape) * weights.sum()
    spots = np.zeros(shape, dtype=np.uint8)
    for end in np.cumsum(weights)[:-1]:  # as few as differences have values: quicker than a search
        spots += level >= end
    drawn: FloatArray = np.concatenate([values, usual])[spots] * (2.0 * rng.integers(0, 2, shape) - 1)
    return drawn


def _chance_moved(apart: FloatArray, drawn: FloatArray, groups: list[NDArray[np.bool_]]) -> float:
    return _share(_moved(drawn, groups), float(_moved(apart[None], groups)[0]))


def _moved(apart: FloatArray, groups: list[NDArray[np.bool_]]) -> FloatArray:
    """Return for each row of differences the sum, over criteria, of the squared sum over their number."""
    total = np.zeros(len(apart))
    for own in groups:
        total += apart[:, own].sum(axis=1) ** 2 / own.sum()
    return total


def _shift(criterion: int | None, apart: FloatArray, drawn: FloatArray) -> SessionShift:
    if not len(apart):
        return SessionShift(criterion, 0, 0.0, float("inf"), 1.0)
    steady = np.abs(drawn.mean(axis=1))
    shift = float(apart.mean())
    limit = float(np.quantile(steady, 1 - LINE, method="higher"))
    return SessionShift(criterion, len(apart), shift, limit, _share(steady, abs(shift)))


def _share(drawn: FloatArray, own: float) -> float:
    """Return the share of draws at least as large as `own`, which counts among them."""
    return float(((drawn >= own - 1e-9).sum() + 1) / (len(drawn) + 1))
