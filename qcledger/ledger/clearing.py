"""Taking a text out of what one tester wrote: rows are written again without it, then older bodies are emptied."""

import re
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial
from typing import Any, Final

from sqlalchemy import Connection, select

from qcledger.errors import bad
from qcledger.ledger.codec import decode, tidy
from qcledger.ledger.known import KnownRows
from qcledger.ledger.plainly import PlainRows, plainly
from qcledger.ledger.readmodels import IN_ORDER, about, decoded, entry_from, row_of, testers
from qcledger.ledger.redact import place_of, take_out
from qcledger.ledger.sources import Sources
from qcledger.ledger.standing import Testers, whose
from qcledger.ledger.tables import ENTRY, TABLE
from qcledger.ledger.whose import replaced
from qcledger.ledger.writing import settle
from qcledger.records import SHARED, TABLES, Daybook, Entry, Record, Redaction, RubricText, columns

REASON: Final = "reason of the entry"
"""Stands for the reason an entry gives, beside the names of its record's fields."""
EMPTIED: Final = frozenset({"note", "private", "caption", "file_name"})
"""Fields that are left empty; in any other the text is replaced by `INSTEAD`."""
INSTEAD: Final = "taken out"
_STAYS: Final = {
    Daybook.TABLE: "holds the ledger together: letters and tester say whose every row is",
    Redaction.TABLE: "holds the ledger together: it says why something was taken out",
    RubricText.TABLE: "is a rubric, known by the hash of its text",
}
_WHOSE: Final = frozenset({"tester", "by", "id"})
"""Fields that say who did something; a tester's name is in each daybook's first entry and stays."""

Meant = Callable[[str, str, str], bool]
"""Says whether a text in a field of a table's row, given as table, field and text, is to be taken out."""


@dataclass(frozen=True, slots=True)
class HeldEntry:
    """An entry of one's own that holds what is to be taken out.

    Parameters
    ----------
    entry
        The entry, with its body.
    name
        What its row is called, for messages.
    fields
        The fields that hold it; `REASON` for the reason the entry gives.
    stays
        Why it cannot be taken out; empty where it can.
    referring
        How many rows refer to its row; they stay.
    """

    entry: Entry
    name: str
    fields: tuple[str, ...]
    stays: str = ""
    referring: int = 0

    @property
    def words(self) -> str:
        """Row, fields and the entry's number on one line."""
        return f"{self.name}: {', '.join(self.fields).replace('_', ' ')} (entry {self.entry.seq})"


def has_text(text: str) -> Meant:
    """Return what means every field that holds a text, letter case aside."""
    wanted = text.casefold()
    return lambda table, field, said: wanted in said.casefold()


def held(
    connection: Connection, writer: Daybook, meant: Meant, rows: Collection[tuple[str, str]] | None = None
) -> list[HeldEntry]:
    """Return the entries of this tester that hold what is meant, oldest first.

    Parameters
    ----------
    connection
        The ledger.
    writer
        A daybook of the tester's; it may have yet to begin.
    meant
        What is to be taken out.
    rows
        Only entries about these rows, each as (table, id); None: about any.
    """
    every = testers(connection)
    wanted = select(ENTRY).where(ENTRY.c.body.is_not(None)).order_by(*IN_ORDER)
    if rows is not None:
        wanted = wanted.where(ENTRY.c.subject.in_(sorted({subject for _, subject in rows})))
    found = []
    for row in connection.execute(wanted).mappings():
        entry = entry_from(row)
        if every.of_daybook(entry.daybook) != whose(writer) or (rows and (entry.kind, entry.subject) not in rows):
            continue
        record, reason = decode(entry.kind, entry.body or "", place_of(entry))
        names = [*_holding(record, meant)] + [REASON] * bool(reason and meant(entry.kind, REASON, reason))
        if names:
            found.append(_held(connection, entry, record, tuple(names)))
    return found


