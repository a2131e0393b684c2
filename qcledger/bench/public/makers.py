"""Which maker is meant: by any of its spellings, or one that only a reader knows."""

from typing import TYPE_CHECKING

from qcledger.bench import naming
from qcledger.ledger.identity import who_is_who
from qcledger.records import Maker, MakerAnswer, Question, ReaderNote, Record

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.ledger.identity import Identity, KnownName


def maker_called(ledger: "Ledger", name: str, where: str) -> "KnownName":
    """Return the maker that a text names; raises BadInput where there is none."""
    return naming.find(who_is_who(ledger), Maker.TABLE, name, where).one


def name_of(ledger: "Ledger", known: "Identity", maker: str) -> str:
    """Return what a maker is called now, by the id of any of its rows."""
    row = ledger.get(Maker, maker)
    return known.name(Maker.TABLE, maker, row.name if row else maker)


def own(ledger: "Ledger", kind: type[Record]) -> list[Record]:
    """Return the rows of a table that are this tester's own, in the order of their ids."""
    mine = ledger.own(kind)
    return [row for row in ledger.rows(kind) if row.id in mine]


def same_maker(known: "Identity", row: Question | MakerAnswer | ReaderNote, maker: str) -> bool:
    """Say whether a row is about a maker, whatever spelling of it the row was written with."""
    return known.one(Maker.TABLE, row.maker) == known.one(Maker.TABLE, maker)
