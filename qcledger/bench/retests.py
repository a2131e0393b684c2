"""Retests: what a tester decided to test again, and whether he has since."""

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from qcledger.bench.public.deciding import decided, last_of
from qcledger.bench.public.listed import title_of
from qcledger.ledger.decided import bench_trials, decided_tables, decisions
from qcledger.ledger.identity import who_is_who
from qcledger.records import Decision, Maker, Session, Specimen, Trial
from qcledger.records.finding_key import FindingKey
from qcledger.vocab import DecisionKind, Occasion

if TYPE_CHECKING:
    from qcledger.ledger import Ledger


def open_retests(ledger: "Ledger") -> list[Decision]:
    """Return this tester's decisions to test something again, of which neither was tested nor decided since."""
    last = [one for one in _last_decisions(ledger) if one.kind is DecisionKind.RETEST]
    mine = ledger.own(Decision) if last else frozenset()
    found = [one for one in last if one.id in mine]
    found += [one.decision for one in last_of(decided(ledger), [DecisionKind.RETEST])]
    return [one for one in sorted(found, key=lambda row: (row.on, row.id)) if not is_retested(ledger, one)]


def _last_decisions(ledger: "Ledger") -> list[Decision]:
    """Return what was decided last of each thing to be tested again; of one day, in the later entry."""
    with ledger.reading() as connection:
        tables = decided_tables(connection, DecisionKind.RETEST)
        counting = [one for table in tables for one in decisions(connection, table)]
    in_time = sorted(counting, key=lambda row: row.on)  # of one day they stay in the order of their entries
    return list({(row.subject_table, row.subject): row for row in in_time}.values())


def is_retested(ledger: "Ledger", one: Decision) -> bool:
    """Say whether its finding, its specimen or its session's comparison was at this tester's bench on a later day.

    Another tester's work is no retest of mine. A session that is still blind does not count: a line that goes away
    would tell which code was just judged.
    """
    key = FindingKey.decided(one.subject_table, one.subject)
    if key is not None:
        makers = who_is_who(ledger).members(Maker.TABLE, key.maker)
        with ledger.reading() as connection:
            trials = bench_trials(connection, key.criterion, makers, key.format)
        return any(_counted(ledger, one, trials))
    if one.subject_table == Specimen.TABLE:
        trials = ledger.rows(Trial, specimen=one.subject, occasion=Occasion.BENCH)
        return any(_counted(ledger, one, trials))
    session = ledger.get(Session, one.subject) if one.subject_table == Session.TABLE else None
    others = ledger.rows(Session, comparison=session.comparison) if session else []
    own = ledger.own(Session) if others else frozenset()
    return any(other.id in own and ledger.day_of(other, other.started_at) > one.on for other in others)


def _counted(ledger: "Ledger", one: Decision, trials: Iterable[Trial]) -> Iterator[bool]:
    """Yield a truth for each trial of this tester's, not blind any more, on a day after a decision."""
    later = [trial for trial in trials if ledger.day_of(trial, trial.at) > one.on]
    sessions = ledger.by_id(Session, {trial.session for trial in later if trial.session})
    blind = {session.id for session in sessions.values() if session.is_blind}
    return (True for trial in later if trial.session not in blind and not ledger.made_by(Trial, trial.id))


def retest_words(ledger: "Ledger", one: Decision) -> str:
    """Return what is to be tested again, why, and how."""
    how = f"; {one.how}" if one.how else ""
    return f"retest {title_of(ledger, one)}: {one.reason}{how}"
