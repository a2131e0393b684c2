"""The map of a sheet: places down, tests across, what stands in each; beside the criterion where there is room."""

from collections.abc import Callable, Sequence
from typing import ClassVar, Final

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.widget import Widget

from qcledger.bench.runsheet import SheetSquare, ToGrade, Walk, progress
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_mark, shown_result
from qcledger.screens.widgets.ladder import MARKED
from qcledger.screens.widgets.wrapped import Wrapped
from qcledger.text import harmless, one_line, shorten

PLACE: Final = 3
"""Cells of a place's number."""
LABEL: Final = 9
"""Cells of a code or sticker and the blank behind it."""
CELL: Final = 3
"""Cells of a column."""
HEAD: Final = 2 + PLACE + LABEL
"""Cells before the first column: a mark, the place, its label."""


def window(at: int, count: int, room: int) -> range:
    """Return which of `count` things are shown where `room` of them fit, the one `at` in the middle if it can be."""
    room = max(min(room, count), 1)
    first = min(max(at - room // 2, 0), max(count - room, 0))
    return range(first, first + room)


class MapOfSheet(Widget):
    """Draws what stands on a sheet at one stage; where not all has room, what lies around the place at work."""

    DEFAULT_CSS = """
    MapOfSheet { height: 1fr; }
    """

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self._sheet: ToGrade | None = None
        self._at: SheetSquare | None = None

    def show(self, sheet: ToGrade, at: SheetSquare) -> None:
        """Show what stands, with the place `at` marked."""
        self._sheet, self._at = sheet, at
        self.refresh()

    def render(self) -> Content:
        """Return the numbers of the tests and, below them, the places around the one at work."""
        sheet, at = self._sheet, self._at
        if sheet is None or at is None:
            return Content("")
        tests = list(sheet.criteria)
        across = window(tests.index(at.criterion), len(tests), (self.size.width - HEAD) // CELL)
        down = window(at.line, len(sheet.lines), self.size.height - 1)
        shown = [tests[n] for n in across]
        return Content("\n").join(
            [self._numbers(across, at, tests), *(self._line(sheet, at, n, shown) for n in down)]
        )

    def _numbers(self, across: Sequence[int], at: SheetSquare, tests: Sequence[str]) -> Content:
        parts = [Content.styled("place".ljust(HEAD), "$faint")]
        for n in across:
            is_here = tests[n] == at.criterion
            parts.append(Content.styled(f"{n + 1}".rjust(CELL - 1).ljust(CELL), "bold $ink" if is_here else "$faint"))
        return Content("").join(parts)

    def _line(self, sheet: ToGrade, at: SheetSquare, line: int, shown: Sequence[str]) -> Content:
        is_here = line == at.line
        label = shorten(one_line(sheet.label(line)), LABEL - 1).ljust(LABEL)
        head = f"{MARKED if is_here else ' '} {f'{line + 1}'.ljust(PLACE)}{label}"
        parts = [Content.styled(harmless(head), "bold $ink" if is_here else "")]
        for key in shown:
            place = SheetSquare(line, key)
            asked = sheet.asks(place)
            mark = shown_mark(sheet.result(place), sheet.scale(place).choices) if asked else " "
            drawn = f"{MARKED if place == at else ' '}{mark}".ljust(CELL)
            parts.append(Content.styled(drawn, "reverse bold") if place == at else Content(drawn))
        return Content("").join(parts)


class SheetMap(Page):
    """The map alone, to find one's way over the paper.

    Parameters
    ----------
    desk
        Whose settings show a result.
    sheet, at
        The sheet at work, and where on it.
    where
        Where a place lies on the printed cells, in words, by its number from 0.
    go
        Takes the bench to a place.
    """

    KEY = "map"
    TITLE = "Sheet map"
    TELLS_MARKED = True
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("map"))

    def __init__(
        self,
        desk: Desk,
        sheet: ToGrade,
        at: SheetSquare,
        where: Callable[[int], str],
        go: Callable[[SheetSquare], None],
    ) -> None:
        super().__init__(desk)
        self._sheet = sheet
        self._at = at
        self._where = where
        self._go = go

    def body(self) -> ComposeResult:
        """Lay out the map and, below it, the marked place in words."""
        yield MapOfSheet()
        yield Wrapped(3, id="whole")

    async def fill(self) -> None:
        """Show the map as the bench has it."""
        done, of = progress(self._sheet)
        self.head(f"{self._sheet.stage}", f"{done} of {of} judged", f"{of - done} blank")
        self._show()

    def _show(self) -> None:
        self.query_one(MapOfSheet).show(self._sheet, self._at)
        place, criterion = self._at, self._sheet.criteria[self._at.criterion]
        number = list(self._sheet.criteria).index(place.criterion) + 1
        asked = self._sheet.asks(place)
        stands = shown_result(self._sheet.result(place), self.desk.settings) if asked else "not asked of this format"
        told = f"{self._sheet.label(place.line)}, {self._where(place.line)}; {number} {criterion.title}: {stands}"
        self.query_one("#whole", Wrapped).show(told)

    def action_move(self, down: int, across: int) -> None:
        """Go to another place or test; there is no way beyond the edges."""
        tests = list(self._sheet.criteria)
        line = min(max(self._at.line + down, 0), len(self._sheet.lines) - 1)
        test = min(max(tests.index(self._at.criterion) + across, 0), len(tests) - 1)
        self._at = SheetSquare(line, tests[test])
        self._show()

    def action_blank(self) -> None:
        """Go to the next place where nothing stands; from the last of them to the first."""
        places = [one for one in self._sheet.places(Walk.BY_SPECIMEN) if self._sheet.is_open(one)]
        order = list(self._sheet.criteria)
        here = (self._at.line, order.index(self._at.criterion))
        onward = [one for one in places if (one.line, order.index(one.criterion)) > here]
        if not places:
            self.say("nothing is blank at this stage")
            return
        self._at = (onward or places)[0]
        self._show()

    def action_there(self) -> None:
        """Go to the marked place on the sheet."""
        if not self._sheet.asks(self._at):
            self.say("this test is not asked of this format", problem=True)
            return
        self.app.pop_screen()
        self._go(self._at)
