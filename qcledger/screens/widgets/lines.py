"""The fixed lines of a page: its head, what was last said or saved, and its keys."""

from collections.abc import Sequence
from textwrap import wrap
from typing import Final

from textual.content import Content
from textual.geometry import Size
from textual.widget import Widget

from qcledger.screens.shown import shown_line
from qcledger.text import one_line, shorten

MOST_SAID: Final = 3
"""Lines that something said may take."""


CUT: Final = 2
"""Parts of a head that are shortened where they do not fit; those behind them are whole, or not there."""


class HeadLine(Widget):
    """The page's name, then what it is about, in as many parts as fit; the first parts matter most."""

    DEFAULT_CSS = """
    HeadLine { height: 1; color: $foreground; padding: 0 1; }
    """

    def __init__(self, title: str) -> None:
        super().__init__()
        self._title = title
        self._parts: tuple[str, ...] = ()

    def show(self, *parts: str) -> None:
        """Show `parts` beside the page's name."""
        self._parts = tuple(one_line(part) for part in parts if part)
        self.refresh()

    def render(self) -> Content:
        """Return the line, shortened from its end."""
        width = self.size.width
        line = self._title
        for place, part in enumerate(self._parts):
            room = max(width - len(line) - 3, 0)
            if len(part) <= room or place < CUT:
                line = f"{line}   {shorten(part, room)}"
        return Content.assemble((line[: len(self._title)], "bold $ink"), line[len(self._title) : width])


class PagesLine(Widget):
    """The line of pages: the key that goes, the letter of each page behind it, and the page in front in brackets.

    Parameters
    ----------
    go
        The key that goes, as it is written.
    pages
        The name, letter and title of each page, in their order.
    here
        The page in front.
    """

    DEFAULT_CSS = """
    PagesLine { height: 1; padding: 0 1; color: $faint; }
    """

    def __init__(self, go: str, pages: Sequence[tuple[str, str, str]], here: str) -> None:
        super().__init__()
        self._go, self._pages, self._here = go, pages, here
        self._is_going = False

    def show(self, here: str, *, going: bool) -> None:
        """Show which page is in front, and whether the letter of another one is awaited."""
        self._here, self._is_going = here, going
        self.refresh()

    def render(self) -> Content:
        """Return the line; where there is little room, gaps are smaller, then titles are left out."""
        lead = "open which page?" if self._is_going else f"{self._go} then"
        for gap, titled in (("   ", True), ("  ", True), (" ", True), (" ", False)):
            line = self._line(lead, gap, titled=titled)
            if len(line.plain) <= self.size.width:
                break
        return line

    def _line(self, lead: str, gap: str, *, titled: bool) -> Content:
        parts: list[Content] = [shown_line(lead, "bold $ink")]
        for name, key, title in self._pages:
            words = f"{key} {title}" if titled else key
            parts.append(shown_line(f"[{words}]", "bold") if name == self._here else shown_line(words))
        return Content(gap).join(parts)


class SaidLine(Widget):
    """What was last said on the left, in as many as three lines; the state of the last save on the right."""

    DEFAULT_CSS = """
    SaidLine { height: auto; min-height: 1; max-height: 3; padding: 0 1; color: $foreground; }
    SaidLine.-problem { color: $error; text-style: bold; }
    """

    def __init__(self, said: str = "") -> None:
        super().__init__()
        self._said = said
        self._saved = ""

    @property
    def said(self) -> str:
        """The words on the left."""
        return self._said

    @property
    def is_problem(self) -> bool:
        """Whether the words tell a problem."""
        return self.has_class("-problem") and bool(self._said)

    @property
    def saved(self) -> str:
        """The state of the last save: nothing, ``...``, ``saved 14:02:31`` or ``not confirmed ...``."""
        return self._saved

    def say(self, line: str, *, problem: bool = False) -> None:
        """Say something; a problem is told in words and set apart."""
        self._said = one_line(line)
        self.set_class(problem, "-problem")
        self._fit()

    def save_state(self, state: str) -> None:
        """Show the state of the last save."""
        self._saved = state
        self._fit()

    def on_resize(self) -> None:
        """Take the lines that the words need in another width."""
        self._fit()

    def _fit(self) -> None:
        """Draw the words; lay the page out anew only where they take more lines or fewer."""
        height = self.size.height
        self.refresh(layout=height != len(self._lines(self.size.width, MOST_SAID)))

    def _lines(self, width: int, most: int) -> list[str]:
        """Return what fits beside the state of the save; when both do not fit, the state stays."""
        room = width - len(self._saved) - 2
        if room < 4:
            return [""]
        return wrap(self._said, room, max_lines=max(most, 1), placeholder=" …") or [""]

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the lines the words take."""
        return len(self._lines(width, MOST_SAID))

    def render(self) -> Content:
        """Return the lines."""
        width = self.size.width
        first, *more = self._lines(width, self.size.height)
        gap = " " * max(width - len(first) - len(self._saved), 0)
        return Content("\n").join([Content.assemble(first, gap, (self._saved, "$ink")), *map(Content, more)])


class KeyLine(Widget):
    """The keys of a page in the order of need, as many as fit, and always the one that shows them all."""

    DEFAULT_CSS = """
    KeyLine { height: 1; padding: 0 1; color: $faint; }
    """

    def __init__(self, pairs: Sequence[tuple[str, str]], last: tuple[str, str]) -> None:
        super().__init__()
        self._pairs = list(pairs)
        self._last = last

    def show(self, pairs: Sequence[tuple[str, str]]) -> None:
        """Show other keys, as a page does when what it is about has changed."""
        self._pairs = list(pairs)
        self.refresh()

    def show_last(self, last: tuple[str, str]) -> None:
        """Show another key as the one that shows them all."""
        self._last = last
        self.refresh()

    def fitting(self, width: int) -> list[tuple[str, str]]:
        """Return the pairs that fit into `width` characters, `last` among them."""
        fit: list[tuple[str, str]] = []
        left = width - len(" ".join(self._last))
        for key, label in self._pairs:
            left -= len(key) + len(label) + 4
            if left < 0:
                break
            fit.append((key, label))
        return [*fit, self._last]

    def render(self) -> Content:
        """Return the line."""
        parts: list[Content | str | tuple[str, str]] = []
        for key, label in self.fitting(self.size.width):
            parts += ["   " if parts else "", (key, "bold $foreground"), " ", shown_line(label)]
        return Content.assemble(*parts)


class RuleLine(Widget):
    """A thin line across the page."""

    DEFAULT_CSS = """
    RuleLine { height: 1; padding: 0 1; color: $panel-darken-2; }
    """

    def render(self) -> Content:
        """Return the line in plain ASCII, so that no font can lack it."""
        return Content("-" * self.size.width)
