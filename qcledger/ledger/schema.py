"""The tables as this program makes them, and in what those of a database differ from that."""

import re
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing
from functools import cache

from sqlalchemy import (
    CheckConstraint,
    Connection,
    ForeignKeyConstraint,
    PrimaryKeyConstraint,
    UniqueConstraint,
    create_mock_engine,
    text,
)
from sqlalchemy.engine.mock import MockConnection

from qcledger.ledger.tables import METADATA, SERVER_METADATA
from qcledger.text import one_line, shorten

Shapes = Mapping[str, object]
"""What there is, by its name for messages, and what is said of it; two are alike where they are equal."""

_BLANKS = re.compile("[ \t\n]+")
_QUOTED = re.compile(r'"(\w+)"')
_PUNCTUATION = re.compile(r" ?([(),]) ?")
_LETTER = {PrimaryKeyConstraint: "p", ForeignKeyConstraint: "f", UniqueConstraint: "u", CheckConstraint: "c"}


@cache
def statements(driver: str) -> tuple[str, ...]:
    """Return what makes every table on one kind of database; to put it together takes longer than to run it."""
    found: list[str] = []
    teller: MockConnection = create_mock_engine(
        f"{driver}://", lambda sql, *_, **__: found.append(str(sql.compile(dialect=teller.dialect)))
    )
    METADATA.create_all(teller, checkfirst=False)
    return tuple(found)


def different(there: Shapes, ours: Shapes) -> Iterator[str]:
    """Yield in a few words each thing that differs, is missing, or is there and none of ours."""
    for name in sorted({*there, *ours}):
        if name not in ours:
            yield f"{shorten(one_line(name), 80)}, which this program does not make"
        elif name not in there:
            yield f"no {name}"
        elif there[name] != ours[name]:
            yield f"{name} other than this program makes it"


# SQLite


def in_file(connection: Connection) -> Shapes:
    """Return the tables and indexes of a ledger file."""
    return _in_file(tuple(row) for row in connection.exec_driver_sql(_OF_FILE))


@cache
def of_a_new_file() -> Shapes:
    """Return the tables and indexes of a file that this program makes."""
    with closing(sqlite3.connect(":memory:")) as new:
        for statement in statements("sqlite"):
            new.execute(statement)
        return _in_file(new.execute(_OF_FILE))


_OF_FILE = "SELECT type, name, tbl_name, sql FROM sqlite_schema"


def _in_file(rows: Iterator[tuple[str, ...]] | sqlite3.Cursor) -> Shapes:
    return {f"{kind} {name}": (table, _clauses(sql or "")) for kind, name, table, sql in rows}


def _clauses(sql: str) -> tuple[str, ...]:
    """Return the parts of a statement that makes a table or index; those of a table in an order of their own.

    A column that was added later, or a table that was renamed, is spelled a little differently and says the same.
    """
    parts, depth, begins = [], 0, 0
    plain = _PUNCTUATION.sub(r"\1", _BLANKS.sub(" ", _QUOTED.sub(r"\1", sql)))
    for place, letter in enumerate(plain):
        depth += (letter == "(") - (letter == ")")
        if depth <= 1 and letter in "(,)" and not (letter == ")" and depth == 1):
            parts.append(plain[begins : place + (letter == "(")].strip(" "))
            begins = place + 1
    parts.append(plain[begins:].strip(" "))
    return tuple(sorted(parts) if plain.startswith("CREATE TABLE") else parts)


# PostgreSQL

_COLUMNS = text(
    "SELECT table_name, column_name, data_type, is_nullable FROM information_schema.columns"
    " WHERE table_schema = current_schema() AND table_name = ANY(:ours)"
)
_CONSTRAINTS = text(
    "SELECT c.relname, k.contype::text, count(*) FROM pg_constraint k JOIN pg_class c ON c.oid = k.conrelid"
    " JOIN pg_namespace n ON n.oid = c.relnamespace"
    " WHERE n.nspname = current_schema() AND c.relname = ANY(:ours) AND k.contype IN ('p', 'f', 'u', 'c')"
    " GROUP BY 1, 2"
)
_INDEXES = text(
    "SELECT tablename, indexname FROM pg_indexes"
    " WHERE schemaname = current_schema() AND tablename = ANY(:ours) AND indexname LIKE 'ix\\_%'"
)


def on_server(connection: Connection) -> Shapes:
    """Return the columns, indexes and numbers of constraints of the ledger's tables on a server."""
    ours = {"ours": [*METADATA.tables, *SERVER_METADATA.tables]}
    found: dict[str, object] = {}
    for table, column, kind, empty in connection.execute(_COLUMNS, ours):
        found[f"column {table}.{column}"] = (kind, empty == "YES")
    for table, letter, count in connection.execute(_CONSTRAINTS, ours):
        found[f"constraints {letter} of {table}"] = count
    for table, index in connection.execute(_INDEXES, ours):
        found[f"index {index}"] = table
    return found


@cache
def of_a_new_schema() -> Shapes:
    """Return the same of tables that this program makes on a server."""
    from sqlalchemy.dialects import postgresql  # here, because a ledger in a file needs none of it

    found: dict[str, object] = {}
    dialect = postgresql.dialect()  # type: ignore[no-untyped-call]
    for name, table in (METADATA.tables | SERVER_METADATA.tables).items():
        for column in table.columns:
            kind = column.type.compile(dialect).split(" COLLATE")[0].lower()
            found[f"column {name}.{column.name}"] = (kind, bool(column.nullable))
        letters = [_LETTER[type(constraint)] for constraint in table.constraints if type(constraint) in _LETTER]
        found |= {f"constraints {letter} of {name}": letters.count(letter) for letter in letters}
        found |= {f"index {index.name}": name for index in table.indexes}
    return found
