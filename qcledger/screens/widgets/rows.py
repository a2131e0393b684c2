"""A list of any length: rows are asked for page by page and drawn one screen line at a time."""

from collections import OrderedDict
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar, Final

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.binding import Binding, BindingType
from textual.geometry import Size
from textual.message import Message
from textual.reactive import reactive
from textual.scroll_view import ScrollView
from textual.strip import Strip
from textual.worker import Worker

from qcledger.text import one_line, shorten
from qcledger.thing import worded

PAGE_ROWS: Final = 100
"""Rows asked for at once."""
PAGES_KEPT: Final = 40
"""Pages held in memory; the one unused for longest goes first."""
GAP: Final = "  "
"""What stands between two columns."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a list.

    Parameters
    ----------
    title
        Word above the column.
    width
        Cells it takes; shares of what is left over when `grows`.
    grows
        Whether it takes what is left over.
    need
        The most needed columns have the smallest numbers; the others go first when there is no room.
    right
        Whether its cells end at the same place, as numbers do.
    """

    title: str
    width: int
    grows: bool = False
    need: int = 0
    right: bool = False


Cell = str | tuple[str, str]
"""What one column of a row holds: a text, or two of which the first gives way where both have no room."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row: the id of what it shows, its cells, and whether it is drawn faint."""

    id: str
    cells: tuple[Cell, ...]
    faint: bool = False


Load = Callable[[int, int], Awaitable[Sequence[Row]]]
"""Returns at most the second number of rows, from the first number on."""


def fit(columns: Sequence[Column], width: int) -> list[int]:
    """Return the width of each column so that the needed ones fit into `width` cells; 0 leaves a column out."""
    widths = [0] * len(columns)
    left = width
    for place in sorted(range(len(columns)), key=lambda i: columns[i].need):
        wanted = columns[place].width + (len(GAP) if left < width else 0)
        if wanted <= left or left == width:
            widths[place] = min(columns[place].width, width)
            left -= wanted
    growing = [i for i, column in enumerate(columns) if column.grows and widths[i]]
    for turn, place in enumerate(growing):
        widths[place] += max(left, 0) // len(growing) + (1 if turn < max(left, 0) % len(growing) else 0)
    return widths


def cell(text: Cell, width: int, *, right: bool = False) -> str:
    """Return a text cut or padded to `width` terminal cells; wide characters take two, a cut ends in an ellipsis."""
    from rich.cells import cell_len, set_cell_size

    plain = one_line(text) if isinstance(text, str) else _both(one_line(text[0]), one_line(text[1]), width)
    plain = _cut(plain, width)
    return plain.rjust(width) if right and cell_len(plain) == len(plain) else set_cell_size(plain, width)


def _cut(text: str, width: int) -> str:
    from rich.cells import cell_len, set_cell_size

    if len(text) == cell_len(text):
        return shorten(text, width)
    return text if cell_len(text) <= width else f"{set_cell_size(text, max(width - 1, 0)).rstrip()}…"


def _both(first: str, second: str, width: int) -> str:
    """Return two names with a blank between them, the first cut as far as the second needs, to a third at most."""
    from rich.cells import cell_len

    room = width - cell_len(second) - 1
    return f"{first if cell_len(first) <= room else _cut(first, max(room, width // 3))} {second}".strip()


