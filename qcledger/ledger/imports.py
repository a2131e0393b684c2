"""Whose rows are whose, and what a tester brought in, over all the daybooks he writes in."""

from collections.abc import Collection, Sequence

from sqlalchemy import Connection, select

from qcledger.errors import bad
from qcledger.ledger.decided import decisions
from qcledger.ledger.readmodels import about, entry_from, rows_equal, testers, written_of
from qcledger.ledger.standing import Written, whose
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE, WHOSE
from qcledger.records import TABLES, Daybook, Decision, Import, Record
from qcledger.vocab import DecisionKind


def own(connection: Connection, kind: str, writer: Daybook) -> frozenset[str]:
    """Return the ids of the rows of a table that belong to the tester of a daybook, which may have yet to begin."""
    table, books = TABLE[kind], TABLE[Daybook.TABLE]
    mine = select(books.c.id).where(books.c[WHOSE] == whose(writer))
    return frozenset(connection.execute(select(table.c.id).where(table.c[DAYBOOK].in_(mine))).scalars())


def made_by(connection: Connection, kind: str, subject: str, writer: Daybook) -> str:
    """Return letters and name of the other tester a row belongs to; empty for the writer's own, or where none is."""
    table = TABLE[kind]
    daybook = connection.execute(select(table.c[DAYBOOK]).where(table.c.id == subject)).scalar()
    every = testers(connection)
    return "" if daybook is None or every.of_daybook(daybook) == whose(writer) else every.name(daybook)


def refuse_others(
    connection: Connection, records: Sequence[Record], writer: Daybook, planned_after: Collection[str]
) -> None:
    """Refuse an import that was planned before another one of this tester's came in: its rows may stand by now.

    Raises
    ------
    BadInput
        Naming the import that was planned, and the one that came in.
    """
    planned = {record.id: record for record in records if isinstance(record, Import)}
    others = own(connection, Import.TABLE, writer) - planned.keys() - set(planned_after)
    for row in rows_equal(connection, Import, {}):
        if row.id in others:
            name = next((one.name for one in planned.values()), "import")
            raise bad(name, f"another import, {row.name}, which came in meanwhile", "the same command once more")


def brought_in(connection: Connection, subject: str) -> list[Written]:
    """Return the entries that came with an import, in their order: one save, its tables in their order.

    Entries of one save have one time; what a clock that stood still wrote later begins with an earlier table again,
    or with an import of its own.
    """
    first = next(iter(about(connection, Import.TABLE, subject)), None)
    if first is None:
        return []
    same = (ENTRY.c.daybook == first.daybook, ENTRY.c.at == first.at, ENTRY.c.seq > first.seq)
    order = {name: place for place, name in enumerate(TABLES)}
    found: list[Written] = []
    for row in connection.execute(select(ENTRY).where(*same).order_by(ENTRY.c.seq)).mappings():
        entry = written_of(entry_from(row))
        last = order[found[-1].kind] if found else 0
        if entry.kind == Import.TABLE or order[entry.kind] < last:
            break
        found.append(entry)
    return found


def taken_back(connection: Connection) -> dict[str, Decision]:
    """Return the decision that took an import back, by import; none for one that was put back since."""
    kinds = (DecisionKind.VOID, DecisionKind.REINSTATE)
    last = {one.subject: one for one in decisions(connection, Import.TABLE, kinds=kinds)}
    return {subject: one for subject, one in last.items() if one.kind is DecisionKind.VOID}
