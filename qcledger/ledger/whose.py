"""Whose a row is: what a daybook may write again, and what an entry of it replaces."""

from collections.abc import Sequence

from qcledger.errors import bad
from qcledger.ledger.called import called
from qcledger.ledger.known import KnownRows
from qcledger.ledger.readmodels import decoded
from qcledger.ledger.standing import Testers, WrittenEntry, owner, stands
from qcledger.records import SHARED, TABLES, Observation, Record, RunRow, Session, Sheet, Specimen
from qcledger.text import shorten

_OF_SESSION = (RunRow, Sheet)
"""What makes a session's codes and order: only the tester who began the session writes it."""


def check_own_row(
    record: Record, entries: Sequence[WrittenEntry], known: KnownRows, daybook: str, whose: Testers
) -> None:
    """Refuse to write again what another tester's daybook made.

    Raises
    ------
    BadInput
        Naming the row, and whose it is.
    """
    made_by = owner(entries)
    if type(record) not in SHARED and not whose.same(made_by, daybook):
        stands = known.get(record.TABLE, record.id) or record
        raise bad(called(stands, known.get), f"a row of {whose.name(made_by)}", _allowed(stands, made_by, whose))


def check_own_result(record: Record, known: KnownRows, daybook: str, whose: Testers) -> None:
    """Refuse to supersede what another tester observed."""
    if isinstance(record, Observation) and record.supersedes is not None:
        _check_made(record, Observation.TABLE, record.supersedes, known, daybook, whose)


def check_own_codes(record: Record, known: KnownRows, daybook: str, whose: Testers) -> None:
    """Refuse codes and sheets that another daybook wrote for a session, also where they are merged."""
    if isinstance(record, _OF_SESSION):
        _check_made(record, Session.TABLE, record.session, known, daybook, whose)


def _check_made(record: Record, kind: str, subject: str, known: KnownRows, daybook: str, whose: Testers) -> None:
    made_by = known.made_by(kind, subject)
    if made_by is not None and not whose.same(made_by, daybook):
        raise bad(called(record, known.get), f"{kind} of {whose.name(made_by)}", _allowed(record, made_by, whose))


def _allowed(record: Record, made_by: str, whose: Testers) -> str:
    """Return what may be written instead, and the way to say it all the same."""
    book = whose.books.get(made_by)
    way = f"tell {shorten(book.letters, 8) if book else 'its tester'}"
    return f"rows of your own; {way}{', or grade it on your own sheet' * isinstance(record, Specimen)}"


def replaced(entries: Sequence[WrittenEntry], daybook: str, whose: Testers) -> tuple[str, ...]:
    """Return the hashes that a new entry of `daybook` about this row replaces: the one that stands to this tester."""
    row, mine = stands(entries, whose, decoded), [one for one in entries if whose.same(one.daybook, daybook)]
    owned = TABLES[entries[0].kind] not in SHARED
    if row is not None and (not mine or (owned and whose.same(row.daybook, daybook))):
        return (row.entry.hash,)
    return ((mine or entries)[-1].hash,)
