"""Which decisions about a row count, and in which order: an owned row's tester decides of it, anyone of a shared one.

What another tester decided of a row of mine is kept and shown, and changes nothing. A decision that its tester took
back counts no more.
"""

from collections.abc import Collection
from functools import cache
from typing import Any

from sqlalchemy import Connection, Select, select

from qcledger.ledger.codec import with_fields
from qcledger.ledger.own import first_entry, same_tester
from qcledger.ledger.readmodels import IN_ORDER
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE
from qcledger.records import SHARED, TABLES, Decision, Observation, Paint, Specimen, Trial
from qcledger.records.finding_key import FINDING_TABLES
from qcledger.vocab import DecisionKind, Occasion


def decisions(
    connection: Connection, table: str, *, subject: str | None = None, kinds: Collection[DecisionKind] | None = None
) -> list[Decision]:
    """Return the decisions that count about the rows of a table, in the order of their first entries.

    Parameters
    ----------
    connection
        The ledger.
    table
        The table of what was decided about.
    subject
        The id of one row of it; None for all.
    kinds
        Which decisions; None for all.
    """
    decision, wanted = TABLE[Decision.TABLE], _that_count(table)
    if subject is not None:
        wanted = wanted.where(decision.c.subject == subject)
    if kinds is not None:
        wanted = wanted.where(decision.c.kind.in_(kinds))
    return [with_fields(Decision, found) for found in connection.execute(wanted).mappings()]


@cache  # to put it together takes longer than to ask it, and every reading asks it
def _that_count(table: str) -> Select[Any]:
    decision, row = TABLE[Decision.TABLE], TABLE[table].alias("about")
    wanted = (
        select(decision)
        .join(row, row.c.id == decision.c.subject)
        .join(ENTRY, first_entry(decision))
        .where(decision.c.subject_table == table, decision.c.id.not_in(_taken_back()))
        .order_by(*IN_ORDER)
    )
    return wanted if TABLES[table] in SHARED else wanted.where(same_tester(decision.c[DAYBOOK], row.c[DAYBOOK]))


def decided_tables(connection: Connection, kind: DecisionKind) -> list[str]:
    """Return the tables whose rows decisions of a kind are about, by name; those about findings are about no row."""
    decision = TABLE[Decision.TABLE]
    found = connection.execute(select(decision.c.subject_table).where(decision.c.kind == kind).distinct())
    return sorted(table for table in found.scalars() if table in TABLES)


def finding_decisions(connection: Connection) -> list[Decision]:
    """Return every decision about a finding, of whichever tester, in the order of their first entries."""
    decision = TABLE[Decision.TABLE]
    wanted = (
        select(decision)
        .join(ENTRY, first_entry(decision))
        .where(decision.c.subject_table.startswith(FINDING_TABLES), decision.c.id.not_in(_taken_back()))
        .order_by(*IN_ORDER)
    )
    return [with_fields(Decision, found) for found in connection.execute(wanted).mappings()]


@cache
def _taken_back() -> Select[tuple[str]]:
    """Return the ids of the decisions that were taken back, each by another one of the same tester."""
    back, about = TABLE[Decision.TABLE].alias("back"), TABLE[Decision.TABLE].alias("taken")
    voids = (back.c.subject_table == Decision.TABLE, back.c.kind == DecisionKind.VOID)
    same = same_tester(back.c[DAYBOOK], about.c[DAYBOOK])
    return select(about.c.id).select_from(back.join(about, about.c.id == back.c.subject)).where(*voids, same)


def bench_trials(connection: Connection, criterion: str, makers: Collection[str], format: str) -> list[Trial]:  # noqa: A002 - the field's own name
    """Return the trials at the bench in which a criterion was looked at on paint of makers, by id, in one format."""
    trial, specimen = TABLE[Trial.TABLE], TABLE[Specimen.TABLE]
    paint, seen = TABLE[Paint.TABLE], TABLE[Observation.TABLE]
    looked = select(seen.c.id).where(seen.c.trial == trial.c.id, seen.c.criterion == criterion)
    wanted = (
        select(trial)
        .join(specimen, specimen.c.id == trial.c.specimen)
        .join(paint, paint.c.id == specimen.c.paint)
        .where(paint.c.maker.in_(makers), specimen.c.format == format, trial.c.occasion == Occasion.BENCH)
        .where(looked.exists())
    )
    return [with_fields(Trial, found) for found in connection.execute(wanted).mappings()]
