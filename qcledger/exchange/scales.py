"""Scales as people keep them: numbers from here to there, words or letters in a row, stars, shares such as 7/10."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from qcledger.errors import bad
from qcledger.exchange.grid import Cell
from qcledger.figures import as_number
from qcledger.rubric.form import Key, flag, number, refuse, take
from qcledger.rubric.strict_yaml import Items, Node, Scalar
from qcledger.text import one_line

WORST: Final = 5.0
"""The worst grade; the best is 0."""
STARS: Final = "★☆½⯪*"
_SHARE: Final = re.compile(r"(?P<mark>\d+(?:[.,]\d+)?)\s*(?:/|of|von|sur|su|de|van)\s*(?P<most>\d+)", re.IGNORECASE)
_TENDING: Final = re.compile(r"(?P<mark>\d+)\s*(?P<sign>[+\-\u2212])")
_BETWEEN: Final = re.compile(r"(?P<one>\d+)\s*[-\u2013/]\s*(?P<other>\d+)")
_THIRD: Final = 1 / 3
"""What a + or - behind a mark is worth, as schools have it (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class EvenScale:
    """Somebody's scale of numbers, laid evenly over 0 to 5; `reversed` when its low end is the worst."""

    low: float
    high: float
    reversed: bool = False

    def grade(self, mark: float) -> float:
        """Return where `mark` falls between 0 none and 5 worst."""
        share = (mark - self.low) / (self.high - self.low)
        return WORST * (1 - share if self.reversed else share)

    def read(self, cell: Cell, decimal_mark: str | None, where: str) -> float:
        """Return where a cell falls between 0 none and 5 worst.

        A plain number is a mark; ``7/10`` is that share of the scale from 0; stars are counted, of as many as stand
        there; ``2+`` is a third better than 2, ``3-`` a third worse than 3, ``2-3`` half-way.

        Raises
        ------
        BadInput
            When the cell is none of these, or beyond the scale.
        """
        mark = self._mark(cell, decimal_mark)
        if mark is None or not self.low <= mark <= self.high:
            raise bad(where, str(cell), f"{self.low:g} to {self.high:g}, as the map's scale says")
        return self.grade(mark)

    def _mark(self, cell: Cell, decimal_mark: str | None) -> float | None:
        plain = cell if isinstance(cell, Decimal) else as_number(str(cell), decimal_mark)
        if plain is not None:
            return float(plain)
        text = one_line(str(cell))
        stars = stars_in(text)
        if stars is not None:
            return self.high * stars[0] / stars[1] if self.high else None
        if found := _SHARE.fullmatch(text):
            return self.high * float(found["mark"].replace(",", ".")) / float(found["most"])
        if found := _TENDING.fullmatch(text):
            better = (found["sign"] == "+") == self.reversed
            near = float(found["mark"]) + (_THIRD if better else -_THIRD)
            return min(max(near, self.low), self.high)
        if found := _BETWEEN.fullmatch(text):
            return (float(found["one"]) + float(found["other"])) / 2
        return None


@dataclass(frozen=True, slots=True)
class ListScale:
    """Somebody's words in a row, the best first, laid evenly over 0 to 5; of a trait, those that mean least first."""

    words: tuple[str, ...]

    def read(self, cell: Cell, decimal_mark: str | None, where: str) -> float:
        """Return where a cell falls between 0 and 5: ``B/C`` half-way, ``B+`` half-way to the word before."""
        place = self._place(one_line(str(cell)).casefold())
        if place is None:
            raise bad(where, str(cell), "words of the map's scale: " + ", ".join(self.words))
        return WORST * place / (len(self.words) - 1)

    def _place(self, text: str) -> float | None:
        known = {word.casefold(): place for place, word in enumerate(self.words)}
        if text in known:
            return known[text]
        if text[-1:] in ("+", "-") and text[:-1].strip() in known:
            near = known[text[:-1].strip()] + (-0.5 if text[-1] == "+" else 0.5)
            return min(max(near, 0), len(self.words) - 1)
        parts = [part.strip() for part in text.split("/")]
        if len(parts) == 2 and all(part in known for part in parts):
            return (known[parts[0]] + known[parts[1]]) / 2
        return None


Scale = EvenScale | ListScale


def stars_in(text: str) -> tuple[float, int] | None:
    """Return how many stars a text shows and of how many, or None: an outline counts nothing, ``½`` is half."""
    if not text or not set(text) <= set(STARS) or set(text) <= set("½*"):
        return None
    return text.count("★") + text.count("*") + 0.5 * (text.count("½") + text.count("⯪")), len(text)


def scale_of(node: Node, where: str) -> Scale:
    """Read a scale of a map: a list of words, the best first, or ``{from: [low, high]}``."""
    if isinstance(node, Items):
        words = tuple(_word(item, where) for item in node.items)
        if len(words) < 2 or len({word.casefold() for word in words}) < len(words):
            raise refuse(node, where, "a list of two words or more, each once, the best first")
        return ListScale(words)
    values = take(node, where, {"from": Key(_ends), "reversed": Key(flag, default=False)})
    low, high = values["from"]
    return EvenScale(low, high, values["reversed"])


def _word(node: Node, where: str) -> str:
    if not isinstance(node, Scalar) or not node.text:
        raise refuse(node, where, "a word of the scale")
    return one_line(node.text)


def _ends(node: Node, where: str) -> Sequence[float]:
    allowed = "[low, high], its ends as two numbers"
    if not isinstance(node, Items) or len(node.items) != 2:
        raise refuse(node, where, allowed)
    low, high = (number(item, where) for item in node.items)
    if low >= high:
        raise refuse(node, where, f"{allowed}, the lower one first")
    return low, high
