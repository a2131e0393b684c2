"""A piece that is told in one cell: maker and paint, behind the last comma format and size, in brackets the lot."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from qcledger.exchange.cells import format_and_volume
from qcledger.exchange.columnwords import column_words, plain
from qcledger.exchange.grid import Cell
from qcledger.text import one_line

WHOLE: Final = ("maker", "paint", "format", "lot")
"""What such a cell holds, in its order."""
EXAMPLE: Final = "MAKER Green earth, 14 ml tube (lot 7)"
_MOSTLY: Final = 0.8
_LOT: Final = re.compile(r"(?P<rest>.*?)\s*[(\[]\s*(?P<word>[^\W\d]+)\.?:?\s+(?P<code>[^()\[\]]+?)\s*[)\]]")


@dataclass(frozen=True, slots=True)
class ToldPiece:
    """What one cell says of a piece: maker, paint, format and size as written, and the lot if any."""

    maker: str
    paint: str
    form: str
    lot: str


def piece_told_by(cell: Cell) -> ToldPiece | None:
    """Return what a cell such as `EXAMPLE` says of a piece, or None where it is written otherwise.

    The maker is the first word. A lot is what stands in brackets at the end, behind a word that people write over
    columns of lots.
    """
    text, lot = one_line(str(cell)), ""
    found = _LOT.fullmatch(text)
    if found and plain(found["word"]) in column_words().fields["lot"]:
        text, lot = found["rest"], found["code"]
    name, _, form = (part.strip() for part in text.rpartition(","))
    maker, _, paint = name.partition(" ")
    return ToldPiece(maker, paint.strip(), form, lot) if paint and form else None


def tells_pieces(cells: Sequence[Cell]) -> bool:
    """Say whether most of these cells tell a whole piece each, its format known by its word or its size."""
    told = [piece for cell in cells if (piece := piece_told_by(cell)) is not None and _has_format(piece.form)]
    return len(told) >= max(_MOSTLY * len(cells), 1)


def _has_format(text: str) -> bool:
    words, volume = format_and_volume(text)
    return plain(words) in column_words().formats or (volume is not None and not words)
