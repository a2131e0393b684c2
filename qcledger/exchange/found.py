"""Rows of a ledger, and those an import would add, found by their ids and by what people call them."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import tzinfo
from functools import cache, cached_property
from typing import Any, TypeVar, cast

from qcledger.exchange.alike import NearNames
from qcledger.exchange.place import RowPlace
from qcledger.ledger import Ledger, imports, queries
from qcledger.ledger.codec import CALLED, decode, named
from qcledger.ledger.identity import NAMED, Identity, seller_id, who_is_who
from qcledger.records import (
    SHARED,
    TABLES,
    Daybook,
    Import,
    Lot,
    Paint,
    Range,
    Record,
    Redaction,
    RubricText,
    Seller,
    Session,
    Specimen,
    columns,
)
from qcledger.records.minted import minted
from qcledger.text import same_code, same_name

R = TypeVar("R", bound=Record)
Key = tuple[str, str]
"""Table and id of a row."""

WITHIN: Mapping[type[Record], tuple[str, ...]] = {
    Range: ("maker",),
    Paint: ("maker", "number"),
    Lot: ("paint", "format"),
    Session: ("comparison",),
}
"""The fields within which such a name is one row's own."""

MAY_DIFFER: Mapping[type[Record], tuple[str, ...]] = {Paint: ("range",)}
"""Fields that make two of one name where both say them."""

_OWN_NAMES = frozenset({Session})
"""Tables whose names are each tester's own: a session S01 of another tester is another session."""

_UNITED = SHARED - {RubricText}
"""Tables of things that have names, and that several rows may be about."""


def name_key(row: Record) -> tuple[str, ...]:
    """Return what the id of a row that people know by its name is made from."""
    within = [getattr(row, part) or "" for part in WITHIN.get(type(row), ())]
    within += [said for part in MAY_DIFFER.get(type(row), ()) if (said := getattr(row, part))]
    return (row.TABLE, *within, same_name(getattr(row, CALLED[type(row)])))


def id_by_name(row: Record) -> str:
    """Return the id of a new row that all testers know by its name."""
    return minted(*name_key(row))


def name_form(kind: type[Record], name: str) -> str:
    """Return the form in which two names of a row are equal; of stickers the letters and the count tell."""
    return same_code(name) if kind is Specimen else same_name(name)


def _parts(kind: type[Record]) -> tuple[str, ...]:
    """Return the fields that, beside its name, tell a row from another."""
    return (*WITHIN.get(kind, ()), *MAY_DIFFER.get(kind, ()))


@cache
def _reference(table: str, field: str) -> str | None:
    return next(column.refers_to for column in columns(TABLES[table]) if column.name == field)


def _refers_to(kind: type[Record], field: str) -> str | None:
    """Return the table whose ids a field holds, if any."""
    return _reference(kind.TABLE, field)


def _owner_table(kind: type[Record]) -> str:
    """Return the table of what the names of a table are each row's own within, as paints have theirs in a maker."""
    return _refers_to(kind, WITHIN[kind][0]) or ""


