"""Which observation a tester means: by sticker or code and criterion, or it is asked back which of several."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from qcledger.bench.named import session_of
from qcledger.bench.scales import named, scales
from qcledger.bench.unpacking import find_sticker
from qcledger.errors import Problem, Several, bad
from qcledger.records import Observation, RunRow, Session, Trial
from qcledger.text import one_line

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.queries_record import RecordLine


def find(ledger: "Ledger", name: str, criterion: str, session: str = "", day: str = "") -> str:
    """Return the id of the observation that stands for a specimen and criterion.

    Parameters
    ----------
    ledger
        An open one.
    name
        A sticker; of a blind session the code, because a sticker would tell what that stands for.
    criterion
        Title or key of a criterion, or a part of it that only one has.
    session
        The code of its session, as `named.session_of` takes it; empty for any.
    day
        The day it was observed, as 2026-03-09; empty for any.

    Raises
    ------
    BadInput
        When there is none, or there are several: then each is told with its session, day and result.
    """
    keys = _criterion(ledger, criterion)
    inside = session_of(ledger, session) if session else None
    trials = _trials(ledger, name, inside)
    ids = [
        seen.id
        for trial in trials
        for key in keys
        for seen in ledger.rows(Observation, trial=trial.id, criterion=key, supersedes=None)
    ]
    lines = _standing(ledger, ids)
    fits = [line for line in lines if day in ("", _day(ledger, line))]
    if not fits:
        told = ", ".join(sorted({_day(ledger, line) for line in lines}))
        if lines:
            raise bad("--day", day, told)
        raise bad("observation", f"none of {one_line(criterion)} on {name}", "a specimen and what was judged on it")
    if len(fits) > 1:
        told = "; ".join(_told(ledger, line) for line in fits)
        fit = f"{len(fits)} observations fit"
        raise Several(Problem("observation", fit, f"one, by session, day or the whole criterion: {told}"))
    return fits[0].observation.id


def _criterion(ledger: "Ledger", text: str) -> tuple[str, ...]:
    known = scales(ledger)
    wanted = one_line(text).casefold()
    exact = {key for (_, key), one in known.items() if wanted in (key.casefold(), one.title.casefold())}
    found = tuple(sorted(exact)) or named(text, known)
    if not found:
        titles = ", ".join(sorted({one.title for one in known.values()}))
        raise bad("criterion", text, titles or "nothing: nothing was judged yet")
    return found


def _trials(ledger: "Ledger", name: str, inside: Session | None) -> Sequence[Trial]:
    """Return the trials of a specimen, or those at a place of a blind sheet by its code."""
    if inside is not None and inside.is_blind:
        rows = [row.id for row in ledger.rows(RunRow, session=inside.id, code=one_line(name).replace(" ", ""))]
        if not rows:
            raise bad("code", name, f"a code of session {inside.code}, which is blind: no sticker tells it")
        return [trial for row in rows for trial in ledger.rows(Trial, run_row=row)]
    specimen = find_sticker(ledger, name)
    found = ledger.rows(Trial, specimen=specimen)
    sessions = ledger.by_id(Session, {trial.session for trial in found if trial.session})
    return [
        trial
        for trial in found
        if inside is None or trial.session == inside.id
        if trial.session is None or not sessions[trial.session].is_blind
    ]


def _standing(ledger: "Ledger", ids: Sequence[str]) -> "list[RecordLine]":
    from qcledger.ledger.queries_record import standing_lines

    with ledger.reading() as connection:
        return standing_lines(connection, ids)


def _day(ledger: "Ledger", line: "RecordLine") -> str:
    return ledger.day_of(line.observation, line.observation.at).isoformat()


def _told(ledger: "Ledger", line: "RecordLine") -> str:
    seen = line.observation
    value = seen.grade if seen.grade is not None else seen.reading
    result = f"{value:g}" if value is not None else seen.choice or seen.not_testable or "nothing"
    return f"{seen.criterion} {result} ({line.session or line.occasion}, {_day(ledger, line)}, {seen.tester})"
