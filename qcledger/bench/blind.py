"""How blind a session is: what cannot be hidden, and the acts that end or touch its blinding, each recorded."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from qcledger.errors import bad
from qcledger.records import RunRow, Session
from qcledger.text import one_line
from qcledger.vocab import Blinding

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.rubric import Criterion


def told_not_blind(criteria: "Iterable[Criterion]", formats: Iterable[str]) -> Iterator[str]:
    """Yield a line for each reason why something on a sheet cannot be judged blind, naming what."""
    from qcledger.rubric.handled import not_blind  # here, because rubrics load what no first paint needs

    here, because = frozenset(formats), dict[str, list[str]]()
    for criterion in criteria:
        if why := not_blind(criterion, here):
            because.setdefault(why, []).append(criterion.title)
    for why, titles in because.items():
        yield f"{', '.join(titles)}: cannot be blind, {why}"


def blind_sheets(ledger: "Ledger", specimen: str) -> tuple[str, ...]:
    """Return the codes of the sessions that are still blind and have a specimen on their sheet."""
    rows = ledger.rows(RunRow, specimen=specimen)
    sessions = ledger.by_id(Session, {row.session for row in rows})
    return tuple(sorted(one.code for one in sessions.values() if one.is_blind))


def open_early(session: Session, reason: str, at: datetime) -> Session:
    """Return a session whose codes are opened before it is closed; from then on it counts as open.

    Raises
    ------
    BadInput
        When it is not blind, or no reason is given.
    """
    if not session.is_blind:
        raise bad(f"session {session.code}", "not blind", "a session that is blind")
    if not one_line(reason):
        raise bad("reason", "", "why the codes are opened before the session is closed")
    told = f"opened early, planned {session.blinding}: {one_line(reason)}"
    return replace(_noted(session, told, at), blinding=Blinding.OPEN)


def key_given(session: Session, to: str, at: datetime) -> Session:
    """Return a session whose key, which specimen has which code, was given to who prepares it.

    Raises
    ------
    BadInput
        When nobody but the tester prepares it.
    """
    who = one_line(to)
    if not session.is_blind:
        raise bad(f"session {session.code}", "not blind", "a session that is blind")
    if session.blinding is not Blinding.OTHER_PERSON:
        raise bad("key", session.blinding, f"a session that is blind {Blinding.OTHER_PERSON}")
    if not who or who.casefold() == session.tester.casefold():
        raise bad("for", who, f"the name of who prepares the sheet, not the tester {session.tester}")
    return _noted(session, f"key sheet printed for {who}", at)


def strips_given(session: Session, at: datetime) -> Session:
    """Return a session whose folded strips were printed for the tester who prepares it alone.

    Raises
    ------
    BadInput
        When the session is not blind, or another person prepares it.
    """
    if not session.is_blind:
        raise bad(f"session {session.code}", "not blind", "a session that is blind")
    if session.blinding is Blinding.OTHER_PERSON:
        raise bad("strips", session.blinding, "a session prepared by the tester; here, the key for another person")
    return _noted(session, "folded strips printed", at)


def _noted(session: Session, told: str, at: datetime) -> Session:
    line = f"{at.astimezone(UTC):%Y-%m-%d %H:%M} UTC: {told}"
    return replace(session, note=f"{session.note}\n{line}".strip())
