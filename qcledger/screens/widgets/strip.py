"""A list of density strips: one line a maker or criterion, one panel a format."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar, Final

from rich.segment import Segment
from rich.style import Style
from textual.binding import Binding, BindingType
from textual.geometry import Size
from textual.strip import Strip as Drawn
from textual.widget import Widget

from qcledger.screens.widgets.rows import Row, Rows, cell
from qcledger.vocab import MARKS, Standing

GAP: Final = "  "
"""What stands before a panel."""
LONG: Final = 28
"""Characters of the longest standing with its extent, as in ``not settled: maker's format?``."""
MOST: Final = 26
"""Characters of the longest standing with its extent that is settled, as in ``to confirm: maker's format``."""
SHORT: Final = 15
"""Characters of the longest extent alone."""
STRIP_BESIDE: Final = {LONG: 14, MOST: 11, SHORT: 14}
"""Fewest characters of a strip beside words of each length; rather than no words at all it is narrow."""
LEAST: Final = 8
"""Fewest characters in which a strip tells something."""
PANEL: Final = 42
"""Fewest characters of a panel that stands beside another."""
MARK: Final = 3
"""Characters of a mark."""
WASH: Final = {
    MARKS[Standing.NONE_FOUND]: "strips--none",
    MARKS[Standing.OPEN]: "strips--half",
    MARKS[Standing.CHECKING]: "strips--half",
    MARKS[Standing.TO_CONFIRM]: "strips--full",
    MARKS[Standing.SETTLED]: "strips--hatched",
}
"""The wash of the one ink below each mark; the mark alone says as much."""


@dataclass(frozen=True, slots=True)
class Panel:
    """What one format shows in one line.

    Parameters
    ----------
    strip
        Drawn as it is, blanks included.
    counts, mark
        Faulty of tested, and the mark of the standing.
    told, short
        Standing and extent, and the extent alone for where there is less room.
    """

    strip: str
    counts: str
    mark: str
    told: str
    short: str


@dataclass(frozen=True, slots=True)
class StripLine:
    """One line: its name and a panel for each format; without panels it is a heading of those below, or plain."""

    name: str
    panels: tuple[Panel, ...]
    is_plain: bool = False