class FoundRows:
    """Finds rows, new or standing.

    Parameters
    ----------
    ledger
        The ledger to look rows up in; nothing is written to it.
    """

    def __init__(self, ledger: Ledger) -> None:
        self.ledger = ledger
        self._rows: dict[Key, Record | None] = {}
        self._places: dict[Key, RowPlace] = {}
        self._own: dict[type[Record], frozenset[str]] = {}
        self._whole: set[type[Record]] = set()
        self._named: dict[type[Record], dict[str, list[Record]]] = {}
        self._near: dict[type[Record], NearNames] = defaultdict(NearNames)
        self._sellers: dict[str, tuple[str, ...]] = {}
        self._found: dict[tuple[type[Record], str], dict[tuple[object, ...], list[Any]]] = defaultdict(dict)
        self._owned: dict[tuple[type[Record], str, tuple[object, ...]], list[Record]] = defaultdict(list)
        self._things: dict[Key, tuple[object, ...]] = {}

    def get(self, kind: type[R], subject: str) -> R | None:
        """Return a row by its id, new or standing."""
        key = (kind.TABLE, subject)
        if key not in self._rows and kind not in self._whole:
            if kind in CALLED:
                self._load(kind)
            else:
                self._rows[key] = self.ledger.get(kind, subject)
        return cast("R | None", self._rows.get(key))

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

    def mint(self, kind: type[Record], subject: str) -> str:
        """Return an id that was made just now, so that no row of the ledger has it, and none need be looked up."""
        self._rows.setdefault((kind.TABLE, subject), None)
        return subject

    def called(self, kind: type[R], name: str, **within: object) -> list[R]:
        """Return the rows that people call `name` in any spelling, new or standing; of those that are one, one.

        `within` narrows, as in ``maker=ID``; where either side is None, the rows may be the same. Of several rows
        that are one it is the row that says just this, or else the one they count as.
        """
        form = name_form(kind, name)
        before, asked = self._found[kind, form], (name, *within.items())
        if asked not in before:
            before[asked] = self._fitting(self._of_name(kind, form, within), kind, name, within)
        return list(before[asked])

    def _of_name(self, kind: type[R], form: str, within: Mapping[str, object]) -> list[R]:
        """Return the rows of a name; only those of one owner, such as a maker, where it is said and they have one."""
        rows = self._index(kind).get(form, [])
        owner = within.get(WITHIN[kind][0]) if kind in WITHIN else None
        if owner is not None and not self._owned.get((kind, form, ())):
            rows = self._owned.get((kind, form, self._thing(_owner_table(kind), str(owner))), [])
        return cast(list[R], rows)

    def _fitting(self, rows: Sequence[R], kind: type[R], name: str, within: Mapping[str, object]) -> list[R]:
        """Return those of the rows of one name that may be what is called so within this; see `called`."""
        rows = [row for row in rows if kind not in _OWN_NAMES or self.is_own(row)]
        fitting = [row for row in rows if all(self._may_be(row, part, value) for part, value in within.items())]
        one_each: dict[object, R] = {}
        for row in sorted(fitting, key=lambda row: self._away(row, name, within)):
            one_each.setdefault(self._thing(row.TABLE, row.id), row)
        return [row for row in fitting if row in one_each.values()]

    def _may_be(self, row: Record, part: str, value: object) -> bool:
        there = getattr(row, part)
        return there is None or value is None or self.is_one(type(row), part, there, value)

    def is_one(self, kind: type[Record], part: str, one: object, other: object) -> bool:
        """Say whether two values of a field are the same, ids of rows that are one among them."""
        if one == other or one is None or other is None:
            return one == other
        refers_to = _refers_to(kind, part)
        return refers_to is not None and self._thing(refers_to, str(one)) == self._thing(refers_to, str(other))

    def _away(self, row: Record, name: str, within: Mapping[str, object]) -> tuple[int, bool, bool, str]:
        """Return what makes one of several rows that are one fit better than another, the smallest best."""
        others = sum(getattr(row, field) != value for field, value in within.items())
        own = name_form(type(row), getattr(row, CALLED[type(row)])) == name_form(type(row), name)
        return others, not own, self._head(row.TABLE, row.id) != row.id, row.id

    def one_of(self, rows: Sequence[R]) -> R | None:
        """Return the row that `called` found where it found one thing, under however many ids; None if several."""
        things = {self._thing(row.TABLE, row.id) for row in rows}
        return rows[0] if len(things) == 1 else None

    def spellings(self, row: Record) -> tuple[str, ...]:
        """Return every name of a row that has one, what it is called now first."""
        own = getattr(row, CALLED[type(row)])
        return self._identity.names(row.TABLE, row.id, own) if row.TABLE in NAMED else (own,)

    def sellers(self, name: str) -> tuple[str, ...]:
        """Return every name of the seller of a parcel, what it is called now first."""
        if name not in self._sellers:
            self._sellers[name] = self._identity.names(Seller.TABLE, seller_id(name), name)
        return self._sellers[name]

    def _head(self, table: str, subject: str) -> str:
        """Return the id that a row counts as."""
        return self._identity.one(table, subject) if table in NAMED else subject

    def _thing(self, table: str, subject: str) -> tuple[object, ...]:
        """Return what tells the thing a row is about from all others: of a shared one its names, else its id.

        Of what stands it is known which rows are one; a new row is one with those it may be by its name.
        """
        key = (table, subject)
        if key not in self._things:
            kind = TABLES[table]
            row = self.get(kind, subject) if kind in _UNITED else None
            if row is None:
                return key
            self._things[key] = self._told_by(row)
        return self._things[key]

    def _told_by(self, row: Record) -> tuple[object, ...]:
        kind, table = type(row), row.TABLE
        heads = self._heads(row) if table in NAMED else ()
        if len(heads) == 1:
            return (table, *heads)
        telling: list[object] = []
        for part in _parts(kind):
            value, other = getattr(row, part), _refers_to(kind, part)
            telling.append(self._thing(other, value) if other and value else same_name(value or ""))
        return (table, *telling, same_name(getattr(row, CALLED[kind])))

    def _heads(self, row: Record) -> Collection[str]:
        """Return the ids that a row counts as: of one that stands its one, of a new one those of its name."""
        if (row.TABLE, row.id) not in self._places:
            return (self._head(row.TABLE, row.id),)
        kind = type(row)
        alike = self._index(kind).get(same_name(getattr(row, CALLED[kind])), [])
        standing = (other for other in alike if (other.TABLE, other.id) not in self._places)
        within = {part: getattr(row, part) for part in _parts(kind)}
        return {
            self._head(other.TABLE, other.id)
            for other in standing
            if all(self._may_be(other, part, value) for part, value in within.items())
        }

    def named_as(self, row: R) -> list[R]:
        """Return the rows that `row` may be by its name."""
        within = {part: getattr(row, part) for part in _parts(type(row))}
        return self.called(type(row), getattr(row, CALLED[type(row)]), **within)

    def names(self, kind: type[Record]) -> list[str]:
        """Return what the rows of a table are called."""
        return [getattr(rows[0], CALLED[kind]) for rows in self._index(kind).values()]

    def near(self, kind: type[Record], name: str) -> list[str]:
        """Return at most three names of rows of a table that look like `name`."""
        return self._near[kind].near(name, self.names(kind))

    def is_own(self, row: Record) -> bool:
        """Say whether a row is this tester's: a new one, or one that a daybook of his wrote first."""
        if (row.TABLE, row.id) in self._places:
            return True
        if type(row) not in self._own:
            self._own[type(row)] = self.ledger.own(type(row))
        return row.id in self._own[type(row)]

    def own(self, kind: type[R]) -> list[R]:
        """Return this tester's rows of a table."""
        return [row for row in self.all(kind) if self.is_own(row)]

    def standing(self, kind: type[R]) -> list[R]:
        """Return this tester's rows of a table without those that were taken back."""
        with self.ledger.reading() as connection:
            gone = queries.void_rows(connection, kind.TABLE)
        return [row for row in self.own(kind) if row.id not in gone]

    def is_redacted(self, kind: type[Record], subject: str) -> bool:
        """Say whether a row was taken out for a reason, so that it must not come back."""
        return (kind.TABLE, subject) in self._redacted

    def _index(self, kind: type[Record]) -> dict[str, list[Record]]:
        if kind not in self._named:
            self._named[kind] = defaultdict(list)
            for row in self.all(kind):
                self._enter(row)
        return self._named[kind]

    def _enter(self, row: Record) -> None:
        kind = type(row)
        for form in dict.fromkeys(name_form(kind, name) for name in self.spellings(row)):
            self._named[kind][form].append(row)
            if kind in WITHIN:
                self._owned[kind, form, self._owner(row)].append(row)
            self._found.pop((kind, form), None)

    def _owner(self, row: Record) -> tuple[object, ...]:
        """Return the thing that a row's name is its own within; empty where that is not there."""
        table, owner = _owner_table(type(row)), getattr(row, WITHIN[type(row)][0])
        return self._thing(table, owner) if self.get(TABLES[table], owner) is not None else ()

    def versions(self, standing: R) -> Iterator[R]:
        """Yield a row as it stands, then as it was first written, before it was amended."""
        yield standing
        yield cast(R, self._first(standing))

    def _first(self, standing: Record) -> Record:
        key = (standing.TABLE, standing.id)
        if key in self._places or key not in self._written_again:
            return standing
        entries = self.ledger.history(standing.TABLE, standing.id)
        body = next((entry.body for entry in entries if entry.body is not None), None)
        return standing if body is None else decode(standing.TABLE, body, named(standing))[0]

    @cached_property
    def _identity(self) -> Identity:
        return who_is_who(self.ledger)

    @cached_property
    def _written_again(self) -> frozenset[Key]:
        """The rows of which the ledger has several entries; any other stands as it was first written."""
        with self.ledger.reading() as connection:
            return imports.written_again(connection)

    @cached_property
    def daybook(self) -> Daybook:
        """The daybook the rows are for."""
        return self.ledger.daybook

    @cached_property
    def zone(self) -> tzinfo | None:
        """The time zone the tester works in; None where it is not known."""
        return self.ledger.zone

    @cached_property
    def imports(self) -> tuple[Import, ...]:
        """What this tester brought in before, in the order of the ids."""
        own = self.ledger.own(Import)
        return tuple(row for row in self.ledger.rows(Import) if row.id in own)

    @cached_property
    def imports_out(self) -> frozenset[str]:
        """The ids of the imports that were taken back."""
        with self.ledger.reading() as connection:
            return frozenset(imports.taken_back(connection))

    @cached_property
    def pieces_out(self) -> frozenset[str]:
        """The ids of the specimens that were taken out with an import, and are out still."""
        with self.ledger.reading() as connection:
            out = queries.void_rows(connection, Specimen.TABLE) if self.imports_out else frozenset()
            of_imports = (imports.brought_in(connection, one) for one in (self.imports_out if out else ()))
            return out & {entry.subject for entries in of_imports for entry in entries}

    @cached_property
    def _redacted(self) -> frozenset[Key]:
        """The rows that were taken out for a reason and must not come back."""
        if not self.ledger.rows(Redaction):
            return frozenset()
        return frozenset((entry.kind, entry.subject) for entry in self.ledger.entries() if entry.body is None)
