"""Where everything stands in a picture, so that no cut parts a count from its limit.

The limit, the edition and *in what we tested* stand between the head that names a maker and the specimens that are
counted. Whoever cuts out both has them too; the edges hold nothing but what may be lost.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from qcledger.public.pictured import letters
from qcledger.public.pictured.flow import Room, fitted
from qcledger.public.pictured.marks import SIZES, Band, Drawing, DrawnSpecimen, Letters, Shape, TextLine
from qcledger.public.pictured.subjects import Pictured

EDGE: Final = 72
"""What is left free at each side, in px."""
_LEADING: Final = 1.28
_HEAD: Final = (58, 50, 44, 38, 32)
"""Sizes of the head in px, the largest that fits is taken."""
_HEAD_LINES: Final = 2
_COUNT: Final = (80, 70, 60, 50, 42)
_LIMIT: Final = 30
_SENTENCE: Final = (30, 27, 24)
_BESIDE: Final = 23
_LEAST_DRAWN: Final = 0.35
"""Share of the height that specimens are left at least; a sentence that would take more is left to the page."""
LEGEND: Final = "Each shape is a specimen in its lot; hatched is faulty."
LEGEND_NONE: Final = "Each shape is a specimen in its lot; none was faulty."
AGAINST: Final = "Held against other lots:"


@dataclass(frozen=True, slots=True)
class _Block:
    """Lines of text of one size and kind."""

    lines: tuple[str, ...]
    size: int
    letters: Letters
    soft: bool = False

    @property
    def height(self) -> float:
        """How high it is."""
        return len(self.lines) * self.size * _LEADING

    def marks(self, x: float, y: float, width: float) -> Iterator[TextLine]:
        """Yield its lines from an upper left corner on."""
        for n, line in enumerate(self.lines):
            yield TextLine(
                line, x, y + (n + 0.8) * self.size * _LEADING, self.size, self.letters, width, soft=self.soft
            )


def _block(
    text: str, size: int, kind: Letters, width: float, *, soft: bool = False, most: int | None = None
) -> _Block:
    """Return a text as lines; with `most`, the last of so many is cut."""
    lines = letters.lines(text, size, kind, width)
    if most is not None and len(lines) > most:
        lines = [*lines[: most - 1], letters.cut(" ".join(lines[most - 1 :]), size, kind, width)]
    return _Block(tuple(lines), size, kind, soft)


def _largest(text: str, sizes: Sequence[int], width: float, most: int) -> _Block:
    """Return a text at the largest size at which it takes at most so many lines; at the least one it is cut."""
    for size in sizes:
        block = _block(text, size, Letters.TEXT, width)
        if len(block.lines) <= most:
            return block
    return _block(text, sizes[-1], Letters.TEXT, width, most=most)


def drawing(one: Pictured, shape: Shape) -> Drawing:
    """Return the picture of one thing.

    Raises
    ------
    BadInput
        When its specimens are too many to be told apart.
    """
    width, height = SIZES[shape]
    room = width - 2 * EDGE
    marks: list[Band | TextLine | DrawnSpecimen] = []
    y = float(EDGE)
    head = _largest(one.head, _HEAD, room, _HEAD_LINES)
    marks += head.marks(EDGE, y, room)
    y += head.height + 22
    limit = _block(one.limit, _LIMIT, Letters.PLAIN, room - 48)
    marks.append(Band(EDGE, y, room, limit.height + 28))
    marks += limit.marks(EDGE + 24, y + 14, room - 48)
    y += limit.height + 28 + 22
    count = _largest(one.count, _COUNT, room, 1)
    marks += count.marks(EDGE, y, room)
    y += count.height + 26
    foot = _foot(one, room, height - EDGE - y)
    below = sum(block.height + 10 for block in foot)
    marks += _specimens(one, Room(EDGE, y, room, height - EDGE - y - below - 14))
    y = height - EDGE - below + 10
    for block in foot:
        marks += block.marks(EDGE, y, room)
        y += block.height + 10
    return Drawing(width, height, f"{one.head}. {one.count}", one.told, tuple(marks))


def _foot(one: Pictured, width: float, left: float) -> list[_Block]:
    """Return what stands beneath the specimens: what shapes mean, the sentence where it fits, and what was asked."""
    faulty = any(lot.faulty for lot in one.lots)
    scale = f' Faulty means, on our own scale: "{one.fault_words}"' if one.fault_words else ""
    legend = _block(f"{LEGEND if faulty else LEGEND_NONE}{scale}", _BESIDE, Letters.PLAIN, width, soft=True, most=2)
    asked = [_block(one.asked, _BESIDE, Letters.PLAIN, width, soft=True, most=2)] if one.asked else []
    room = left * (1 - _LEAST_DRAWN) - sum(block.height + 10 for block in (legend, *asked))
    sizes = (_block(one.sentence, size, Letters.TEXT, width) for size in _SENTENCE)
    fitting = next((block for block in sizes if block.height <= room), None) if one.sentence else None
    return [legend, *([fitting] if fitting else []), *asked]


def _specimens(one: Pictured, room: Room) -> Iterator[TextLine | DrawnSpecimen]:
    """Yield the lots it is about and, below a line of words, those they are held against."""
    words = _block(AGAINST, _BESIDE, Letters.PLAIN, room.width, soft=True)
    if not one.others:
        (flow,) = fitted([one.meant], room.width, room.height)
        yield from flow.marks(room)
        return
    first, second = fitted([one.meant, one.others], room.width, room.height - words.height - 18)
    yield from first.marks(room)
    y = room.y + first.height + 6
    yield from words.marks(room.x, y, room.width)
    yield from second.marks(Room(room.x, y + words.height + 12, room.width, second.height))
