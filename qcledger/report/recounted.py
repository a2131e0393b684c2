"""What other facts of pieces, or another label, do to cells: the counts that move, or that none does."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from qcledger.bench.correcting import Corrected
from qcledger.findings.evidence import cell_key
from qcledger.ledger.identity import who_is_who
from qcledger.records import Maker, Paint, Record, Specimen, TestedRow
from qcledger.report.without import between
from qcledger.rubric.colour_index import compared_as

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

NONE: Final = "No count changes: each cell has as many faulty and as many tested specimens as before."
NAMED: Final = 8
"""Most cells that are named."""

After = Callable[[TestedRow], TestedRow]


def of_pieces(ledger: "Ledger", after: Iterable[Record]) -> list[str]:
    """Return what pieces as they are to stand do to the counts of cells, a line each; rows of other tables do none.

    Sessions that are still blind are left out, as they are from every count.
    """
    pieces = {one.id: one for one in after if isinstance(one, Specimen)}
    paints = {one.paint: _of_paint(ledger, one.paint) for one in pieces.values()}

    def then(row: TestedRow) -> TestedRow:
        one = pieces[row.specimen]
        paint, maker, maker_name = paints[one.paint]
        return replace(
            row,
            format=str(one.format),
            source=one.source,
            why=one.why,
            lot=one.lot,
            paint=paint,
            maker=maker,
            maker_name=maker_name,
        )

    return _lines(ledger, set(pieces), then)


def of_label(ledger: "Ledger", wanted: Corrected) -> list[str]:
    """Return what a label put right does to the counts of cells, a line each."""
    pigments = tuple(compared_as(wanted.after.index_names))
    return _lines(ledger, {old.id for old, _ in wanted.pieces}, lambda row: replace(row, pigments=pigments))


def _of_paint(ledger: "Ledger", paint: str) -> tuple[str, str, str]:
    """Return the paint that counts, and the maker that does with its name."""
    known = who_is_who(ledger)
    row = ledger.get(Paint, paint)
    maker = ledger.get(Maker, row.maker) if row else None
    if maker is None:
        return paint, "", ""
    return (
        known.one(Paint.TABLE, paint),
        known.one(Maker.TABLE, maker.id),
        known.name(Maker.TABLE, maker.id, maker.name),
    )


def _lines(ledger: "Ledger", pieces: set[str], then: After) -> list[str]:
    rows = ledger.tested_rows()
    pairs = [(row, then(row) if row.specimen in pieces else row) for row in rows]
    touched = {cell_key(one) for pair in pairs if pair[0].specimen in pieces for one in pair}
    some = [pair for pair in pairs if cell_key(pair[0]) in touched or cell_key(pair[1]) in touched]
    found = between(ledger, [was for was, _ in some], [now for _, now in some])
    more = [f"and {len(found) - NAMED} more cells"] if len(found) > NAMED else []
    return [*(one.line() for one in found[:NAMED]), *more] or [NONE]
