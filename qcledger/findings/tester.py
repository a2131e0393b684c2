"""The tester, too, is measured: how well grades and readings repeat, whether the scale drifts, and two side by side.

Only hidden repeats of one tester's own grades measure that tester; void sessions are left out.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from statistics import fmean
from typing import NamedTuple

from qcledger.findings.control import history, shifts
from qcledger.findings.repeats import Pair, own_pairs, usable
from qcledger.records import TestedRow
from qcledger.stats.agreement import Agreement, agreement
from qcledger.stats.alpha import Alpha, alpha_of_two
from qcledger.stats.apart import Neighbours, told_apart
from qcledger.stats.precision import Repeatability, repeatability
from qcledger.stats.trend import Trend, between_sessions, within_session
from qcledger.vocab import Censored

WHOLE = (0.0, 1.0, 2.0, 3.0, 4.0, 5.0)
"""Grades whose neighbours are looked at over the criteria together; half steps are rare."""


@dataclass(frozen=True, slots=True)
class CriterionRepeats:
    """How well one tester repeats on one criterion.

    Parameters
    ----------
    criterion
        Its key; None for every criterion together, where kappa would mostly tell criteria apart and is not asked.
    grades
        How the grades of hidden repeats agree.
    readings
        How closely readings repeat, in their unit; None without two exact readings of one piece.
    """

    criterion: str | None
    grades: Agreement
    readings: Repeatability | None = None


@dataclass(frozen=True, slots=True)
class MeasuredTester:
    """What hidden repeats and the control say about one tester.

    Parameters
    ----------
    name
        The tester.
    together, by_criterion
        Every criterion together, and each by itself.
    neighbours
        Whether neighbouring whole grades are told apart, over the criteria together.
    on_sheet
        Drift in the course of a sheet, in grades a place.
    over_sessions
        Drift of the control from session to session, in grades a session.
    """

    name: str
    together: CriterionRepeats
    by_criterion: tuple[CriterionRepeats, ...]
    neighbours: tuple[Neighbours, ...]
    on_sheet: Trend
    over_sessions: Trend


@dataclass(frozen=True, slots=True)
class Shared:
    """Two testers on one criterion of the specimens that both have graded.

    Parameters
    ----------
    criterion
        Its key; None for every criterion together, where alpha would mostly tell criteria apart and is not asked.
    grades
        How their grades agree; `shift` is the other's less the one's.
    alpha
        Krippendorff's alpha, ordinal.
    """

    criterion: str | None
    grades: Agreement
    alpha: Alpha | None = None


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Two testers on the specimens that both have graded.

    Parameters
    ----------
    one, other
        The testers.
    together, by_criterion
        Every criterion together, and each by itself.
    """

    one: str
    other: str
    together: Shared
    by_criterion: tuple[Shared, ...]


def measure(rows: Iterable[TestedRow]) -> list[MeasuredTester]:
    """Return what is known about each tester with grades from a sheet, by name."""
    valid = [row for row in rows if not row.void and row.session and usable(row)]
    places = _places(valid)
    every = own_pairs(valid)
    return [
        _tester(name, [pair for pair in every if pair.first.tester == name], valid, places)
        for name in sorted({row.tester for row in valid})
    ]


def _tester(name: str, own: Sequence[Pair], rows: Sequence[TestedRow], places: Mapping[str, int]) -> MeasuredTester:
    here = [pair for pair in own if not pair.across]
    gaps = [abs(places[pair.second.trial] - places[pair.first.trial]) for pair in here]
    criteria = sorted({pair.second.criterion for pair in own})
    return MeasuredTester(
        name,
        CriterionRepeats(None, _grades(own)),
        tuple(_measured(key, [pair for pair in own if pair.second.criterion == key]) for key in criteria),
        told_apart(*_both(own), WHOLE),
        within_session(gaps, [pair.shift for pair in here]),
        between_sessions(_of_control([row for row in rows if row.tester == name])),
    )


def _both(own: Sequence[Pair]) -> tuple[list[float], list[float]]:
    return [pair.first.grade or 0.0 for pair in own], [pair.second.grade or 0.0 for pair in own]


def _grades(own: Sequence[Pair]) -> Agreement:
    return agreement(*_both(own))


def _measured(criterion: str, own: Sequence[Pair]) -> CriterionRepeats:
    read = [
        (pair.first.reading, pair.second.reading)
        for pair in own
        if pair.first.reading is not None
        and pair.second.reading is not None
        and pair.first.censored is pair.second.censored is Censored.EXACT
    ]
    # Scatter of times, turns and counts grows with the reading; where a reading is 0 shares cannot be taken.
    relative = all(one > 0 and other > 0 for one, other in read)
    first, second = [one for one, _ in read], [other for _, other in read]
    return CriterionRepeats(
        criterion, _grades(own), repeatability(first, second, relative=relative) if read else None
    )


def _places(rows: Sequence[TestedRow]) -> dict[str, int]:
    """Return the place of each trial in the order of its session."""
    sessions: dict[str, dict[str, None]] = {}
    for row in sorted(rows, key=lambda row: (row.trial_at, row.trial)):
        sessions.setdefault(row.session or "", {})[row.trial] = None
    return {trial: place for trials in sessions.values() for place, trial in enumerate(trials)}


def _of_control(rows: Sequence[TestedRow]) -> list[float]:
    """Return for each session how far its control stood from the others on average, in the order of time."""
    looks = history(rows)
    sessions = {look.session: look.at for own in looks.values() for look in own}
    moved = {session: [one.by for one in shifts(looks, session)] for session in sessions}
    return [fmean(moved[session]) for session in sorted(sessions, key=lambda one: sessions[one]) if moved[session]]


class _What(NamedTuple):
    """What two testers may both have graded."""

    specimen: str
    criterion: str
    on_reference: bool


def side_by_side(rows: Iterable[TestedRow]) -> list[SideBySide]:
    """Return each two testers who have graded the same specimens, by the first grade of each on a criterion."""
    first: dict[str, dict[_What, float]] = {}
    for row in sorted(rows, key=lambda row: (row.trial_at, row.at, row.observation)):
        if not row.void and row.session and usable(row):
            what = _What(row.specimen, row.criterion, row.on_reference)
            first.setdefault(row.tester, {}).setdefault(what, row.grade or 0.0)
    return [
        _beside(one, other, first[one], first[other])
        for one, other in combinations(sorted(first), 2)
        if first[one].keys() & first[other].keys()
    ]


def _beside(one: str, other: str, mine: Mapping[_What, float], theirs: Mapping[_What, float]) -> SideBySide:
    shared = [what for what in mine if what in theirs]
    by_criterion: dict[str, list[_What]] = {}
    for what in shared:
        by_criterion.setdefault(what.criterion, []).append(what)

    def both(among: Sequence[_What]) -> tuple[list[float], list[float]]:
        return [mine[what] for what in among], [theirs[what] for what in among]

    each = (Shared(key, agreement(*both(own)), alpha_of_two(*both(own))) for key, own in sorted(by_criterion.items()))
    return SideBySide(one, other, Shared(None, agreement(*both(shared))), tuple(each))