@dataclass(frozen=True, slots=True)
class Fit:
    """Characters for each part, and how many panels stand side by side; what has no room gets none."""

    name: int
    strip: int
    counts: int
    words: int
    panels: int

    @classmethod
    def into(cls, width: int, formats: int, name: int) -> "Fit":
        """Return what fits into `width` characters: words go first, then the strip; name, counts and mark stay."""
        name = min(name, max(width // 3, 6))
        panels = max(min((width - name) // (PANEL + len(GAP)), formats), 1)
        each = (width - name) // panels - len(GAP)
        counts = 6 if each > PANEL // 2 else 5
        left = each - counts - MARK - 1
        words = next((most for most, strip in STRIP_BESIDE.items() if left >= most + 1 + strip), 0)
        left -= words + 1 if words else 0
        strip = min(left - 1, 31)
        return cls(name, strip if strip >= LEAST else 0, counts, words, panels)

    @property
    def panel(self) -> int:
        """Characters of one panel."""
        return sum(part + 1 for part in (self.strip, self.counts, MARK, self.words) if part) - 1


class Strips(Rows, inherit_bindings=False):
    """Lines with strips, one of them marked, in one format."""

    DEFAULT_CSS = """
    Strips { scrollbar-gutter: stable; }
    Strips > .strips--ink { color: $ink; }
    Strips > .strips--heading { text-style: bold; }
    Strips > .strips--none { color: $foreground; }
    Strips > .strips--half { background: $ink 20%; color: $foreground; }
    Strips > .strips--full { background: $ink 45%; color: $foreground; text-style: bold; }
    Strips > .strips--hatched { background: $ink; color: $background; text-style: bold; }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {"strips--ink", "strips--heading", *WASH.values()}
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", "up", show=False),
        Binding("down", "move(1)", "down", show=False),
        Binding("pageup", "turn(-1)", "page up", show=False),
        Binding("pagedown", "turn(1)", "page down", show=False),
        Binding("home", "to_end(-1)", "first", show=False),
        Binding("end", "to_end(1)", "last", show=False),
        Binding("enter", "pick", "open", show=False),
    ]

    def __init__(self) -> None:
        super().__init__((), self._load)
        self._lines: tuple[StripLine, ...] = ()
        self.formats: tuple[str, ...] = ()
        self.chosen = 0
        """Number of the format that keys speak of."""
        self.name_width = 14
        self.found: tuple[str, ...] = ()
        """What was found in each format, in a few characters; said of the formats that are out of view."""
        self._first = 0
        """Number of the format in the leftmost panel."""

    @property
    def fit(self) -> Fit:
        """What fits."""
        return Fit.into(self.scrollable_content_region.width, len(self.formats), self.name_width)

    def show_lines(self, lines: Sequence[StripLine], formats: Sequence[str], chosen: int, marked: int = 0) -> None:
        """Show other lines, with `chosen` as the format that keys speak of."""
        self._lines, self.formats = tuple(lines), tuple(formats)
        self.show(len(self._lines), marked=marked)
        self.choose(chosen)

    def choose(self, number: int) -> None:
        """Speak of another format, or of the nearest there is, and bring it into view."""
        self.chosen = min(max(number, 0), max(len(self.formats) - 1, 0))
        panels = self.fit.panels
        self._first = min(max(self._first, self.chosen - panels + 1), self.chosen)
        self._first = max(min(self._first, len(self.formats) - panels), 0)
        self.refresh()

    async def _load(self, first: int, most: int) -> list[Row]:
        return [Row(str(first + n), (line.name,)) for n, line in enumerate(self._lines[first : first + most])]

    def beside(self, step: int) -> str:
        """Return the next format to the left (-1) or right (1) of the chosen one; empty when there is none."""
        place = self.chosen + step
        return self.formats[place] if 0 <= place < len(self.formats) else ""

    def _out_of_view(self) -> dict[int, str]:
        """Return what is said behind the outermost titles: which formats lie to their left and right."""
        first, last = self._shown[0], self._shown[-1]
        sides = ((first, "left", range(first)), (last, "right", range(last + 1, len(self.formats))))
        said: dict[int, str] = {}
        for place, word, hidden in sides:
            names = [f"{self.formats[n]} {self.found[n] if self.found else ''}".strip() for n in hidden]
            if names:
                before = f"{said[place]}; " if place in said else ""
                said[place] = f"{before}{word}: {', '.join(names)}"
        return said

    @property
    def _shown(self) -> range:
        return range(self._first, min(self._first + self.fit.panels, len(self.formats)))

    def render_line(self, y: int) -> Drawn:
        """Return one line of the screen: the formats, or the line that is scrolled there."""
        width = self.scrollable_content_region.width
        number = y - 1 + self.scroll_offset.y
        if y == 0:
            segments = self._titles()
        elif number < len(self._lines):
            segments = self._drawn(self._lines[number], marked=number == self.marked)
        else:
            segments = []
        return Drawn(segments).adjust_cell_length(width, self.rich_style)

    def _titles(self) -> list[Segment]:
        style, room = self.get_component_rich_style("rows--title"), self.fit
        plain = Style(bgcolor=style.bgcolor)
        segments = [Segment(" " * room.name, plain)]
        aside = self._out_of_view() if self._shown else {}
        for place in self._shown:
            name = f"> {self.formats[place]}" if place == self.chosen else f"  {self.formats[place]}"
            bold, rest = Style(bold=place == self.chosen), room.panel - len(name) - len(GAP)
            if place not in aside or rest < LEAST:
                name, rest = f"{name}{GAP}", 0
            segments += [Segment(GAP, plain), Segment(cell(name, room.panel - rest), style + bold)]
            segments += [Segment(cell(aside[place], rest), style)] if rest else []
        return segments

    def _drawn(self, line: StripLine, *, marked: bool) -> list[Segment]:
        cursor = self.get_component_rich_style("rows--marked" if marked else "strips--heading")
        if not line.panels:
            style = self.rich_style if line.is_plain and not marked else cursor
            return [Segment(cell(line.name, self.scrollable_content_region.width), style)]
        segments = [Segment(cell(line.name, self.fit.name), cursor if marked else self.rich_style)]
        for place in self._shown:
            here = cursor if marked and place == self.chosen else None
            segments += [Segment(GAP, self.rich_style), *self._panel(line.panels[place], here)]
        return segments

    def _panel(self, panel: Panel, cursor: Style | None) -> list[Segment]:
        room, base = self.fit, self.rich_style
        if panel.counts and not panel.mark:  # a trait has neither strip nor mark, so its words have all the room
            return [Segment(cell(f"{panel.told}; {panel.counts} tested", room.panel), cursor or base)]
        wash = self.get_component_rich_style(WASH[panel.mark]) if panel.mark else base
        strip = panel.strip.ljust(room.strip)[: room.strip]
        parts = (
            (strip, self.get_component_rich_style("strips--ink"), room.strip),
            (cell(panel.counts, room.counts, right=True), base, room.counts),
            (panel.mark.ljust(MARK), wash, MARK),
            (cell(panel.told if len(panel.told) <= room.words else panel.short, room.words), base, room.words),
        )
        segments: list[Segment] = []
        for text, style, wide in parts:
            if wide:
                cursor_here = None if text is strip else cursor  # a strip is read by its ink: it is never reversed
                segments += [Segment(" ", cursor_here or base)] if segments else []
                segments.append(Segment(text, cursor_here or style))
        return segments

    def scale(self, axis: str) -> str:
        """Return the line below the list: the scale under each panel's strip."""
        room = self.fit
        panels = (GAP + axis[: room.strip].ljust(room.panel) for _ in self._shown)
        return " " * room.name + "".join(panels) if room.strip else ""

    def on_resize(self) -> None:
        """Fit the panels into the new width."""
        self.virtual_size = Size(self.size.width, self.count + 1)
        self.choose(self.chosen)
        self.call_after_refresh(self._bring_into_view)


class ScaleLine(Widget):
    """The scale below the strips."""

    DEFAULT_CSS = """
    ScaleLine { height: 1; color: $faint; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._text = ""

    def show(self, text: str) -> None:
        """Show another scale."""
        self._text = text
        self.refresh()

    def render_line(self, y: int) -> Drawn:
        """Return the scale."""
        return Drawn([Segment(self._text, self.rich_style)]).adjust_cell_length(self.size.width, self.rich_style)
