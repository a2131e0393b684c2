"""Our own session: did it drift? Control and hidden repeats, held against the other sessions.

One test of the control that moved by more than a grade is no reason to void: steady sessions show that too often.
Voiding is proposed when control and repeats together, over the criteria, moved as a steady session does in 27 of
10,000 cases or fewer (`stats.moved`).
"""

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from operator import itemgetter

from qcledger.findings.control import History, Jar, Shift, history, jar, jars_of, shifts, within
from qcledger.findings.repeats import Pair, pairs, usable
from qcledger.records import TestedRow, TestedRows
from qcledger.stats.moved import SessionCheck, check_sessions, unheard
from qcledger.vocab import Role

MOST_ON_ONE = 1.0
"""Grades by which the control may move on one test before it is looked into (our proposal)."""
FAR_APART = 2.0
"""Grades from which a hidden repeat is far from its first grade (our proposal)."""


class DriftProposal(StrEnum):
    """What the checks propose; the tester decides."""

    KEEP = "keep"
    LOOK = "look into it"
    VOID = "void"


@dataclass(frozen=True, slots=True)
class Beyond:
    """How control and repeats stood on one criterion, beyond what a steady session does.

    Parameters
    ----------
    key
        Of the criterion.
    pieces, shift
        Pieces compared, and the mean of their grades less what they had in other sessions.
    chance
        Chance of a shift as large, either way, in a steady session.
    control
        The control's own shift, where it was judged.
    repeats
        Shifts of the hidden repeats against other sheets.
    """

    key: str
    pieces: int
    shift: float
    chance: float
    control: Shift | None
    repeats: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Drift:
    """What control and repeats say about one session.

    Parameters
    ----------
    session, code
        The session.
    check
        Control and repeats together; None where nothing can be compared.
    beyond
        The criteria that moved beyond what a steady session does, the farthest first; only of a session that moved.
    control
        How far the control stood from other sessions on each criterion.
    pairs
        The hidden repeats of the session with the first look at each.
    within
        Criterion, first and last grade of a control that was looked at twice and moved by more than `MOST_ON_ONE`.
    looks
        The control in this session and in those it is held against.
    """

    session: str
    code: str
    check: SessionCheck | None
    beyond: tuple[Beyond, ...]
    control: tuple[Shift, ...]
    pairs: tuple[Pair, ...]
    within: tuple[tuple[str, float, float], ...] = ()
    looks: History = field(default_factory=dict)

    @property
    def moved(self) -> tuple[Shift, ...]:
        """Each test of the control that moved by more than `MOST_ON_ONE`, the farthest first."""
        far = (one for one in self.control if abs(one.by) > MOST_ON_ONE)
        return tuple(sorted(far, key=lambda one: -abs(one.by)))

    @property
    def far(self) -> tuple[Pair, ...]:
        """The repeats that are far from their first grade."""
        return tuple(pair for pair in self.pairs if abs(pair.shift) >= FAR_APART)

    @property
    def sessions(self) -> int:
        """How many other sessions the control is held against."""
        return max((one.sessions for one in self.control), default=0)

    @property
    def proposal(self) -> DriftProposal:
        """What is proposed."""
        if self.check is not None and self.check.moved:
            return DriftProposal.VOID
        scattered = self.check is not None and self.check.scattered
        return DriftProposal.LOOK if scattered or self.moved or self.far or self.within else DriftProposal.KEEP


def drift_of(rows: Iterable[TestedRow], session: str, code: str) -> Drift:
    """Return what control and repeats say about a session; `rows` hold the other sessions too."""
    counted = TestedRows.of(rows).where(lambda void, own: not void or own == session, "void", "session")
    return _Sessions(counted).drift(session, code)


def drifts(rows: Iterable[TestedRow], going_on: Callable[[], None] = unheard) -> list[Drift]:
    """Return the drift of every session that is not void, in the order of their first trials.

    Parameters
    ----------
    rows
        Current observations.
    going_on
        Called before each session is looked at; what it raises ends the work.
    """
    valid = TestedRows.of(rows).where(lambda void: not void, "void")
    sessions = _Sessions(valid, going_on)
    in_time = sorted(set(valid.together("trial_at", "trial", "session", "session_code")), key=itemgetter(0, 1))
    codes = {session: code or "" for *_, session, code in in_time if session}
    return [sessions.drift(session, code) for session, code in codes.items()]


