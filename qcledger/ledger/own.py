"""Who may say what stands: in SQL, that two rows are one tester's, and that one observation supersedes another.

Another tester's row that supersedes mine, voids my session or says that my specimen is used up is kept and shown; it
changes nothing until I take it over. See `standing` for rows written again under one id.
"""

from functools import cache
from typing import Any

from sqlalchemy import ColumnElement, FromClause, Table, and_, func, or_, select

from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE, WHOSE
from qcledger.records import Daybook

_FIRST, _SECOND = TABLE[Daybook.TABLE].alias("whose_one"), TABLE[Daybook.TABLE].alias("whose_other")
_OTHER = ENTRY.alias("other")


def same_tester(one: ColumnElement[Any], other: ColumnElement[Any]) -> ColumnElement[bool]:
    """Say whether two columns name daybooks of one tester."""
    of_one = select(_FIRST.c.id).where(_FIRST.c.id == one, _SECOND.c.id == other, _FIRST.c[WHOSE] == _SECOND.c[WHOSE])
    return or_(one == other, of_one.exists())


def supersedes(newer: FromClause, older: FromClause) -> ColumnElement[bool]:
    """Say whether an observation counts in place of another: it says so, and is the same tester's."""
    return and_(newer.c.supersedes == older.c.id, same_tester(newer.c[DAYBOOK], older.c[DAYBOOK]))


@cache  # to put it together takes longer than to ask it
def first_entry(table: Table) -> ColumnElement[bool]:
    """Say whether an entry is the one that made a row of a table: its own daybook's first about it."""
    of_row = (_OTHER.c.kind == table.name, _OTHER.c.subject == table.c.id, _OTHER.c.daybook == table.c[DAYBOOK])
    first = select(func.min(_OTHER.c.seq)).where(*of_row).correlate(table).scalar_subquery()
    return and_(
        ENTRY.c.kind == table.name,
        ENTRY.c.subject == table.c.id,
        ENTRY.c.daybook == table.c[DAYBOOK],
        ENTRY.c.seq == first,
    )
