"""What a picture is made of, in px from its upper left corner; each face draws the same marks."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final, NamedTuple

from qcledger.public.outlines import Point


class Shape(StrEnum):
    """What a picture is cut for."""

    WIDE = "wide"
    SQUARE = "square"


SIZES: Final = {Shape.WIDE: (1920, 1080), Shape.SQUARE: (1080, 1080)}
"""Width and height: 16 to 9, and as long as wide."""


class Tints(NamedTuple):
    """The colours of a picture; faulty specimens differ by hatching and line, so that it reads in greys."""

    paper: str
    ink: str
    soft: str
    wash: str


LIGHT: Final = Tints("#fbfaf6", "#1c2430", "#57606c", "#f1eee5")
DARK: Final = Tints("#191d22", "#e6e2d8", "#aab0b6", "#22272e")


class Letters(StrEnum):
    """Two kinds of letters: of what is said, and of everything beside it."""

    TEXT = "text"
    PLAIN = "plain"


@dataclass(frozen=True, slots=True)
class TextLine:
    """A line of text: where its baseline begins, its letters' size in px, and how wide it is at most."""

    text: str
    x: float
    y: float
    size: int
    letters: Letters
    width: float
    soft: bool = False


@dataclass(frozen=True, slots=True)
class DrawnSpecimen:
    """One specimen: its outline, the strokes that hatch it where it is faulty, and the breadth of its line."""

    outline: tuple[Point, ...]
    hatching: tuple[tuple[Point, Point], ...]
    line: float
    faulty: bool


@dataclass(frozen=True, slots=True)
class Band:
    """A plain area behind words."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture before it is drawn: its size, its title, all it says in words, and its marks, the lowest first."""

    width: int
    height: int
    title: str
    told: str
    marks: tuple[Band | TextLine | DrawnSpecimen, ...]