class Rows(ScrollView, can_focus=True):
    """A list with one marked row; the first line holds the columns' titles.

    Set `columns` and `load` once, then call `show` with the number of rows whenever the rows are other ones.
    """

    DEFAULT_CSS = """
    Rows { height: 1fr; overflow-x: hidden; scrollbar-size-vertical: 1; }
    Rows > .rows--title { color: $faint; text-style: underline; }
    Rows > .rows--faint { color: $faint; }
    Rows > .rows--marked { background: $panel; color: $foreground; text-style: bold; }
    Rows:focus > .rows--marked { background: $block-cursor-background; color: $block-cursor-foreground; }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {"rows--title", "rows--faint", "rows--marked"}
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", "up", show=False),
        Binding("down", "move(1)", "down", show=False),
        Binding("pageup", "turn(-1)", "page up", show=False),
        Binding("pagedown", "turn(1)", "page down", show=False),
        Binding("home", "to_end(-1)", "first", show=False),
        Binding("end", "to_end(1)", "last", show=False),
        Binding("enter", "pick", "open", show=False),
    ]

    marked: reactive[int] = reactive(0)
    """Number of the marked row, from 0."""

    class Marked(Message):
        """Another row is marked; `row` is None while it is not loaded."""

        def __init__(self, rows: "Rows", row: Row | None) -> None:
            super().__init__()
            self.rows = rows
            self.row = row

        @property
        def control(self) -> "Rows":
            """The list it happened in."""
            return self.rows

    class Picked(Message):
        """Enter, or a click on the marked row."""

        def __init__(self, rows: "Rows", row: Row) -> None:
            super().__init__()
            self.rows = rows
            self.row = row

        @property
        def control(self) -> "Rows":
            """The list it happened in."""
            return self.rows

    def __init__(
        self,
        columns: Sequence[Column],
        load: Load,
        *,
        id: str | None = None,  # noqa: A002
        marks_in_front: bool = False,
    ) -> None:
        super().__init__(id=id)
        self._marks_in_front = marks_in_front
        """Whether the mark is drawn only while the keys are the list's: beside a form they mean another row."""
        self.columns = tuple(columns)
        self.load = load
        self.count = 0
        self._pages: OrderedDict[int, Sequence[Row]] = OrderedDict()
        self._asked: set[int] = set()
        self._generation = 0
        self._waiting: tuple[int, Callable[[Row], object]] | None = None
        self._told_width = 0

    def show(self, count: int, *, marked: int = 0) -> None:
        """Show `count` rows that `load` now knows, forgetting those shown before."""
        self._generation += 1
        self._waiting = None
        self.count = count
        self._pages.clear()
        self._asked.clear()
        self.virtual_size = Size(self.size.width, count + 1)
        self.marked = min(marked, max(count - 1, 0))
        self._bring_into_view()
        self.refresh()
        self._tell_marked()

    @property
    def row(self) -> Row | None:
        """The marked row; None while it is not loaded, or when there are no rows."""
        return self.at(self.marked)

    @property
    def is_loading(self) -> bool:
        """Whether the marked row was asked for and has not come yet."""
        return self.marked // PAGE_ROWS in self._asked

    def at(self, number: int) -> Row | None:
        """Return the row with this number when it is at hand, else None, having asked for its page."""
        if not 0 <= number < self.count:
            return None
        page, place = divmod(number, PAGE_ROWS)
        if page not in self._pages:
            self._ask(page)
            return None
        self._pages.move_to_end(page)
        rows = self._pages[page]
        return rows[place] if place < len(rows) else None

    def left_out(self) -> str:
        """Return in words what of the marked row the screen has no room for; empty when it shows all."""
        row = self.row
        if row is None or (self._marks_in_front and not self.has_focus):
            return ""
        parts = []
        widths = fit(self.columns, self.scrollable_content_region.width)
        for column, wide, each in zip(self.columns, widths, row.cells, strict=False):
            whole = one_line(each if isinstance(each, str) else f"{each[0]} {each[1]}")
            if whole and (not wide or cell(each, wide).strip() != whole):
                parts.append(f"{worded(column.title)}: {whole}" if column.title else whole)
        return "; ".join(parts)

    def with_row(self, number: int, then: Callable[[Row], object]) -> None:
        """Call `then` with this row, at once or when it is loaded; of several calls that wait, the last is made."""
        self._waiting = None
        if (row := self.at(number)) is not None:
            then(row)
        elif number < self.count:
            self._waiting = number, then

    def _ask(self, page: int) -> None:
        if page in self._asked:
            return
        self._asked.add(page)
        generation = self._generation

        async def fetch() -> None:
            self._take(page, await self.load(page * PAGE_ROWS, PAGE_ROWS), generation)

        _: Worker[None] = self.run_worker(fetch, group="rows")

    def _take(self, page: int, rows: Sequence[Row], generation: int) -> None:
        """Keep a page that came, unless the list shows other rows by now."""
        if generation != self._generation:
            return
        self._asked.discard(page)
        self._pages[page] = rows
        while len(self._pages) > PAGES_KEPT:
            self._pages.popitem(last=False)
        self.refresh()
        if self.marked // PAGE_ROWS == page:
            self._tell_marked()
        if self._waiting is not None and (row := self.at(self._waiting[0])) is not None:
            (_, then), self._waiting = self._waiting, None
            if self.app.screen is self.screen:  # else another page was opened meanwhile
                then(row)

    def _tell_marked(self) -> None:
        self.post_message(self.Marked(self, self.row))

    def render_line(self, y: int) -> Strip:
        """Return one line of the screen: the titles, or the row that is scrolled there."""
        width = self.scrollable_content_region.width
        if y == 0:
            titles = tuple(worded(column.title) for column in self.columns)
            return self._strip(titles, self.get_component_rich_style("rows--title"), width)
        number = y - 1 + self.scroll_offset.y
        if number >= self.count:
            return Strip.blank(width, self.rich_style)
        row = self.at(number)
        return self._strip(row.cells if row else ("...",), self._style(number, row), width)

    def _style(self, number: int, row: Row | None) -> Style:
        if number == self.marked and (self.has_focus or not self._marks_in_front):
            return self.get_component_rich_style("rows--marked")
        return self.get_component_rich_style("rows--faint") if row and row.faint else self.rich_style

    def _strip(self, cells: Sequence[Cell], style: Style, width: int) -> Strip:
        shown = [
            cell(cells[i] if i < len(cells) else "", wide, right=self.columns[i].right)
            for i, wide in enumerate(fit(self.columns, width))
            if wide
        ]
        return Strip([Segment(GAP.join(shown), style)]).adjust_cell_length(width, style)

    def _bring_into_view(self) -> None:
        """Scroll as little as puts the marked row below the titles and above the end."""
        room = max(self.scrollable_content_region.height - 1, 1)
        top = self.scroll_offset.y
        wanted = min(max(top, self.marked - room + 1), self.marked)
        if wanted != top:
            self.scroll_to(y=wanted, animate=False)

    def watch_marked(self) -> None:
        """Keep the marked row on the screen and say which it is."""
        self._bring_into_view()
        self.refresh()
        self._tell_marked()

    def mark(self, number: int) -> None:
        """Mark a row, or the nearest there is."""
        self.marked = min(max(number, 0), max(self.count - 1, 0))

    def action_move(self, step: int) -> None:
        """Mark the next row or the one before."""
        self.mark(self.marked + step)

    def action_turn(self, pages: int) -> None:
        """Mark a row one screen away."""
        self.mark(self.marked + pages * max(self.scrollable_content_region.height - 2, 1))

    def action_to_end(self, direction: int) -> None:
        """Mark the first row or the last."""
        self.mark(0 if direction < 0 else self.count - 1)

    def action_pick(self) -> None:
        """Open the marked row."""
        self.with_row(self.marked, lambda row: self.post_message(self.Picked(self, row)))

    def on_click(self, event: events.Click) -> None:
        """Mark the row under the mouse; open it when it was marked already."""
        number = event.y - 1 + self.scroll_offset.y
        if event.y > 0 and number < self.count:
            if number == self.marked:
                self.action_pick()
            self.mark(number)

    def on_focus(self) -> None:
        """Tell the marked row where it is one only while the keys are the list's."""
        if self._marks_in_front:
            self.call_after_refresh(self._tell_marked)

    def on_blur(self) -> None:
        """Tell that no row is marked where it is one only while the keys are the list's."""
        if self._marks_in_front:
            self.call_after_refresh(self._tell_marked)

    def on_resize(self) -> None:
        """Fit the rows into the new width."""
        self.virtual_size = Size(self.size.width, self.count + 1)
        self.call_after_refresh(self._bring_into_view)
        if self._told_width != self.size.width:  # other columns may have room now
            self._told_width = self.size.width
            self._tell_marked()
