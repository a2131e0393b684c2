"""Schemas on the test server: the program makes their tables once, and they are emptied for the next test.

To make the tables of a ledger is a quarter of a second's work for a server, more than most tests are in all. A schema
is given out again only while its tables, indexes, constraints and rights are those the program made; one in which a
test changed them is dropped.
"""

from collections.abc import Callable, Iterable

import psycopg
from psycopg.rows import TupleRow
from sqlalchemy import Connection, Engine, insert

from qcledger.ledger import connect, daybooks
from qcledger.ledger.connect import VERSION, Home
from qcledger.ledger.postgres import VERSION_KEY, Server
from qcledger.ledger.tables import META

_IS_EMPTY = "SELECT NOT EXISTS (SELECT FROM pg_class WHERE relnamespace = current_schema()::regnamespace)"
_SHAPE = """
SELECT md5(string_agg(said, chr(10) ORDER BY said COLLATE "C")) FROM (
    SELECT concat_ws(' ', 'relation', relname, relkind, relowner, relacl::text, relpersistence) AS said
    FROM pg_class WHERE relnamespace = %(schema)s::regnamespace
    UNION ALL
    SELECT concat_ws(' ', 'column', c.relname, attname, attnum, atttypid, attnotnull, attcollation, attacl::text)
    FROM pg_attribute JOIN pg_class c ON c.oid = attrelid WHERE relnamespace = %(schema)s::regnamespace
    UNION ALL
    SELECT concat_ws(
        ' ', 'constraint', conname, contype, conrelid::regclass, confrelid::regclass, convalidated, conkey, confkey,
        conbin
    )
    FROM pg_constraint WHERE connamespace = %(schema)s::regnamespace
    UNION ALL
    SELECT concat_ws(' ', 'index', indexrelid::regclass, indkey, indisunique, indisvalid, indpred)
    FROM pg_index JOIN pg_class c ON c.oid = indexrelid WHERE relnamespace = %(schema)s::regnamespace
    UNION ALL
    SELECT concat_ws(' ', 'trigger', tgname) FROM pg_trigger JOIN pg_class c ON c.oid = tgrelid
    WHERE relnamespace = %(schema)s::regnamespace AND NOT tgisinternal
    UNION ALL
    SELECT concat_ws(' ', 'type or function', proname) FROM pg_proc WHERE pronamespace = %(schema)s::regnamespace
    UNION ALL
    SELECT concat_ws(' ', 'rights', nspowner, nspacl::text) FROM pg_namespace WHERE oid = %(schema)s::regnamespace
) AS found
"""
"""What there is in a schema beside its rows, in one word; its own name is in none of it, being the search path."""


class Schemas:
    """The schemas of one process in a database of its own.

    Parameters
    ----------
    url
        The database's URL, without a search path.
    raw
        A connection to it that commits each statement.
    """

    def __init__(self, url: str, raw: psycopg.Connection[TupleRow]) -> None:
        self.url, self._raw = url, raw
        self._count = 0
        self._spare: list[str] = []
        self._kept: dict[Callable[[str], None], tuple[str, daybooks.Remembered]] = {}
        self._made("first")
        self._shape = self._shape_of("first")
        self.give_back("first")

    def new(self, name: str) -> str:
        """Make an empty schema, and return the URL of a database whose search path is that."""
        self._raw.execute(f'CREATE SCHEMA "{name}"')
        return self._at(name)

    def named(self, begin: str) -> list[str]:
        """Return the schemas whose names begin so."""
        found = self._raw.execute("SELECT nspname FROM pg_namespace WHERE starts_with(nspname, %s)", [begin])
        return [name for (name,) in found.fetchall()]

    def build(self, place: Home, connection: Connection) -> None:
        """Make the tables of an empty ledger, as `connect.build` does, out of those of a test before where it can."""
        if not (isinstance(place, Server) and self._spare and connection.exec_driver_sql(_IS_EMPTY).scalar()):
            connect.build(place, connection)
            return
        mine, spare = connection.exec_driver_sql("SELECT current_schema()").scalar(), self._spare.pop()
        connection.exec_driver_sql(f'DROP SCHEMA "{mine}"')
        connection.exec_driver_sql(f'ALTER SCHEMA "{spare}" RENAME TO "{mine}"')
        connection.execute(insert(META), {"key": VERSION_KEY, "value": str(VERSION)})
        place.stamp(connection, VERSION)

    def give_back(self, name: str) -> None:
        """Empty a schema for the next test when its tables are those the program made, else drop it."""
        if self._shape_of(name) != self._shape:
            self._raw.execute(f'DROP SCHEMA "{name}" CASCADE')
            return
        self._count += 1
        spare = f"spare_{self._count}"
        self._empty(name)
        self._raw.execute(f'ALTER SCHEMA "{name}" RENAME TO "{spare}"')
        self._spare.append(spare)

    def copied(self, name: str, make: Callable[[str], None]) -> str:
        """Put into a new schema a copy of the ledger `make` makes, as this machine's own; return the place's URL.

        It is made once. Each copy, the first too, continues its daybook, with times and ids of its own.
        """
        if make not in self._kept:
            self._count += 1
            kept = f"kept_{self._count}"
            where = self.new(kept)
            make(where)
            last = daybooks.remembered(Server(where).key)
            assert last is not None
            self._kept[make] = (kept, last)
        kept, last = self._kept[make]
        where = self._ready(name)
        with self._raw.transaction():
            self._run(
                f'INSERT INTO "{name}"."{table}" SELECT * FROM "{kept}"."{table}"' for table in self._tables(kept)
            )
        daybooks.remember(Server(where).key, last)
        return where

    def _ready(self, name: str) -> str:
        """Make a schema with the tables of a ledger, which are empty."""
        if not self._spare:
            return self._made(name)
        self._raw.execute(f'ALTER SCHEMA "{self._spare.pop()}" RENAME TO "{name}"')
        return self._at(name)

    def _run(self, statements: Iterable[str]) -> None:
        """Run statements in one go, without asking whether a row that is named is there yet."""
        self._raw.execute("; ".join(["SET LOCAL session_replication_role = replica", *statements]))

    def _tables(self, name: str) -> list[str]:
        found = self._raw.execute("SELECT tablename FROM pg_tables WHERE schemaname = %s", [name])
        return [table for (table,) in found.fetchall()]

    def _shape_of(self, name: str) -> str:
        with self._raw.transaction():
            self._raw.execute(f'SET LOCAL search_path TO "{name}"')
            (found,) = self._raw.execute(_SHAPE, {"schema": name}).fetchone() or ("",)
        return str(found)

    def _made(self, name: str) -> str:
        """Let the program make the tables of a ledger in a new schema, and return its URL."""
        where = self.new(name)
        place = Server(where)

        def fill(engine: Engine) -> None:
            with engine.begin() as connection:
                connect.build(place, connection)

        place.make(fill)
        self._empty(name)
        return where

    def _empty(self, name: str) -> None:
        with self._raw.transaction():
            self._run(f'DELETE FROM "{name}"."{table}"' for table in self._tables(name))

    def _at(self, name: str) -> str:
        return f"{self.url}?options=-csearch_path%3D{name}"
