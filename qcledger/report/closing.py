"""What is to be looked at before a session is closed, in lines: conditions, places, control, hidden repeats.

The same lines are shown when a closed session is looked at again. They propose; the tester decides. While a session
is blind they name no sticker and no code, and say of repeats only how many.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import chain
from typing import TYPE_CHECKING

from qcledger.bench import closing
from qcledger.bench.worked import of_session
from qcledger.findings.control import Shift
from qcledger.findings.drift import FAR_APART, MOST_ON_ONE, Beyond, Drift, DriftProposal, drift_of, drifts
from qcledger.findings.repeats import Pair
from qcledger.findings.words import how_many, plural
from qcledger.records import Decision, RubricText, RunRow, Session, TestedRow, TestedRows
from qcledger.report.layout import paragraph
from qcledger.rubric import Criterion
from qcledger.rubric.ladder import WIDTH
from qcledger.stats.moved import unheard
from qcledger.vocab import DecisionKind, Role

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

CONDITIONS, PLACES, CONTROL, REPEATS = "conditions", "places", "control", "repeats"
NOT_COMPARED = "not compared: no control or repeat shared with other sessions"
LEAST_CHANCE = 1 / 5000
"""Chances below this are only said to be so: they are drawn 10,000 times."""


@dataclass(frozen=True, slots=True)
class CheckLine:
    """One check: what it is about, what it proposes, and why in words."""

    about: str
    proposal: DriftProposal
    words: str


@dataclass(frozen=True, slots=True)
class SessionChecks:
    """The checks of one session.

    Parameters
    ----------
    session
        The session.
    drift
        What control and repeats say.
    lines
        The checks in words.
    decision
        What was decided last, if anything was.
    closed_on
        The day it was closed, where its tester was; None while it is at work.
    """

    session: Session
    drift: Drift
    lines: tuple[CheckLine, ...]
    decision: Decision | None
    closed_on: date | None = None

    @property
    def proposal(self) -> DriftProposal:
        """The gravest proposal of its lines."""
        return max((line.proposal for line in self.lines), key=list(DriftProposal).index, default=DriftProposal.KEEP)

    @property
    def is_void(self) -> bool:
        """Whether the last decision voided it."""
        return self.decision is not None and self.decision.kind is DecisionKind.VOID

    @property
    def reason(self) -> str:
        """The reasons for what is proposed, in words fit for a decision; empty where nothing speaks against it."""
        wanted = [line for line in self.lines if line.proposal is self.proposal is not DriftProposal.KEEP]
        return "; ".join(line.words for line in wanted)

    @property
    def gaps(self) -> str:
        """What is open or was not noted; empty where nothing is."""
        return "; ".join(
            line.words
            for line in self.lines
            if line.proposal is not DriftProposal.KEEP and line.about in (CONDITIONS, PLACES)
        )


def check_session(ledger: "Ledger", session: Session) -> SessionChecks:
    """Return the checks of a session."""
    drift = drift_of(rows_for(ledger, session), session.id, session.code)
    told = (_conditions(ledger, session), _dried(ledger, session), _places(ledger, session))
    lines = (*chain.from_iterable(told), *_drift(ledger, session, drift))
    closed_on = ledger.day_of(session, session.closed_at) if session.closed_at is not None else None
    return SessionChecks(session, drift, lines, closing.decided(ledger, session.id), closed_on)


def rows_for(ledger: "Ledger", session: Session) -> TestedRows:
    """Return what was tested, with a blind session's own rows where it is the one asked about."""
    if not session.is_blind:
        return ledger.tested_rows()
    hidden = {one.id for one in ledger.rows(Session) if one.is_blind} - {session.id}
    return ledger.tested_rows(blind=True).where(lambda session: session not in hidden, "session")


def undecided(ledger: "Ledger", going_on: Callable[[], None] = unheard) -> list[tuple[Session, Drift]]:
    """Return the closed sessions that control and repeats speak against and nobody has decided on.

    Parameters
    ----------
    ledger
        Read once.
    going_on
        Called before each session is looked at; what it raises ends the work.
    """
    found = []
    for drift in drifts(ledger.tested_rows(), going_on):
        if drift.proposal is DriftProposal.VOID and closing.decided(ledger, drift.session) is None:
            session = ledger.get(Session, drift.session)
            if session is not None and session.closed_at is not None:
                found.append((session, drift))
    return found


def criteria_of(ledger: "Ledger") -> dict[str, Criterion]:
    """Return each criterion in the rubrics kept, by its key."""
    kept = (ledger.rubric(row.id) for row in ledger.rows(RubricText))
    return {key: criterion for one in kept for key, criterion in one.criteria.items()}


def titles_of(ledger: "Ledger") -> dict[str, str]:
    """Return the title of each criterion in the rubrics kept."""
    return {key: criterion.title for key, criterion in criteria_of(ledger).items()}


