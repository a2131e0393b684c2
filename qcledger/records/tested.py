"""What findings are made from."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime
from operator import attrgetter, eq
from typing import Any

from qcledger.vocab import Blinding, Censored, Doubt, Occasion, Role, Source, WhyBought


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One specimen as it was bought, whether or not anything of it was looked at.

    `to_hand` says that it can be looked at now: it is no sealed reserve, not used up and on no sheet that is blind.
    """

    specimen: str
    sticker: str
    maker: str
    format: str
    parcel: str
    lot: str | None
    to_hand: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TestedRow:
    """One current observation with everything a finding needs to know about it.

    An observation is current when no other supersedes it. `void` says that the last decision about its session
    voided it; `on_reference` that its sheet's paper is the comparison's reference paper, or that none is set;
    `pigments` are Colour Index names in normal form, whatever blanks the label prints; `facts` what else its label
    says, each a part's key, a colon and what is printed; `group` is what it shares with its peers where the rubric of
    its criterion takes that in the place of pigments;
    `undried` says that its tube met pans on the sheet before it had dried;
    `own_trial` that the tester who made the trial also made the observation;
    `why_not` why it could not be tested; `doubt` why it cannot have been so, and does not count;
    `day` the day of its trial where the tester was; `sitting` its session or, at unpacking, a run of work without a
    pause of six hours, by an id.
    """

    __test__ = False

    observation: str
    trial: str
    criterion: str
    rubric: str
    grade: float | None
    choice: str | None
    reading: float | None
    censored: Censored
    not_testable: bool
    at: datetime
    trial_at: datetime
    day: date
    sitting: str
    tester: str
    occasion: Occasion
    role: Role
    mixed: bool
    session: str | None
    session_code: str | None
    blinding: Blinding | None
    void: bool
    on_reference: bool
    comparison: str | None
    specimen: str
    sticker: str
    format: str
    source: Source
    why: WhyBought
    paint: str
    paint_name: str
    maker: str
    maker_name: str
    pigments: tuple[str, ...]
    lot: str | None
    lot_code: str | None
    parcel: str
    bought_on: date
    seller: str
    why_not: str | None = None
    doubt: Doubt | None = None
    undried: bool = False
    own_trial: bool = True
    facts: tuple[str, ...] = ()
    group: tuple[str, ...] | None = None

    @property
    def peer_group(self) -> tuple[str, ...]:
        """What it shares with its peers, in no order; empty where its label says nothing of it."""
        return self.pigments if self.group is None else self.group


_FIELDS = tuple(field.name for field in fields(TestedRow))


class Told(Sequence[Any]):
    """A column that another one tells: each value is worked out when it is looked at.

    Parameters
    ----------
    of
        Returns a value of this column for one of the other.
    column
        The other.
    """

    def __init__(self, of: Callable[[Any], Any], column: Sequence[Any]) -> None:
        self._of, self._column = of, column

    def __len__(self) -> int:
        return len(self._column)

    def __getitem__(self, place: Any) -> Any:
        return self._of(self._column[place])

    def __iter__(self) -> Iterator[Any]:
        return map(self._of, self._column)

    def at(self, places: Iterable[int]) -> Iterator[Any]:
        """Return the values at some places, without a call of Python's for each."""
        return map(self._of, _at(self._column, places))


def _at(column: Sequence[Any], places: Iterable[int]) -> Iterator[Any]:
    return column.at(places) if isinstance(column, Told) else map(column.__getitem__, places)


class TestedRows(Sequence[TestedRow]):
    """Tested rows as columns: whole ledgers are counted from these, and a row is built only when it is looked at.

    Parameters
    ----------
    columns
        The content of each field of `TestedRow`, by its name, all of one length.
    places
        Which of these rows are meant, in order, as places from 0; None for all.
    built
        Rows that are there already, by place.
    """

    __test__ = False
    __hash__ = None  # type: ignore[assignment]

    def __init__(
        self,
        columns: Mapping[str, Sequence[Any]],
        places: Sequence[int] | None = None,
        built: dict[int, TestedRow] | None = None,
    ) -> None:
        self._columns, self._built = columns, {} if built is None else built
        self._places = range(len(columns["observation"])) if places is None else places

    @classmethod
    def of(cls, rows: Iterable[TestedRow]) -> "TestedRows":
        """Return rows as columns."""
        if isinstance(rows, TestedRows):
            return rows
        rows = tuple(rows)
        return cls({name: Told(attrgetter(name), rows) for name in _FIELDS}, built=dict(enumerate(rows)))

    def column(self, name: str) -> list[Any]:
        """Return one field of each row, in order."""
        column = self._columns[name]
        return list(column if isinstance(self._places, range) else _at(column, self._places))

    def together(self, *names: str) -> Iterator[tuple[Any, ...]]:
        """Return some fields of each row, in order."""
        return zip(*map(self.column, names), strict=True)

    def some(self, places: Iterable[int]) -> "TestedRows":
        """Return the rows at some places of these, in that order."""
        return TestedRows(self._columns, list(map(self._places.__getitem__, places)), self._built)

    def told(self, name: str, of: Callable[[Any], Any], column: str) -> "TestedRows":
        """Return the same rows with one field told by another: `of` returns its value for one of `column`."""
        columns = {**self._columns, name: Told(of, self._columns[column])}
        return TestedRows(columns, self._places)

    def where(self, wanted: Callable[..., bool], *names: str) -> "TestedRows":
        """Return the rows of which `wanted` says so from the named fields."""
        return self.some(place for place, facts in enumerate(self.together(*names)) if wanted(*facts))

    def __len__(self) -> int:
        return len(self._places)

    def __getitem__(self, index: Any) -> Any:
        if isinstance(index, slice):
            return self.some(range(len(self))[index])
        place = self._places[index]
        if place not in self._built:
            self._built[place] = self._row(place)
        return self._built[place]

    def __iter__(self) -> Iterator[TestedRow]:
        """Yield each row; one that is not kept yet is not kept for this."""
        return (self._built.get(place) or self._row(place) for place in self._places)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and len(self) == len(other) and all(map(eq, self, other))

    def _row(self, place: int) -> TestedRow:
        return TestedRow(**{name: self._columns[name][place] for name in _FIELDS})
