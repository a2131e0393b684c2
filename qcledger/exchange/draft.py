"""Rows to be added to a ledger: found again by what people call them, minted ids for new ones, nothing twice."""

import difflib
import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import fields, replace
from datetime import datetime
from functools import cached_property
from typing import TypeVar, cast
from uuid import UUID, uuid5

from qcledger.errors import BadInput, Problem, bad
from qcledger.ledger import Ledger
from qcledger.ledger.codec import CALLED, decode, named, tidy
from qcledger.ledger.daybooks import remembered
from qcledger.ledger.progress import Progress, untold
from qcledger.records import (
    TABLES,
    Daybook,
    Lot,
    Paint,
    Record,
    Redaction,
    Session,
)
from qcledger.text import one_line

R = TypeVar("R", bound=Record)
Key = tuple[str, str]
"""Table and id of a row."""

# Drawn once at random; with it the same row of a file gets the same id on every machine.
_NAMESPACE = UUID("1f0a6f1e-6d0b-4c41-9c58-3f7a5d2f9b60")

WITHIN: Mapping[type[Record], tuple[str, ...]] = {
    Paint: ("maker", "number"),
    Lot: ("paint", "format"),
    Session: ("comparison",),
}
"""The fields within which such a name is one row's own."""


def minted(table: str, *content: str) -> str:
    """Return the id of a new row, always the same for the same content (UUID version 5, RFC 9562)."""
    return str(uuid5(_NAMESPACE, json.dumps([table, *content], ensure_ascii=False)))


def same_name(text: str) -> str:
    """Return the form in which two spellings of one name are equal: case and blanks do not count."""
    return one_line(text).casefold()


def near(name: str, names: Iterable[str]) -> list[str]:
    """Return at most three of `names` that look like `name`."""
    by_form = {same_name(other): other for other in names}
    return [by_form[form] for form in difflib.get_close_matches(same_name(name), by_form, n=3, cutoff=0.6)]


def id_by_name(row: Record) -> str:
    """Return the id of a new row that people know by its name."""
    within = (getattr(row, part) or "" for part in WITHIN.get(type(row), ()))
    return minted(row.TABLE, *within, same_name(getattr(row, CALLED[type(row)])))


def one_problem(problems: Sequence[Problem]) -> Problem:
    """Return what is wrong with one row as a single problem: the first, and how many more."""
    first, more = problems[0], len(problems) - 1
    return replace(first, allowed=f"{first.allowed} (and {more} more in this row)") if more else first


