"""The tables as SQLModel classes, for notebooks that want more than the frames; the program itself does without.

Building the classes takes longer than opening a ledger, so that they are made when somebody first asks.
"""

import types
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from sqlalchemy import Column, MetaData, Table
from sqlalchemy.orm import registry
from sqlmodel import Field, Session, SQLModel

from qcledger.ledger.ledger import Ledger
from qcledger.ledger.tables import METADATA


@cache
def classes() -> Mapping[str, type[SQLModel]]:
    """Return a class for each table of a ledger, by the table's name; fields are the table's columns."""
    own = registry(metadata=MetaData())
    base = types.new_class("Base", (SQLModel,), {"registry": own})
    return types.MappingProxyType({name: _model(base, table) for name, table in METADATA.tables.items()})


def _model(base: type[SQLModel], table: Table) -> type[SQLModel]:
    def fill(namespace: dict[str, Any]) -> None:
        namespace["__module__"] = __name__
        namespace["__doc__"] = f"A row of the table {table.name}."
        namespace["__tablename__"] = table.name
        namespace["__annotations__"] = dict.fromkeys(table.c.keys(), Any)
        namespace.update({
            column.name: Field(sa_column=Column(column.name, column.type, primary_key=column.primary_key))
            for column in table.c
        })  # fmt: skip

    return types.new_class(f"{table.name.title().replace('_', '')}Row", (base,), {"table": True}, fill)


@contextmanager
def session(where: str | Path) -> Iterator[tuple[Session, Mapping[str, type[SQLModel]]]]:
    """Open a ledger for reading and give a session on it, with the classes of its tables.

    The session sees the ledger as it stood when it was opened, and holds SQLite's writers up until it is left.

    Raises
    ------
    LedgerUnavailable
        When there is no ledger.
    """
    with Ledger.open(where) as ledger, ledger.reading() as connection, Session(connection) as open_session:
        yield open_session, classes()
