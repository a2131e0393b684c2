"""The control specimen: the same paint on every sheet, and how far it moved in each session.

A session's control is held against the median of the other sessions on the same paper that are not void.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import fmean, median

from qcledger.findings.repeats import usable
from qcledger.records import TestedRow
from qcledger.vocab import Censored, Role


@dataclass(frozen=True, slots=True)
class ControlLook:
    """The control on one criterion in one session.

    Parameters
    ----------
    session, code, at, tester, void
        The session: id, code, its first look at the control, whose grade, and whether it is void.
    grades
        Fault grades in the order of working; a control that is first and last on the sheet has two.
    readings
        The readings behind them, where each has one that does not lie beyond a limit; else none.
    """

    session: str
    code: str
    at: datetime
    tester: str
    void: bool
    grades: tuple[float, ...]
    readings: tuple[float, ...] = ()

    @property
    def grade(self) -> float:
        """The mean of its grades."""
        return fmean(self.grades)


Jar = tuple[str, str, bool]
"""What makes two looks at a control comparable; see `jar`."""

History = Mapping[str, Sequence[ControlLook]]
"""The looks at the control on each criterion, in the order of time."""


@dataclass(frozen=True, slots=True)
class Shift:
    """How far the control moved on one criterion in one session.

    Parameters
    ----------
    criterion
        Its key.
    grade, usual
        Its grade in this session, and the median of the others.
    sessions
        How many others.
    """

    criterion: str
    grade: float
    usual: float
    sessions: int

    @property
    def by(self) -> float:
        """Grades by which it moved; above 0 is worse."""
        return self.grade - self.usual


def history(rows: Iterable[TestedRow], session: str | None = None) -> History:
    """Return the looks at the control on each criterion.

    Parameters
    ----------
    rows
        Current observations.
    session
        The session asked about: only looks at its control, on paper like its own. Without one, those of the control
        that most sessions share, on the reference paper.
    """
    seen = [row for row in rows if _of_control(row)]
    wanted = jars_of(seen, session) if session is not None else _most_shared(seen)
    found: dict[str, dict[str, list[TestedRow]]] = {}
    for row in sorted(seen, key=lambda row: (row.trial_at, row.at, row.observation)):
        if jar(row) in wanted:
            found.setdefault(row.criterion, {}).setdefault(row.session or "", []).append(row)
    return {key: [_look(own) for own in found[key].values()] for key in sorted(found)}


def _of_control(row: TestedRow) -> bool:
    return row.role is Role.CONTROL and bool(row.session) and usable(row)


def jar(row: TestedRow) -> Jar:
    """Return what makes two looks at a control comparable: the paint, its lot or else the piece, and the paper."""
    return row.paint, row.lot or row.specimen, row.on_reference


def jars_of(rows: Iterable[TestedRow], session: str) -> frozenset[Jar]:
    """Return what the control of a session can be compared with."""
    return frozenset(jar(row) for row in rows if row.session == session and _of_control(row))


def _most_shared(seen: Sequence[TestedRow]) -> frozenset[Jar]:
    often: dict[Jar, set[str | None]] = {}
    for row in seen:
        often.setdefault(jar(row), set()).add(row.session)
    return frozenset([max(often, key=lambda jar: (jar[2], len(often[jar]), jar))] if often else ())


def _look(rows: Sequence[TestedRow]) -> ControlLook:
    first = rows[0]
    grades = tuple(row.grade for row in rows if row.grade is not None)
    read = tuple(row.reading for row in rows if row.reading is not None and row.censored is Censored.EXACT)
    readings = read if len(read) == len(rows) else ()
    code = first.session_code or ""
    return ControlLook(first.session or "", code, first.trial_at, first.tester, first.void, grades, readings)


def shifts(looks: History, session: str) -> list[Shift]:
    """Return how far the control moved in a session on each criterion that other sessions have too."""
    found = []
    for criterion, own in looks.items():
        here = next((look for look in own if look.session == session), None)
        others = [look.grade for look in own if look.session != session and not look.void]
        if here is not None and others:
            found.append(Shift(criterion, here.grade, median(others), len(others)))
    return found


def within(looks: History, session: str) -> list[tuple[str, float, float]]:
    """Return criterion, first and last grade where a session looked at the control twice."""
    return [
        (criterion, look.grades[0], look.grades[-1])
        for criterion, own in looks.items()
        for look in own
        if look.session == session and len(look.grades) > 1
    ]