def _conditions(ledger: "Ledger", session: Session) -> Iterator[CheckLine]:
    if missing := closing.not_noted(ledger, session):
        yield CheckLine(CONDITIONS, DriftProposal.LOOK, f"not noted: {', '.join(missing)}")
    else:
        *asked, last = ("paper", *of_session(ledger, session).titles.values())
        yield CheckLine(CONDITIONS, DriftProposal.KEEP, f"{', '.join(asked)} and {last} are noted")
    if on_other := closing.on_other_paper(ledger, session):
        yield CheckLine("paper", DriftProposal.KEEP, on_other)
    for words in closing.unusual(ledger, session):
        yield CheckLine("unusual", DriftProposal.LOOK, words)


def _places(ledger: "Ledger", session: Session) -> Iterator[CheckLine]:
    """Yield what has no result; of a closed session nobody would still fill it in."""
    if session.closed_at is not None:
        return
    if open_ := closing.open_places(ledger, session):
        yield CheckLine(PLACES, DriftProposal.LOOK, f"without a result or a reason: {', '.join(open_)} places")
    else:
        yield CheckLine(PLACES, DriftProposal.KEEP, "each place has a result or a reason")


def _dried(ledger: "Ledger", session: Session) -> Iterator[CheckLine]:
    """Yield what met pans before it had dried; while the sheet is blind, how many that are."""
    from qcledger.ledger.undried import undried

    with ledger.reading() as connection:
        wet = sorted(undried(connection, session.id).values())
    if wet:
        which = "" if session.is_blind else f": {', '.join(wet)}"
        yield CheckLine(
            "dried",
            DriftProposal.LOOK,
            f"{how_many(len(wet), 'specimen')} beside dry ones without drying first{which}",
        )


def _drift(ledger: "Ledger", session: Session, drift: Drift) -> Iterator[CheckLine]:
    titles = titles_of(ledger)
    yield from control_lines(drift, titles, session.is_blind)
    placed = sum(row.role is Role.REPEAT for row in ledger.rows(RunRow, session=session.id))
    yield from _repeats(drift, titles, session.is_blind, placed)


def control_lines(drift: Drift, titles: Mapping[str, str], blind: bool) -> Iterator[CheckLine]:
    """Yield what control and repeats say of the session's scale, what speaks against it first."""
    if drift.check is None or not drift.check.mean.pieces:
        yield CheckLine(CONTROL, DriftProposal.LOOK, NOT_COMPARED)
        return
    told = {one.key for one in drift.beyond}
    for one in drift.beyond:
        yield CheckLine(CONTROL, DriftProposal.VOID, _moved(one, titles.get(one.key, one.key), blind))
    if drift.check.moved and not drift.beyond:
        yield CheckLine(
            CONTROL, DriftProposal.VOID, f"moved over its criteria together; {chance(drift.check.moved_p_value)}"
        )
    for shift in (one for one in drift.moved if one.criterion not in told):
        yield CheckLine(
            CONTROL, DriftProposal.LOOK, f"{titles.get(shift.criterion, shift.criterion)} {_of_control(shift)}"
        )
    for criterion, first, last in drift.within:
        told_twice = (
            f"{titles.get(criterion, criterion)} {_rounded(first)} first and {_rounded(last)} last on the sheet"
        )
        yield CheckLine(CONTROL, DriftProposal.LOOK, told_twice)
    if drift.proposal is not DriftProposal.VOID and not drift.moved and drift.control:
        where = f"{how_many(drift.sessions, 'other session')} on each of {len(drift.control)} tests"
        yield CheckLine(CONTROL, DriftProposal.KEEP, f"within {MOST_ON_ONE:g} grade of {where}")


def _moved(one: Beyond, title: str, blind: bool) -> str:
    told = f"{title} {_of_control(one.control)}" if one.control else f"{title} moved {_rounded(one.shift, '+')}"
    shifts = ", ".join(_rounded(by, "+") for by in one.repeats) if not blind else str(len(one.repeats))
    repeats = f"; hidden repeats {shifts}" if one.repeats else ""
    return f"{told}{repeats}; {chance(one.chance)}"


def _of_control(shift: Shift) -> str:
    others = how_many(shift.sessions, "other session")
    return f"{_rounded(shift.grade)}, in {others} {_rounded(shift.usual)}: moved {_rounded(shift.by, '+')}"


def _rounded(grade: float | None, sign: str = "") -> str:
    """Return a grade, or how far it moved, to a tenth: finer than any scale has steps."""
    return "none" if grade is None else f"{grade:{sign}.1f}".removesuffix(".0")


def chance(p_value: float) -> str:
    """Return how often a steady session would show as much."""
    if p_value < LEAST_CHANCE:
        return f"chance in a steady session: under 1 in {1 / LEAST_CHANCE:,.0f}"
    once = 1 / p_value
    return f"chance in a steady session: 1 in {round(once, 1 - len(str(int(once)))):,.0f}"


