"""Who is who: which makers, ranges, paints, lots and sellers of a ledger count as one, and what they are called.

The rows stay as they were written. Whoever counts, lists or finds again asks here for the one that a row counts as.
What unites by itself and what a decision changes, `uniting` knows.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

from sqlalchemy import Connection, Engine, func, select

from qcledger.ledger.codec import with_fields
from qcledger.ledger.own import first_entry
from qcledger.ledger.readmodels import IN_ORDER, testers
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE
from qcledger.ledger.uniting import Decided, SpelledRow, UnitedRows, unite
from qcledger.records import Daybook, Lot, Maker, Paint, Parcel, Range, Redaction, SameAs, Seller
from qcledger.records.minted import minted
from qcledger.text import same_name
from qcledger.vocab import Sameness

if TYPE_CHECKING:
    from qcledger.ledger.ledger import Ledger

NAMED = (Maker.TABLE, Range.TABLE, Paint.TABLE, Seller.TABLE)
"""The tables that decisions may be about."""


def seller_id(name: str) -> str:
    """Return the id by which a seller is spoken of; parcels name theirs in words."""
    return minted(Seller.TABLE, same_name(name))


@dataclass(frozen=True, slots=True)
class NamedRows:
    """What unites: the rows of a ledger that have a name, each as a tuple of fields, and the decisions about them.

    Parameters
    ----------
    makers
        Of each (id, name).
    ranges
        Of each (id, maker, name).
    paints
        Of each (id, maker, name, number, range).
    sellers
        Of each row of the table (id, name), and of each spelling that parcels give (`seller_id`, name).
    decided
        The decisions that stand, in the order of the entries.
    """

    makers: Sequence[tuple[str, str]] = ()
    ranges: Sequence[tuple[str, str, str]] = ()
    paints: Sequence[tuple[str, str, str, str | None, str | None]] = ()
    sellers: Sequence[tuple[str, str]] = ()
    decided: Sequence[Decided] = ()


@dataclass(frozen=True, slots=True)
class KnownName:
    """One maker, range, paint or seller, whatever spellings it has.

    Parameters
    ----------
    table, id
        What it is, and the id it counts as.
    name, names
        What it is called now, and every spelling, that one first.
    members
        The ids of all that count as it.
    maker
        The id its maker counts as; None for makers and sellers.
    numbers
        The numbers its maker gives a paint.
    """

    table: str
    id: str
    name: str
    names: tuple[str, ...]
    members: tuple[str, ...]
    maker: str | None = None
    numbers: tuple[str, ...] = ()


class Identity:
    """Which rows count as one.

    Parameters
    ----------
    rows
        The rows and decisions it follows from.
    """

    def __init__(self, rows: NamedRows) -> None:
        self._rows = rows
        decided: dict[str, list[Decided]] = defaultdict(list)
        for one in rows.decided:
            decided[one.row.subject_table].append(one)
        self._groups: dict[str, Mapping[str, UnitedRows]] = {}
        self._against: list[Decided] = []
        self._unite(Maker.TABLE, [SpelledRow(*row) for row in rows.makers], decided)
        ranges = [SpelledRow(id_, name, (self.one(Maker.TABLE, maker),)) for id_, maker, name in rows.ranges]
        self._unite(Range.TABLE, ranges, decided)
        self._unite(Paint.TABLE, [self._paint(*row) for row in rows.paints], decided)
        sellers = dict(sorted(rows.sellers, reverse=True))  # of two spellings under one id the first by letters
        self._unite(Seller.TABLE, [SpelledRow(*row) for row in sellers.items()], decided)
        self._sellers = {same_name(name): self.name(Seller.TABLE, id_, sellers[id_]) for id_, name in rows.sellers}

    def _paint(self, id_: str, maker: str, name: str, number: str | None, range_: str | None) -> SpelledRow:
        of_range = self.one(Range.TABLE, range_) if range_ else None
        return SpelledRow(id_, name, (self.one(Maker.TABLE, maker),), (of_range, number and same_name(number)))

    def _unite(self, table: str, rows: Sequence[SpelledRow], decided: Mapping[str, Sequence[Decided]]) -> None:
        united = unite(rows, decided.get(table, ()))
        self._groups[table] = united.groups
        self._against += united.against

    def one(self, table: str, subject: str) -> str:
        """Return the id that a row counts as; its own where nothing else is the same."""
        group = self._groups[table].get(subject)
        return group.head if group else subject

    def name(self, table: str, subject: str, own: str) -> str:
        """Return what a row is called now; `own` is its own name."""
        group = self._groups[table].get(subject)
        return group.name if group else own

    def members(self, table: str, subject: str) -> tuple[str, ...]:
        """Return the ids of all that count as one with a row, the one they count as first."""
        group = self._groups[table].get(subject)
        return group.members if group else (subject,)

    def names(self, table: str, subject: str, own: str) -> tuple[str, ...]:
        """Return every spelling of a row, the one shown first; `own` is its own name."""
        group = self._groups[table].get(subject)
        return group.names if group else (own,)

    def seller(self, name: str) -> str:
        """Return what the seller of a parcel is called now."""
        return self._sellers.get(same_name(name), name)

    def groups(self, table: str) -> Iterator[UnitedRows]:
        """Yield the groups of a table that have more than one member or name, each once."""
        yield from {group.head: group for group in self._groups[table].values()}.values()

    def all(self, table: str) -> list[KnownName]:
        """Return everything of a table, each once, in the order of the names."""
        rows = {row[0]: row for row in self._named(table)}
        heads = {self.one(table, id_) for id_ in rows}
        return sorted(
            (self._known(table, head, rows) for head in heads), key=lambda one: (same_name(one.name), one.id)
        )

    def _known(self, table: str, head: str, rows: Mapping[str, tuple[Any, ...]]) -> KnownName:
        members, own = self.members(table, head), rows[head][1]
        maker = self.one(Maker.TABLE, rows[head][2]) if len(rows[head]) > 2 else None
        numbers = dict.fromkeys(row[3] for one in members if len(row := rows[one]) > 3 and row[3])
        names = self.names(table, head, own)
        return KnownName(table, head, names[0], names, members, maker, tuple(numbers))

    def own_names(self, one: KnownName) -> dict[str, str]:
        """Return what each row that counts as one was written as, by id."""
        return {row[0]: row[1] for row in self._named(one.table) if row[0] in one.members}

    def _named(self, table: str) -> Sequence[tuple[Any, ...]]:
        """Return of each row of a table its id and name, of ranges and paints the maker, of paints the number."""
        if table == Range.TABLE:
            return [(id_, name, maker) for id_, maker, name in self._rows.ranges]
        if table == Paint.TABLE:
            return [(id_, name, maker, number) for id_, maker, name, number, _ in self._rows.paints]
        return self._rows.makers if table == Maker.TABLE else self._rows.sellers

    def apart(self, table: str) -> set[frozenset[str]]:
        """Return each two of a table, by the ids they count as, that a decision keeps apart."""
        return {
            frozenset((self.one(table, one.row.subject), self.one(table, one.row.other or "")))
            for one in self._rows.decided
            if one.row.subject_table == table and one.row.kind is Sameness.DIFFERENT
        }

    def found_by(self, table: str, text: str) -> list[str]:
        """Return the ids of rows of which a spelling, not always their own, holds a text, whatever its case."""
        wanted = text.casefold()
        groups = (group for group in self.groups(table) if any(wanted in name.casefold() for name in group.names))
        return sorted(one for group in groups for one in group.members)

    def sellers_found_by(self, text: str) -> list[str]:
        """Return the spellings, as parcels give them, of the sellers of which one holds a text, whatever its case."""
        ids = set(self.found_by(Seller.TABLE, text))
        return sorted({name for id_, name in self._rows.sellers if id_ in ids})

    def disputed(self) -> list[str]:
        """Return a line for each decision that another, newer one speaks against: the newer one counts."""
        return [line for _, _, line in self.disputes()]

    def disputes(self) -> list[tuple[str, str, str]]:
        """Return (table, id, line) for each decision that another, newer one speaks against."""
        rows = (one.row for one in self._against)
        return [(row.subject_table, self.one(row.subject_table, row.subject), self._told(row)) for row in rows]

    def _told(self, row: SameAs) -> str:
        return (
            f"{row.by} decided on {row.on} about {row.subject_table} {self._called(row, row.subject)}: {row.kind} "
            f"{row.name if row.kind is Sameness.CALLED else self._called(row, row.other or '')}; "
            f"a newer decision says something else and counts. qcledger same-as shows and settles it"
        )

    def _called(self, row: SameAs, subject: str) -> str:
        return str({one[0]: one[1] for one in self._named(row.subject_table)}.get(subject, subject))


_KNOWN: WeakKeyDictionary[Engine, tuple[tuple[int, ...], Identity]] = WeakKeyDictionary()
"""Who is who, by database, and of how many entries and bodies: lists ask at every key, and it rarely changes."""

_TELLING = (Daybook.TABLE, *NAMED, Parcel.TABLE, SameAs.TABLE, Redaction.TABLE)
"""The entries from which it follows who is who; none is ever taken away, so that their count tells of a new one.

