"""The ladder of anchors: each grade's digit with the sentence that fixes it."""

from collections.abc import Mapping
from dataclasses import dataclass
from textwrap import wrap
from typing import Final

from textual.content import Content
from textual.geometry import Size
from textual.widget import Widget

from qcledger.text import one_line

MARKED: Final = ">"
PROPOSED: Final = "~"
MARGIN: Final = 8
"""Cells before a sentence: mark and digit."""


@dataclass(frozen=True, slots=True)
class Ladder:
    """What a ladder shows.

    Parameters
    ----------
    rungs
        Key to press (a digit) to sentence, in the order of the digits.
    chosen
        The grade that stands, half steps included, or the number of the choice; None when nothing stands.
    proposed
        The grade that a reading proposes, to be taken with Enter.
    fault_from
        The grade from which it is a fault; None for a trait.
    """

    rungs: Mapping[float, str]
    chosen: float | None = None
    proposed: float | None = None
    fault_from: float | None = None

    def lines(self) -> list[tuple[str, str, str]]:
        """Return (mark, digit, sentence) of each line; a half step stands between its neighbours."""
        shown: dict[float, str] = dict(self.rungs)
        for value in (self.chosen, self.proposed):
            if value is not None:
                shown.setdefault(value, f"between {int(value)} and {int(value) + 1}")
        return [(self._mark(value), f"{value:g}", shown[value]) for value in sorted(shown)]

    def _mark(self, value: float) -> str:
        if value == self.chosen:
            return MARKED
        return PROPOSED if value == self.proposed else " "


class LadderOfAnchors(Widget):
    """Draws a `Ladder`, one line a rung; the line from which it is a fault says so."""

    DEFAULT_CSS = """
    LadderOfAnchors { height: auto; }
    """

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self.ladder = Ladder({})

    def show(self, ladder: Ladder) -> None:
        """Show another ladder, or the same one with another mark."""
        self.ladder = ladder
        self.refresh(layout=True)

    def render(self) -> Content:
        """Return the rungs; a sentence that is too long goes on below its beginning."""
        return Content("\n").join(self._drawn(max(self.size.width, MARGIN + 1)))

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the lines all rungs take at this width."""
        return len(self._drawn(max(width, MARGIN + 1)))

    def _drawn(self, width: int) -> list[Content]:
        lines = []
        for mark, digit, sentence in self.ladder.lines():
            said = " (a fault from here on)" if self._is_line(digit) else ""
            style = "bold $ink" if mark == MARKED else "$ink" if mark == PROPOSED else ""
            head = f" {mark} {digit:>3}  "
            for text in wrap(one_line(sentence) + said, width - MARGIN, max_lines=3, placeholder=" …") or [""]:
                lines.append(Content.assemble((head, style or "bold"), (text, style)))
                head = " " * MARGIN
        return lines

    def _is_line(self, digit: str) -> bool:
        return self.ladder.fault_from is not None and digit == f"{self.ladder.fault_from:g}"
