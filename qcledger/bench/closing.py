"""Closing a session: what is still open on its sheet, what was not noted, and the entries a decision makes."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING, Final

from qcledger.bench import sheets, worked
from qcledger.bench.onpaper import kept_apart
from qcledger.bench.runsheet import progress
from qcledger.bench.stages import by_name, of_session
from qcledger.bench.worked import Conditions
from qcledger.clock import day_of
from qcledger.errors import bad
from qcledger.records import Comparison, Decision, Record, Session, Sheet, Stage
from qcledger.text import one_line
from qcledger.vocab import DecisionKind

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

AIR: Final = (("temperature_c", 21.0, 25.0, "C"), ("humidity_pct", 45.0, 55.0, "%"))
"""Ranges of the air: 23 +-2 C and 50 +-5 % (ISO 3270, from memory)."""


def not_noted(ledger: "Ledger", session: Session) -> list[str]:
    """Return the conditions that were not written down, as ``humidity at the stage dry``."""
    stages = of_session(ledger, session)
    papers = ledger.rows(Sheet, session=session.id)
    missing = [] if any(one.paper for one in papers) else ["paper"]
    for field, name in worked.of_session(ledger, session).titles.items():
        gone = [str(one.name) for one in stages if getattr(one, field) is None]
        if len(gone) == len(stages):
            missing.append(name)
        elif gone:
            missing.append(f"{name} at the stage {' and '.join(gone)}")
    return missing


def on_other_paper(ledger: "Ledger", session: Session) -> str:
    """Return that a session is kept apart from findings because of its paper; empty where it is not."""
    comparison = ledger.get(Comparison, session.comparison)
    reference = comparison.reference_paper if comparison else None
    other = [row.paper for row in ledger.rows(Sheet, session=session.id) if row.paper != reference]
    return kept_apart(reference, ", ".join(dict.fromkeys(other))) if reference and other else ""


def open_places(ledger: "Ledger", session: Session) -> list[str]:
    """Return the stages at which places have neither a result nor a reason, as ``wet: 3 of 24``."""
    found = []
    for stage in of_session(ledger, session):
        done, of = progress(sheets.load(ledger, session.id, stage.name))
        if done < of:
            found.append(f"{stage.name}: {of - done} of {of}")
    return found


def unusual(ledger: "Ledger", session: Session) -> list[str]:
    """Return the conditions unlike those of the comparison's other sessions, or outside the usual air."""
    stages = of_session(ledger, session)
    others = [
        stage
        for other in ledger.rows(Session, comparison=session.comparison)
        if other.id != session.id
        for stage in by_name(ledger, other).values()
    ]
    titles = worked.titles(worked.of_session(ledger, session), stages)
    return [*_unlike_others(titles, stages, others), *_air(titles, stages)]


def _unlike_others(titles: Conditions, stages: Sequence[Stage], others: Sequence[Stage]) -> Iterator[str]:
    """Yield what is the same in every session of a comparison and is not here; the air is held to its range."""
    for field in [name for name in titles if name not in {air for air, *_ in AIR}]:
        before = Counter(value for one in others if (value := getattr(one, field)) is not None)
        here = {value for one in stages if (value := getattr(one, field)) is not None}
        if before and (new := sorted(here - {before.most_common(1)[0][0]})):
            yield f"{titles[field]}: {', '.join(new)}; usually {before.most_common(1)[0][0]}"


def _air(titles: Conditions, stages: Iterable[Stage]) -> Iterator[str]:
    stages = list(stages)
    for field, low, high, unit in AIR:
        values = [value for one in stages if (value := getattr(one, field)) is not None]
        beyond = [value for value in values if not low <= value <= high]
        if beyond:
            told = f"{max(beyond, key=lambda value: abs(value - (low + high) / 2)):g} {unit}"
            yield f"{titles[field]}: {told}; usually {low:g} to {high:g}"


def close(
    session: Session, gaps: str, *, by: str, at: datetime, new_id: Callable[[], str], zone: tzinfo | None = None
) -> list[Record]:
    """Return the records that close a session, and open its codes; with gaps, the decision to keep it all the same.

    `zone` is the one `by` works in, as for each decision here.

    Raises
    ------
    BadInput
        When it is closed already.
    """
    if session.closed_at is not None:
        raise bad(f"session {session.code}", "closed already", "a session at work")
    closed = replace(session, closed_at=at)
    if not gaps:
        return [closed]
    return [closed, decide(session, DecisionKind.KEEP, gaps, by=by, at=at, new_id=new_id, zone=zone)]


def void(
    session: Session, reason: str, *, by: str, at: datetime, new_id: Callable[[], str], zone: tzinfo | None = None
) -> list[Record]:
    """Return the records that void a session, which also closes one at work.

    Raises
    ------
    BadInput
        When no reason is given.
    """
    decision = decide(session, DecisionKind.VOID, reason, by=by, at=at, new_id=new_id, zone=zone)
    return [decision, *([replace(session, closed_at=at)] if session.closed_at is None else [])]


def decide(
    session: Session,
    kind: DecisionKind,
    reason: str,
    *,
    by: str,
    at: datetime,
    new_id: Callable[[], str],
    zone: tzinfo | None = None,
) -> Decision:
    """Return what a tester decided about a session, on the day it was in the `zone` the tester works in.

    Raises
    ------
    BadInput
        When no reason is given.
    """
    if not one_line(reason):
        raise bad("reason", "", f"why session {session.code} is to be decided so: {kind}")
    return Decision(
        id=new_id(),
        kind=kind,
        subject_table=Session.TABLE,
        subject=session.id,
        by=by,
        on=day_of(at, zone),
        reason=one_line(reason),
    )


def decided(ledger: "Ledger", session: str) -> Decision | None:
    """Return its own tester's last decision to keep, void or reinstate a session, in the order of the entries."""
    from qcledger.ledger.decided import decisions

    kinds = (DecisionKind.KEEP, DecisionKind.VOID, DecisionKind.REINSTATE)
    with ledger.reading() as connection:
        found = decisions(connection, Session.TABLE, subject=session, kinds=kinds)
    return found[-1] if found else None