def _held(connection: Connection, entry: Entry, record: Record, names: tuple[str, ...]) -> HeldEntry:
    stays = _STAYS.get(entry.kind, "")
    if not stays and set(names) <= _WHOSE:
        stays = "says who did it; a tester's name cannot be taken out"
    name = plainly(record, PlainRows(connection, ()).get)
    return HeldEntry(entry, name, names, stays, _referring(connection, entry.kind, entry.subject))


def _holding(record: Record, meant: Meant) -> Iterator[str]:
    for field in fields(record):  # type: ignore[arg-type]
        value = getattr(record, field.name)
        said = value if isinstance(value, tuple) else (value,)
        if any(type(one) is str and one and meant(record.TABLE, field.name, one) for one in said):
            yield field.name


def _referring(connection: Connection, kind: str, subject: str) -> int:
    """Return how many rows refer to a row."""
    found = 0
    for name, record in TABLES.items():
        for column in columns(record):
            if column.refers_to == kind:
                named_by = select(TABLE[name].c.id).where(TABLE[name].c[column.name] == subject)
                found += len(connection.execute(named_by).all())
    return found


def without(record: Record, names: Collection[str], text: str) -> Record:
    """Return a row without what is to be taken out: notes emptied, in other fields the text replaced.

    Parameters
    ----------
    record
        The row as it stands.
    names
        The fields that hold it.
    text
        What is taken out of them; empty: all that stands there.
    """
    pattern = re.compile(re.escape(text) if text else ".+", re.IGNORECASE | re.DOTALL)
    other = partial(pattern.sub, INSTEAD)
    changed: dict[str, Any] = {}
    for field in fields(record):  # type: ignore[arg-type]
        if field.name not in names or field.name in _WHOSE:
            continue
        value = getattr(record, field.name)
        if field.name in EMPTIED:
            changed[field.name] = field.default
        elif isinstance(value, tuple):
            changed[field.name] = tuple(map(other, value))
        else:
            changed[field.name] = other(value)
    return tidy(replace(record, **changed))  # type: ignore[type-var]


def clear(
    known: KnownRows,
    daybook: str,
    going: Sequence[HeldEntry],
    sources: Sources,
    *,
    reason: str,
    text: str = "",
    pictures: Collection[str] = (),
) -> None:
    """Write each row again whose last own entry is `going`, then take the bodies of all that go and pictures out.

    Raises
    ------
    BadInput
        When something cannot be taken out; nothing is then stored.
    """
    if text and text.casefold() in reason.casefold():
        raise bad("reason", reason, "a reason without what is to be taken out")
    for one in going:
        if one.stays:
            raise bad(place_of(one.entry), one.name, f"what can be taken out; this {one.stays}")
    every = testers(known.connection)
    for kind, subject in dict.fromkeys((one.entry.kind, one.entry.subject) for one in going):
        _write_again(known, daybook, (kind, subject), going, text, every, sources)
    for one in going:
        redaction = tidy(Redaction(id=sources.new_id(), reason=reason, entry=one.entry.hash))
        take_out(known, daybook, redaction, sources)
    for digest in pictures:
        take_out(known, daybook, tidy(Redaction(id=sources.new_id(), reason=reason, photo=digest)), sources)


def _write_again(
    known: KnownRows,
    daybook: str,
    row: tuple[str, str],
    going: Sequence[HeldEntry],
    text: str,
    every: Testers,
    sources: Sources,
) -> None:
    """Write a row again without the text, where this tester's last word of it goes."""
    entries = about(known.connection, *row)
    mine = [one for one in entries if every.same(one.daybook, daybook) and one.body is not None]
    leaving = {one.entry.hash: one.fields for one in going}
    standing = row_of(known.connection, *row, every)
    own_word = mine[-1] if TABLES[row[0]] in SHARED or standing is None else standing.entry
    if own_word.hash not in leaving:
        return
    settle(
        known,
        daybook,
        without(decoded(own_word), leaving[own_word.hash], text),
        tuple(dict.fromkeys((*replaced(entries, daybook, every), own_word.hash))),
        INSTEAD,
        sources,
    )
