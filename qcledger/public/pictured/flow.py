"""Lots side by side in a given room, as large as they fit: each specimen a shape, with names while there is room."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from qcledger.errors import bad
from qcledger.findings.words import out_of
from qcledger.public.outlines import HEIGHT, hatching, outline_of, placed
from qcledger.public.pictured import letters
from qcledger.public.pictured.marks import DrawnSpecimen, Letters, TextLine
from qcledger.public.view import DrawnLot

LARGEST: Final = 8.0
"""How many times as large as its outline a specimen is drawn at most."""
LEAST: Final = 0.2
"""And at least: smaller ones could not be told apart."""
_STEP: Final = 0.94
_NAMED: Final = 1.6
"""Where lots do not fit with their names at this size or more, names are left out: they stand on the page."""
LABEL: Final = 24
"""Size of the names in px."""
_LABEL_ROOM: Final = 250
"""Least width in px that a name may take."""


@dataclass(frozen=True, slots=True)
class Room:
    """Where something may be drawn, in px."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class _Placed:
    lot: DrawnLot
    x: float
    y: float
    width: float


@dataclass(frozen=True, slots=True)
class Flow:
    """Lots that were placed: how large, whether with names, and how high they are together."""

    scale: float
    named: bool
    height: float
    lots: tuple[_Placed, ...]

    def marks(self, room: Room) -> Iterator[DrawnSpecimen | TextLine]:
        """Yield specimens and names, from the upper left corner of a room."""
        for one in self.lots:
            yield from self._specimens(one, room)
            if self.named:
                yield from self._names(one, room)

    def _specimens(self, one: _Placed, room: Room) -> Iterator[DrawnSpecimen]:
        shape = outline_of(one.lot.format)
        line = max(self.scale * 0.7, 0.6)
        for n in range(one.lot.tested):
            left = room.x + one.x + n * shape.width * self.scale
            corners = placed(shape, left, room.y + one.y, self.scale)
            faulty = n < one.lot.faulty
            strokes = tuple(hatching(corners, max(self.scale * 3.4, 2.4))) if faulty else ()
            yield DrawnSpecimen(corners, strokes, line * (1.6 if faulty else 1), faulty)

    def _names(self, one: _Placed, room: Room) -> Iterator[TextLine]:
        x, y = room.x + one.x + 2 * self.scale, room.y + one.y + HEIGHT * self.scale + LABEL
        wide = one.width - 2 * self.scale
        for n, text in enumerate((one.lot.name, out_of(one.lot.faulty, one.lot.tested))):
            line = letters.cut(text, LABEL, Letters.PLAIN, wide)
            yield TextLine(line, x, y + n * LABEL * 1.2, LABEL, Letters.PLAIN, wide, soft=n == 0)


def fitted(groups: Sequence[Sequence[DrawnLot]], width: float, height: float) -> list[Flow]:
    """Return groups of lots, at one size and as large as they fit into a width and a height together.

    Raises
    ------
    BadInput
        When there are too many to be told apart.
    """
    named = all(lot.name for lots in groups for lot in lots)
    for names, least in ((True, _NAMED), (False, LEAST)) if named else ((False, LEAST),):
        scale = LARGEST
        while scale >= least:
            flows = [_flowed(lots, width, scale, named=names) for lots in groups]
            found = [flow for flow in flows if flow is not None]
            if len(found) == len(groups) and sum(flow.height for flow in found) <= height:
                return found
            scale *= _STEP
    count, lots = sum(lot.tested for some in groups for lot in some), sum(map(len, groups))
    raise bad("picture", f"{count} specimens in {lots} lots", "fewer, so that each can be seen")


def _flowed(lots: Sequence[DrawnLot], width: float, scale: float, *, named: bool) -> Flow | None:
    """Return lots in rows at one size; None where a lot is wider than a row."""
    gap, rise = (28 if named else max(scale * 6, 3)), HEIGHT * scale + (LABEL * 2.9 if named else max(scale * 3, 2))
    x = y = 0.0
    found = []
    for lot in lots:
        wide = outline_of(lot.format).width * scale * lot.tested
        if named:
            wide = max(wide, min(_label_width(lot) + 2 * scale, _LABEL_ROOM))
        if wide > width:
            return None
        if x and x + wide > width:
            x, y = 0.0, y + rise
        found.append(_Placed(lot, x, y, wide))
        x += wide + gap
    return Flow(scale, named, y + rise if found else 0.0, tuple(found))


def _label_width(lot: DrawnLot) -> float:
    return letters.width(lot.name, LABEL, Letters.PLAIN)