class Draft:
    """Collects the rows an import would add, beside those the ledger has.

    Parameters
    ----------
    ledger
        The ledger to look rows up in; nothing is written to it.
    """

    def __init__(self, ledger: Ledger) -> None:
        self.ledger = ledger
        self._rows: dict[Key, Record | None] = {}
        self._places: dict[Key, str] = {}
        self._problems: dict[str, Problem] = {}
        self._whole: set[type[Record]] = set()
        self._named: dict[type[Record], dict[str, list[Record]]] = {}

    def get(self, kind: type[R], subject: str) -> R | None:
        """Return a row by its id, new or standing."""
        key = (kind.TABLE, subject)
        if kind in CALLED:
            self._load(kind)
        if key not in self._rows and kind not in self._whole:
            self._rows[key] = self.ledger.get(kind, subject)
        return cast(R | None, self._rows.get(key))

    def all(self, kind: type[R]) -> list[R]:
        """Return every row of a table, new or standing; from then on no row of it is looked up one by one."""
        self._load(kind)
        return [row for row in self._rows.values() if isinstance(row, kind)]

    def _load(self, kind: type[Record]) -> None:
        if kind not in self._whole:
            self._whole.add(kind)
            standing: dict[Key, Record | None] = {(row.TABLE, row.id): row for row in self.ledger.rows(kind)}
            self._rows = standing | self._rows

    def fetch(self, kind: type[Record], subjects: Iterable[str]) -> None:
        """Look up, in few steps, the rows that `get` will be asked for."""
        known = kind in self._whole
        wanted = [subject for subject in subjects if not known and (kind.TABLE, subject) not in self._rows]
        found = self.ledger.by_id(kind, wanted)
        self._rows |= {(kind.TABLE, subject): found.get(subject) for subject in wanted}

    def called(self, kind: type[R], name: str, **within: object) -> list[R]:
        """Return the rows that people call `name`, new or standing.

        `within` narrows, as in ``maker=ID``; where either side is None, the rows may be the same.
        """
        rows = cast(list[R], self._index(kind).get(same_name(name), []))
        return [row for row in rows if all(_may_be(getattr(row, part), value) for part, value in within.items())]

    def named_as(self, row: R) -> list[R]:
        """Return the rows that `row` may be by its name."""
        within = {part: getattr(row, part) for part in WITHIN.get(type(row), ())}
        return self.called(type(row), getattr(row, CALLED[type(row)]), **within)

    def names(self, kind: type[Record]) -> list[str]:
        """Return what the rows of a table are called."""
        return [getattr(rows[0], CALLED[kind]) for rows in self._index(kind).values()]

    def put(self, record: Record, where: str) -> bool:
        """Plan a row that stands at `where`; returns whether it is new.

        A field left at its default says nothing about a row that stands.

        Raises
        ------
        BadInput
            When a field is not allowed, or the row was brought in before and has changed since.
        """
        row = _tidied(record, where)
        key = (row.TABLE, row.id)
        standing = self.get(type(row), row.id)
        if standing is not None:
            self._refuse_changed(row, standing, where)
            return False
        if key in self._redacted:
            return False
        self._rows[key], self._places[key] = row, where
        if type(row) in self._named:
            self._enter(row)
        return True

    @contextmanager
    def row_at(self, where: str) -> Iterator[None]:
        """Note what is wrong with the row at `where` instead of raising it."""
        try:
            yield
        except BadInput as error:
            self._problems.setdefault(where, one_problem(error.problems))

    def settle(self, places: Iterable[str], progress: Progress = untold) -> None:
        """Have the ledger check the new rows, too, and raise BadInput with the problem of each row of `places`."""
        for row, error in self.ledger.refused(self.records(), progress=progress):
            place = self._places[row.TABLE, row.id]
            self._problems.setdefault(place, one_problem(_moved(error, row, place).problems))
        if self._problems:
            raise BadInput(self._problems[place] for place in places if place in self._problems)

    def records(self) -> tuple[Record, ...]:
        """Return the new rows, tables in their order and rows of a table in the order they were put."""
        new = [self._rows[key] for key in self._places]
        return tuple(row for kind in TABLES.values() for row in new if type(row) is kind)

    def _index(self, kind: type[Record]) -> dict[str, list[Record]]:
        if kind not in self._named:
            self._named[kind] = defaultdict(list)
            for row in self.all(kind):
                self._enter(row)
        return self._named[kind]

    def _enter(self, row: Record) -> None:
        self._named[type(row)][same_name(getattr(row, CALLED[type(row)]))].append(row)

    def _refuse_changed(self, row: Record, standing: Record, where: str) -> None:
        """Refuse a row whose filled fields are neither as they stand nor as they were first written."""
        changed = [name for name in _said(row) if not _agree(row, standing, name)]
        if not changed:
            return
        first = self._first(standing)
        for name in changed:
            if not _agree(row, first, name):
                allowed = f"'{getattr(standing, name)}', as it stands already; a row that stands is not changed here"
                raise bad(f"{where}, {name}", str(getattr(row, name)), allowed)

    def _first(self, standing: Record) -> Record:
        """Return a row as it was first written, before it was amended."""
        is_new = (standing.TABLE, standing.id) in self._places
        entries = [] if is_new else self.ledger.history(standing.TABLE, standing.id)
        body = next((entry.body for entry in entries if entry.body is not None), None)
        return standing if body is None else decode(standing.TABLE, body, named(standing))[0]

    @cached_property
    def daybook(self) -> Daybook:
        """The daybook the rows are for: this machine's, or the newest where it has none in this ledger yet."""
        known = remembered(self.ledger.where)
        own = self.ledger.get(Daybook, known.daybook) if known else None
        return own or max(self.ledger.rows(Daybook), key=self._begun)

    def _begun(self, book: Daybook) -> tuple[datetime, str]:
        """Return when a daybook was begun: at its first entry, and not in the order of ids."""
        return self.ledger.history(Daybook.TABLE, book.id)[0].at, book.id

    @cached_property
    def _redacted(self) -> frozenset[Key]:
        """The rows that were taken out for a reason and must not come back."""
        if not self.ledger.rows(Redaction):
            return frozenset()
        return frozenset((entry.kind, entry.subject) for entry in self.ledger.entries() if entry.body is None)


def _may_be(standing: object, value: object) -> bool:
    return standing == value or standing is None or value is None


def _agree(row: Record, standing: Record, name: str) -> bool:
    """Say whether two rows say the same in a field; in their name, case does not count."""
    said, there = getattr(row, name), getattr(standing, name)
    return said == there or (CALLED.get(type(row)) == name and same_name(said) == same_name(there))


def _said(row: Record) -> list[str]:
    """Return the fields that a row fills with something of its own."""
    return [field.name for field in fields(row) if getattr(row, field.name) not in (None, field.default)]  # type: ignore[arg-type]


def _tidied(row: R, where: str) -> R:
    try:
        return tidy(row)
    except BadInput as error:
        raise _moved(error, row, where) from None


def _moved(error: BadInput, row: Record, where: str) -> BadInput:
    """Return the refusal of a row as the refusal of the place it stands at."""
    name = named(row)
    places = (one.where.replace(name, f"{where},", 1).rstrip(",") for one in error.problems)
    return BadInput(replace(one, where=place) for one, place in zip(error.problems, places, strict=True))