def _repeats(drift: Drift, titles: Mapping[str, str], blind: bool, placed: int) -> Iterator[CheckLine]:
    """Yield what hidden repeats say; `placed` of them stand on the sheet, whether or not they were graded."""
    total = len(drift.pairs)
    if not total:
        on_sheet = f"{how_many(placed, 'hidden repeat')} on this sheet, none with two grades on one paper to compare"
        words = on_sheet if placed else "no hidden repeat on this sheet"
        yield CheckLine(REPEATS, DriftProposal.LOOK, words)
        return
    if not drift.far:
        yield _steady(drift, f"{total} second grades, none {FAR_APART:g} or more from the first")
        return
    told = f"{len(drift.far)} of {total} second grades {FAR_APART:g} or more from the first"
    named = "" if blind else f": {'; '.join(_far(pair, titles) for pair in drift.far)}"
    yield CheckLine(REPEATS, DriftProposal.LOOK, f"{told}{named}")


def _steady(drift: Drift, told: str) -> CheckLine:
    """Return the line of repeats none of which is far off; together they may scatter all the same."""
    if drift.check is None or not drift.check.scattered or drift.check.moved:
        return CheckLine(REPEATS, DriftProposal.KEEP, told)
    words = f"{told}, yet they scatter more than elsewhere; {chance(drift.check.scattered_p_value)}"
    return CheckLine(REPEATS, DriftProposal.LOOK, words)


def _far(pair: Pair, titles: Mapping[str, str]) -> str:
    title = titles.get(pair.second.criterion, pair.second.criterion)
    where = f" in {pair.first.session_code}" if pair.across else ""
    return (
        f"{title} of {pair.second.sticker}, {_rounded(pair.first.grade)}{where}, then {_rounded(pair.second.grade)}"
    )


PROPOSED = {
    DriftProposal.KEEP: "Nothing speaks against this session.",
    DriftProposal.LOOK: "Look into what is marked, then close it or keep it as it is.",
    DriftProposal.VOID: "We propose to void this session and to repeat it; you decide.",
}
"""What is proposed for a session, in a sentence."""

SIGNS = {DriftProposal.KEEP: "  ", DriftProposal.LOOK: "? ", DriftProposal.VOID: "! "}
"""What stands before a line, legible without colour."""


def check_lines(check: SessionChecks, width: int = WIDTH) -> list[str]:
    """Return the checks as lines of at most `width` columns."""
    lines = [line for one in check.lines for line in _drawn(one, width)]
    return [*lines, "", *paragraph(verdict(check), width=width)]


def verdict(check: SessionChecks) -> str:
    """Return what is proposed, or what was decided."""
    one = check.decision
    if one is None:
        return PROPOSED[check.proposal]
    word = {DecisionKind.VOID: "Void", DecisionKind.KEEP: "Kept", DecisionKind.REINSTATE: "Reinstated"}[one.kind]
    return f"{word} by {one.by} on {one.on}: {one.reason}"


def _drawn(line: CheckLine, width: int) -> Iterable[str]:
    head = f"{SIGNS[line.proposal]}{line.about:<11}"
    return (
        paragraph(f"{line.about}: {line.words}", SIGNS[line.proposal], " " * 4, width)
        if width < 40
        else [
            f"{head if number == 0 else ' ' * len(head)} {text}"
            for number, text in enumerate(paragraph(line.words, width=width - len(head) - 1))
        ]
    )


def state(check: SessionChecks) -> str:
    """Return how far a session has come."""
    return "at work" if check.closed_on is None else f"closed {check.closed_on}"


def summary(rows: Sequence[TestedRow], titles: Mapping[str, str], width: int = WIDTH) -> list[str]:
    """Return what control and repeats propose for each session, a line each where it fits, void ones last."""
    names = _names(rows)
    void = sorted(names[session] for session in {row.session for row in rows if row.void} if session)
    told = [line for drift in drifts(rows) for line in _summed(drift, names[drift.session], titles, width)]
    return told + [
        line for name in void for line in paragraph(f"{name}: void", SIGNS[DriftProposal.KEEP], width=width)
    ]


def _names(rows: Iterable[TestedRow]) -> dict[str, str]:
    """Return the code of each session; with the day and tester of its first trial where others have that code."""
    first: dict[str, TestedRow] = {}
    for row in sorted(rows, key=lambda row: (row.trial_at, row.trial)):
        if row.session:
            first.setdefault(row.session, row)
    codes = Counter(row.session_code for row in first.values())
    return {
        session: f"{row.session_code} ({row.day}, {row.tester})"
        if codes[row.session_code] > 1
        else row.session_code or ""
        for session, row in first.items()
    }


def _summed(drift: Drift, name: str, titles: Mapping[str, str], width: int) -> list[str]:
    names = ", ".join(f"{titles.get(one.criterion, one.criterion)} {one.by:+g}" for one in drift.moved)
    far = f"{len(drift.far)} {plural(len(drift.far), 'repeat')} far apart" if drift.far else ""
    bare = "" if drift.check and drift.check.mean.pieces else NOT_COMPARED
    words = "; ".join(part for part in (names and f"control moved: {names}", far, bare) if part)
    told = f"{name}: {drift.proposal}{'; ' if words else ''}{words}"
    return paragraph(told, SIGNS[drift.proposal], " " * 4, width)
