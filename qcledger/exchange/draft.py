"""Rows to be added to a ledger: found again by what people call them, minted ids for new ones, nothing twice."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, fields, replace
from datetime import tzinfo
from typing import TypeVar, cast

from qcledger.errors import BadInput, Problem, bad
from qcledger.exchange.found import FoundRows, name_form
from qcledger.exchange.place import WAYS, ChangedRow, RowPlace, called, in_zone, shown
from qcledger.ledger import Ledger
from qcledger.ledger.codec import CALLED, NONE, TidyRows, named, tidy
from qcledger.ledger.identity import NAMED
from qcledger.ledger.progress import Progress, untold
from qcledger.records import TABLES, Record

R = TypeVar("R", bound=Record)

_FEW = 3
"""How many rows that have changed are named one by one."""


def one_problem(problems: Sequence[Problem]) -> Problem:
    """Return what is wrong with one row as a single problem: the first, and how many more."""
    first, more = problems[0], len(problems) - 1
    return replace(first, allowed=f"{first.allowed} (and {more} more in this row)") if more else first


@dataclass(frozen=True, slots=True)
class RefusedRow:
    """Why a row is refused: each reason, and whether that is because it says something else than one that stands."""

    problems: tuple[Problem, ...]
    is_changed: bool


class Draft(FoundRows):
    """Collects the rows an import would add, beside those the ledger has.

    Parameters
    ----------
    ledger
        The ledger to look rows up in; nothing is written to it.
    """

    def __init__(self, ledger: Ledger) -> None:
        super().__init__(ledger)
        self.refused: dict[str, RefusedRow] = {}
        """Rows that are refused, by where they stand."""
        self._fit = NONE

    def put(self, record: Record, place: RowPlace) -> bool:
        """Plan a row that stands at `place`; returns whether it is new.

        A field left at its default says nothing about a row that stands.

        Raises
        ------
        BadInput
            When a field is not allowed.
        ChangedRow
            When the row was brought in before and has changed since.
        """
        key = (record.TABLE, record.id)
        standing = self._rows.get(key)
        if standing is not None and standing == record:
            return False
        row = _tidied(record, place, self.zone)
        key = (row.TABLE, row.id)
        standing = self.get(type(row), row.id)
        if standing is not None:
            self._refuse_changed(row, standing, place)
            return False
        if key in self._redacted:
            return False
        self._rows[key], self._places[key] = row, place
        if type(row) in self._named:
            self._enter(row)
        return True

    def again(self, row: Record, place: RowPlace) -> bool:
        """Plan a row that stands and was taken back, as it is said now; returns that it is new."""
        key = (row.TABLE, row.id)
        self._rows[key], self._places[key] = _tidied(row, place, self.zone), place
        return True

    @contextmanager
    def row_at(self, where: str) -> Iterator[None]:
        """Note what is wrong with the row at `where` instead of raising it."""
        try:
            yield
        except BadInput as error:
            self.refused.setdefault(where, RefusedRow(error.problems, isinstance(error, ChangedRow)))

    def settle(self, places: Iterable[str], progress: Progress = untold, *, changed: str = "") -> None:
        """Have the ledger check the new rows, too, and raise BadInput with the problem of each row of `places`.

        Parameters
        ----------
        places
            Where the rows stand, in their order.
        progress
            Told which row is at work.
        changed
            What a tester may do about rows that say something else than those that stand: said once, and of many
            such rows only a few are named and the others counted. If empty, each is named.
        """
        self._fit, refused = self.ledger.fit(self.records(), progress=progress)
        for row, error in refused:
            place = self._places[row.TABLE, row.id]
            self.refused.setdefault(place.where, RefusedRow(_moved(error, row, place, self.zone).problems, False))
        told = {where: one_problem(one.problems) for where, one in self.refused.items()}
        others = [where for where, one in self.refused.items() if one.is_changed]
        if changed and others:
            _sum_up(told, others, changed)
        if told:
            raise BadInput(told[place] for place in places if place in told)

    def records(self) -> TidyRows:
        """Return the new rows, tables in their order and rows of a table in the order they were put.

        Once they are settled these are the rows that the ledger found fit.
        """
        if len(self._fit) == len(self._places):
            return self._fit
        new: dict[str, list[Record]] = defaultdict(list)
        for key in self._places:
            new[key[0]].append(cast(Record, self._rows[key]))
        return TidyRows(row for table in TABLES for row in new[table])

    @property
    def planned(self) -> int:
        """How many rows are planned so far."""
        return len(self._places)

    def records_of(self, parts: Sequence[range]) -> list[list[Record]]:
        """Return the new rows of each part in the order of `records`; a part says which of all it planned."""
        part_of = {
            key: number for number, part in enumerate(parts) for key in list(self._places)[part.start : part.stop]
        }
        found: list[list[Record]] = [[] for _ in parts]
        for row in self.records():
            found[part_of[row.TABLE, row.id]].append(row)
        return found

    def _refuse_changed(self, row: Record, standing: Record, place: RowPlace) -> None:
        """Refuse a row whose filled fields are neither as they stand nor as they were first written."""
        changed = [name for name in _said(row) if not self._agree(row, standing, name)]
        if not changed:
            return
        first = self._first(standing)
        for name in changed:
            if not self._agree(row, first, name):
                found = place.found(name) or shown(row, name, self.get, self.zone)
                raise self.changed(place, name, found, shown(standing, name, self.get, self.zone), standing)

    def changed(self, place: RowPlace, name: str, found: str, stands: str, standing: Record) -> ChangedRow:
        """Return the refusal of a row that says something else of `standing` than what `stands`."""
        of = f" for {called(standing, self.get)}" if place.columns or type(standing) in WAYS else ""
        allowed = f"'{stands}', as it stands already{of}"
        if not place.columns:
            allowed += f"; {WAYS.get(type(standing), 'a row that stands is not changed here')}"
        if standing.TABLE in NAMED and CALLED[type(standing)] == name:
            allowed += f'; qcledger rename {standing.TABLE} "{stands}" "{found}" says it is called so now'
        return ChangedRow(bad(place.at(name), found, allowed).problems)

    def _agree(self, row: Record, standing: Record, name: str) -> bool:
        """Say whether two rows say the same in a field; in their name any spelling of it is the same."""
        said, there = getattr(row, name), getattr(standing, name)
        if self.is_one(type(row), name, said, there):
            return True
        if CALLED.get(type(row)) != name:
            return False
        return name_form(type(row), said) in (
            name_form(type(row), name) for name in (there, *self.spellings(standing))
        )


def _sum_up(told: dict[str, Problem], changed: Sequence[str], way_out: str) -> None:
    """Say the way out with the first changed row, and name only a few of them."""
    first, shown_last, more = changed[0], changed[:_FEW][-1], changed[_FEW:]
    for where in more:
        del told[where]
    told[first] = replace(told[first], allowed=f"{told[first].allowed}; {way_out}")
    if more:
        rows = "1 more row says" if len(more) == 1 else f"{len(more)} more rows say"
        told[shown_last] = replace(
            told[shown_last], allowed=f"{told[shown_last].allowed} ({rows} something else, too)"
        )


def _said(row: Record) -> list[str]:
    """Return the fields that a row fills with something of its own."""
    return [field.name for field in fields(row) if getattr(row, field.name) not in (None, field.default)]  # type: ignore[arg-type]


def _tidied(row: R, place: RowPlace, zone: tzinfo | None) -> R:
    try:
        return tidy(row)
    except BadInput as error:
        raise _moved(error, row, place, zone) from None


def _moved(error: BadInput, row: Record, place: RowPlace, zone: tzinfo | None) -> BadInput:
    """Return the refusal of a row as the refusal of the place it stands at: its column there, and what is in it."""
    return BadInput(_one_moved(one, named(row), place, zone) for one in error.problems)


def _one_moved(one: Problem, name: str, place: RowPlace, zone: tzinfo | None) -> Problem:
    if one.where == name:
        return replace(one, where=place.where)
    if not one.where.startswith(f"{name} "):
        return one
    field = one.where.removeprefix(f"{name} ")
    day, typed = place.days.get(field), place.found(field)
    found = bad("", typed or day, "").problems[0].found if typed or day else in_zone(one.found, zone)
    return Problem(place.at(field), found, in_zone(one.allowed, zone, days=day is not None))
