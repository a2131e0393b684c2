"""A group's database as the guide sets it up: its SQL is run as it stands there, under names no other test has."""

import re
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import psycopg
from sqlalchemy.engine import make_url

import qcledger

GUIDE = Path(qcledger.__file__).parent / "guide" / "ledger.md"
NAMES = ("oda", "testers", "readers", "tilo", "rhea", "studio")
PASSWORDS = ("choose-one-1", "choose-one-2", "choose-one-3")


def blocks() -> list[str]:
    """Return the guide's blocks of SQL."""
    return re.findall(r"```sql\n(.*?)```", GUIDE.read_text("utf-8"), re.DOTALL)


@dataclass(frozen=True)
class Group:
    """The URLs of one database for those the guide names, and for the server's administrator."""

    oda: str
    tilo: str
    rhea: str
    admin: str

    def sql(self, statement: str, *args: object) -> list[tuple[object, ...]]:
        """Run a statement in the database as administrator, and return its rows."""
        with psycopg.connect(self.admin, autocommit=True) as raw:
            done = raw.execute(statement, args)
            return done.fetchall() if done.description else []

    def end_connections(self) -> int:
        """Let the server end every connection of the group's testers, as a restart does; returns how many."""
        ended = self.sql(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
            " WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )
        return len(ended)


@contextmanager
def group(server: str) -> Iterator[Group]:
    """Give a database set up as the guide says, on the server at a URL; roles and database go afterwards."""
    mark = secrets.token_hex(4)
    names = {name: f"{name}_{mark}" for name in NAMES}
    make, rights = (_named(block, names) for block in blocks())
    admin = make_url(server).set(database=names["studio"]).render_as_string(hide_password=False)
    try:
        _each(server, make)
        _each(admin, rights)
        people = zip(("oda", "tilo", "rhea"), PASSWORDS, strict=True)
        urls = {
            who: make_url(admin).set(username=names[who], password=password).render_as_string(hide_password=False)
            for who, password in people
        }
        yield Group(admin=admin, **urls)
    finally:
        with psycopg.connect(server, autocommit=True) as raw:
            raw.execute(f"DROP DATABASE IF EXISTS {names['studio']} WITH (FORCE)")
            for name in names.values():
                raw.execute(f"DROP ROLE IF EXISTS {name}")


def _named(block: str, names: dict[str, str]) -> str:
    return re.sub(r"\b(?:" + "|".join(NAMES) + r")\b", lambda found: names[found[0]], block)


def _each(url: str, block: str) -> None:
    with psycopg.connect(url, autocommit=True) as raw:
        for statement in block.split(";"):
            if statement.strip():
                raw.execute(statement)