Their bodies are: that takes a redaction, and brings one entry more; where they come back, the count of bodies tells.
"""


def identity(connection: Connection) -> Identity:
    """Return who is who by what stands in a ledger now; the connection is one that reads."""
    told = tuple(connection.execute(_COUNTS).one())
    known = _KNOWN.get(connection.engine)
    if known is None or known[0] != told:
        known = _KNOWN[connection.engine] = (told, _found(connection))
    return known[1]


_COUNTS = select(func.count(), func.count(ENTRY.c.body)).where(ENTRY.c.kind.in_(_TELLING))


def _found(connection: Connection) -> Identity:
    maker, range_, paint, seller = (TABLE[name] for name in NAMED)
    spelled = connection.execute(select(TABLE[Parcel.TABLE].c.seller).distinct()).scalars()
    return Identity(
        NamedRows(
            makers=_plain(connection, maker.c["id", "name"]),
            ranges=_plain(connection, range_.c["id", "maker", "name"]),
            paints=_plain(connection, paint.c["id", "maker", "name", "number", "range"]),
            sellers=[*_plain(connection, seller.c["id", "name"]), *((seller_id(name), name) for name in spelled)],
            decided=decisions(connection),
        )
    )


def _plain(connection: Connection, fields: Iterable[Any]) -> list[Any]:
    return [tuple(row) for row in connection.execute(select(*fields))]


def decisions(connection: Connection, *, undone: bool = False) -> list[Decided]:
    """Return the decisions about who is who, in the order of their first entries; those undone only if asked for."""
    table, whose = TABLE[SameAs.TABLE], testers(connection)
    wanted = select(table).join(ENTRY, first_entry(table)).order_by(*IN_ORDER)
    rows = connection.execute(wanted).mappings()
    found = (Decided(with_fields(SameAs, row), whose.of_daybook(row[DAYBOOK])) for row in rows)
    return [one for one in found if undone or not one.row.undone]


def united_lots(connection: Connection, known: Identity) -> dict[str, tuple[str, str]]:
    """Return (id, code) of the lot that a lot counts as, by its id; those that are alone are left out.

    Equal codes of one paint in one format are one lot.
    """
    lot = TABLE[Lot.TABLE]
    alike: dict[tuple[str, str, str], list[tuple[str, str]]] = defaultdict(list)
    for id_, paint, format_, code in connection.execute(select(*lot.c["id", "paint", "format", "code"])):
        alike[known.one(Paint.TABLE, paint), format_, same_name(code)].append((id_, code))
    return {id_: min(found) for found in alike.values() if len(found) > 1 for id_, _ in found}


def who_is_who(ledger: "Ledger") -> Identity:
    """Return who is who in an open ledger."""
    with ledger.reading() as connection:
        return identity(connection)
