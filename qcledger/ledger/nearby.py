"""Spellings that are near and may be one: what to ask about, and what is near a name."""

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher
from itertools import combinations
from typing import TYPE_CHECKING

from sqlalchemy import Connection, select

from qcledger.ledger.identity import NAMED, Identity, KnownName, identity, seller_id
from qcledger.ledger.readmodels import testers
from qcledger.ledger.tables import DAYBOOK, ENTRY, TABLE
from qcledger.records import Maker, Paint, Parcel, Seller
from qcledger.text import same_name

if TYPE_CHECKING:
    from qcledger.ledger.ledger import Ledger

ALIKE = 0.8
"""How alike names are from which on they may be one (our choice): a letter or a blank more or less in a short one."""
ALIKE_PAINTS = 0.9
"""The same for paints of one maker: there colours that differ by a word are usually two."""

_DIGITS = re.compile(r"\d+")


@dataclass(frozen=True, slots=True)
class Near:
    """Two of one table that may be one.

    Parameters
    ----------
    one, other
        Both, the one whose name comes first by letters first.
    maker
        What the maker of both is called, where they are paints or ranges.
    across
        Whether no tester has both: then each may only spell it in another way.
    """

    one: KnownName
    other: KnownName
    maker: str
    across: bool


def near_pairs(connection: Connection, *, across: bool) -> list[Near]:
    """Return which of a ledger's names may be one and nobody has decided about, makers first.

    Parameters
    ----------
    connection
        A reading one.
    across
        Whether only those are wanted of which no tester has both.
    """
    known = identity(connection)
    whose = _testers(connection, known)
    if across and len({tester for found in whose.values() for tester in found}) < 2:
        return []
    return [near for table in NAMED for near in _near(known, table, whose, across=across)]


def questions(ledger: "Ledger") -> list[Near]:
    """Return the pairs of near names across testers that nobody has decided about."""
    with ledger.reading() as connection:
        return near_pairs(connection, across=True)


def _near(known: Identity, table: str, whose: Mapping[tuple[str, str], set[str]], *, across: bool) -> Iterator[Near]:
    within: dict[str | None, list[KnownName]] = defaultdict(list)
    for one in known.all(table):
        within[one.maker].append(one)
    makers = {one.id: one.name for one in known.all(Maker.TABLE)}
    apart = known.apart(table)
    for maker, found in within.items():
        for one, other in combinations(found, 2):
            mine, theirs = whose.get((table, one.id), set()), whose.get((table, other.id), set())
            two = mine.isdisjoint(theirs) and bool(mine) and bool(theirs)
            if (two or not across) and frozenset((one.id, other.id)) not in apart and may_be_one(one, other):
                yield Near(one, other, makers.get(maker or "", ""), two)


def may_be_one(one: KnownName, other: KnownName) -> bool:
    """Say whether two of one table have spellings so near that they may be one; other numbers make two."""
    if one.numbers and other.numbers and set(one.numbers).isdisjoint(other.numbers):
        return False
    return any(_alike(one.table, mine, theirs) for mine in one.names for theirs in other.names)


def _alike(table: str, one: str, other: str) -> bool:
    first, second = sorted((same_name(one), same_name(other)), key=len)
    if _DIGITS.findall(first) != _DIGITS.findall(second):
        return False
    if table != Paint.TABLE and second.split()[: len(first.split())] == first.split():
        return True  # a name, and the same with words after it
    least = ALIKE_PAINTS if table == Paint.TABLE else ALIKE
    # A bound by the lengths first: nearly all pairs end here.
    if 2 * len(first) < least * (len(first) + len(second)):
        return False
    pair = SequenceMatcher(None, first, second, autojunk=False)
    return pair.quick_ratio() >= least and pair.ratio() >= least


def nearest(name: str, others: Iterable[KnownName]) -> list[KnownName]:
    """Return others in the order of how near one of their spellings is to a name, the nearest first."""
    wanted = same_name(name)

    def away(one: KnownName) -> float:
        return -max(SequenceMatcher(None, wanted, same_name(each)).ratio() for each in one.names)

    return sorted(others, key=away)


def _testers(connection: Connection, known: Identity) -> dict[tuple[str, str], set[str]]:
    """Return by table and the id a row counts as who has written of it."""
    whose, found = testers(connection), defaultdict(set)
    wanted = select(ENTRY.c.kind, ENTRY.c.subject, ENTRY.c.daybook).where(ENTRY.c.kind.in_(NAMED)).distinct()
    for kind, subject, daybook in connection.execute(wanted):
        found[kind, known.one(kind, subject)].add(whose.of_daybook(daybook))
    parcel = TABLE[Parcel.TABLE]
    for name, daybook in connection.execute(select(parcel.c.seller, parcel.c[DAYBOOK]).distinct()):
        found[Seller.TABLE, known.one(Seller.TABLE, seller_id(name))].add(whose.of_daybook(daybook))
    return found
