"""The letters of pictures: which font of this machine has what a text needs, how wide that is, where it breaks."""

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from typing import TYPE_CHECKING, Final

from qcledger.public.pictured.marks import Letters

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont

_EVERYWHERE: Final = (
    "NotoSans-Regular.ttf", "NotoSansCJK-Regular.ttc", "Arial Unicode.ttf", "msgothic.ttc", "PingFang.ttc",
    "DejaVuSans.ttf",
)  # fmt: skip
"""Fonts that have many scripts, looked in last."""
_FILES: Final[Mapping[Letters, tuple[str, ...]]] = {
    Letters.TEXT: (
        "Charter.ttc", "Georgia.ttf", "georgia.ttf", "LiberationSerif-Regular.ttf", "DejaVuSerif.ttf",
        "NotoSerif-Regular.ttf", *_EVERYWHERE,
    ),
    Letters.PLAIN: (
        "Seravek.ttc", "Carlito-Regular.ttf", "calibri.ttf", "LiberationSans-Regular.ttf", "Helvetica.ttc",
        "arial.ttf", *_EVERYWHERE,
    ),
}  # fmt: skip
"""Names under which systems keep fonts, the first that is there and has all characters is taken."""
CUT: Final = "..."
_UNBROKEN: Final = re.compile(r"([0-9]) (%)")
"""A number and its sign stay on one line."""
_PROBE: Final = 32
"""Size in px at which it is looked whether a font has a character."""
_MISSING: Final = "\uffff"
"""A character that no font has: what is drawn for it is drawn for each one that is missing."""


@cache
def _font(name: str, size: int) -> "FreeTypeFont | None":
    """Return a font by its file's name, wherever this system keeps it; None where it has none."""
    from PIL import ImageFont

    try:
        return ImageFont.truetype(name, size)
    except OSError:
        return None


@cache
def _own(size: int) -> "FreeTypeFont":
    """Return the font that the library brings along; it has plain letters alone."""
    from PIL import ImageFont

    return ImageFont.load_default(size)  # type: ignore[return-value] # a size is given, so it is one with outlines


@cache
def _has(name: str, char: str) -> bool:
    font = _font(name, _PROBE) if name else _own(_PROBE)
    if font is None:
        return False
    seen, none = font.getmask(char), font.getmask(_MISSING)
    return char.isspace() or seen.size != none.size or bytes(seen) != bytes(none)


@cache
def _chosen(chars: frozenset[str], letters: Letters) -> str:
    """Return the file of the first font that has all characters, else of the one that has most; empty for our own."""
    there = [name for name in _FILES[letters] if _font(name, _PROBE) is not None] + [""]
    return max(there, key=lambda name: sum(_has(name, char) for char in chars))


def font(text: str, size: int, letters: Letters) -> "FreeTypeFont":
    """Return the font that a text is measured and drawn with, at a size in px."""
    name = _chosen(frozenset(text), letters)
    return (_font(name, size) if name else None) or _own(size)


def lacking(text: str, letters: Letters) -> str:
    """Return the characters of a text that the font it is drawn with does not have, each once."""
    name = _chosen(frozenset(text), letters)
    return "".join(dict.fromkeys(char for char in text if not _has(name, char)))


def width(text: str, size: int, letters: Letters) -> float:
    """Return how wide a line of text is, in px."""
    return float(font(text, size, letters).getlength(text)) if text else 0.0


def lines(text: str, size: int, letters: Letters, room: float) -> list[str]:
    """Return a text on as many lines as it needs in `room` px of width; words that are too long are broken."""
    found: list[str] = []
    whole = _UNBROKEN.sub("\\1\u00a0\\2", text)
    for word in _broken(whole.split(" "), size, letters, room):
        longer = f"{found[-1]} {word}" if found else word
        if found and width(longer, size, letters) <= room:
            found[-1] = longer
        else:
            found.append(word)
    return found


def _broken(words: Iterable[str], size: int, letters: Letters, room: float) -> Iterator[str]:
    for word in words:
        rest = word
        while rest:
            part = _fitting(rest, size, letters, room)
            yield part
            rest = rest[len(part) :]


def _fitting(text: str, size: int, letters: Letters, room: float) -> str:
    """Return the longest beginning of a text that fits, one character at least."""
    low, high = 1, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if width(text[:middle], size, letters) <= room:
            low = middle
        else:
            high = middle - 1
    return text[:low]


def cut(text: str, size: int, letters: Letters, room: float) -> str:
    """Return a text as it is where it fits, else its beginning and three points."""
    if width(text, size, letters) <= room:
        return text
    begin = _fitting(text, size, letters, max(room - width(CUT, size, letters), 0))
    return f"{begin.rstrip()}{CUT}"
