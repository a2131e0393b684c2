"""How a row was written, each time: by whom, when, and why."""

from dataclasses import dataclass
from datetime import datetime
from typing import Generic, TypeVar

from sqlalchemy import Connection

from qcledger.ledger.codec import decode
from qcledger.ledger.readmodels import about, testers
from qcledger.ledger.standing import owner
from qcledger.records import Record

R = TypeVar("R", bound=Record)


@dataclass(frozen=True, slots=True)
class Version(Generic[R]):
    """A row as an entry wrote it.

    Parameters
    ----------
    record
        What was written.
    at
        When.
    by
        Letters and name of who wrote it.
    reason
        Why; empty where none was given, as of a first entry.
    """

    record: R
    at: datetime
    by: str
    reason: str


def versions(connection: Connection, kind: type[R], id: str) -> list[Version[R]]:  # noqa: A002 - the field's own name
    """Return a row as its own tester wrote it each time, in order; without what was redacted."""
    whose, entries = testers(connection), about(connection, kind.TABLE, id)
    if not entries:
        return []
    daybook = owner(entries)
    own = [one for one in entries if whose.same(one.daybook, daybook)]
    found = [(one, *decode(one.kind, one.body, f"daybook {one.daybook} entry {one.seq}")) for one in own if one.body]
    return [
        Version(row, one.at, whose.name(one.daybook), reason) for one, row, reason in found if isinstance(row, kind)
    ]