class _Sessions:
    """The few grades of control and repeats: each session is held against these alone."""

    def __init__(self, rows: TestedRows, going_on: Callable[[], None] = unheard) -> None:
        self._rows, self._going_on = _compared(rows), going_on
        self._checks = _checks(self._rows, going_on)
        self._histories: dict[frozenset[Jar], History] = {}
        self._pairs: dict[str | None, list[Pair]] = {}
        for pair in pairs(self._rows):
            self._pairs.setdefault(pair.second.session, []).append(pair)

    def drift(self, session: str, code: str) -> Drift:
        """Return what control and repeats say about a session."""
        self._going_on()
        looks, check = self._looks(session), self._checks.get(session)
        control, mine = tuple(shifts(looks, session)), tuple(self._pairs.get(session, ()))
        moved_within = tuple(one for one in within(looks, session) if abs(one[2] - one[1]) > MOST_ON_ONE)
        return Drift(
            session, code, check, _beyond(self._rows, check, control, mine), control, mine, moved_within, looks
        )

    def _looks(self, session: str) -> History:
        """Return the control on paper like the session's own; most sessions share one."""
        own = jars_of(self._rows, session)
        if own not in self._histories:
            self._histories[own] = history(self._rows, session)
        return self._histories[own]


def _beyond(
    rows: Sequence[TestedRow], check: SessionCheck | None, control: Sequence[Shift], own: Sequence[Pair]
) -> tuple[Beyond, ...]:
    if check is None or not check.moved:
        return ()
    keys = _numbers(row.criterion for row in rows)
    names = {number: key for key, number in keys.items()}
    of_control = {one.criterion: one for one in control}
    told = [
        Beyond(
            key := str(names[one.criterion if one.criterion is not None else -1]),
            one.pieces,
            one.shift,
            one.p_value,
            of_control.get(key),
            tuple(pair.shift for pair in own if pair.across and pair.second.criterion == key),
        )
        for one in check.shifts
        if abs(one.shift) >= one.limit
    ]
    return tuple(sorted(told, key=lambda one: (one.chance, -abs(one.shift))))


def _compared(rows: TestedRows) -> list[TestedRow]:
    """Return the grades of control and hidden repeats, and of the pieces they repeat, in the order of time."""
    several = set(rows.where(lambda role: role is not Role.SPECIMEN, "role").column("specimen"))
    seen = [row for row in rows.where(several.__contains__, "specimen") if row.session and usable(row)]
    again = {row.specimen for row in seen if row.role is not Role.SPECIMEN}
    return sorted(
        (row for row in seen if row.specimen in again), key=lambda row: (row.trial_at, row.at, row.observation)
    )


def _checks(wanted: Sequence[TestedRow], going_on: Callable[[], None]) -> dict[str, SessionCheck]:
    if not wanted:
        return {}
    sessions = _numbers(row.session for row in wanted)
    keys = _numbers(row.criterion for row in wanted)
    pieces = _numbers(_piece(row) for row in wanted)
    found = check_sessions(
        [row.grade or 0.0 for row in wanted],
        [sessions[row.session] for row in wanted],
        [keys[row.criterion] for row in wanted],
        [pieces[_piece(row)] for row in wanted],
        going_on=going_on,
    )
    names = {number: session for session, number in sessions.items()}
    return {str(names[one.session]): one for one in found}


def _piece(row: TestedRow) -> Hashable:
    """Return what is the same piece on the same paper; a control goes on in the next tube of its lot."""
    return jar(row) if row.role is Role.CONTROL else (row.specimen, row.on_reference)


def _numbers(values: Iterable[Hashable]) -> dict[Hashable, int]:
    known: dict[Hashable, int] = {}
    for value in values:
        known.setdefault(value, len(known))
    return known
