"""The findings: makers down, formats across, for one criterion, for all of them, or for one maker."""

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.findings.asking import CellPlace, Shown, View, labels_in, look, this_terminal
from qcledger.screens.findings.choose import ask_comparison, ask_criterion
from qcledger.screens.findings.deciding import CARD
from qcledger.screens.findings.labelwhy import LabelWhy
from qcledger.screens.findings.photos import open_photos
from qcledger.screens.findings.why import Why
from qcledger.screens.findings.workedout import WorksBeside
from qcledger.screens.widgets.rows import Rows
from qcledger.screens.widgets.strip import Fit, Panel, ScaleLine, StripLine, Strips
from qcledger.screens.widgets.wrapped import Wrapped
from qcledger.vocab import MARKS, Standing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from qcledger.report.board import Board, BoardCell, BoardLine
    from qcledger.report.labels_text import LabelLine

OF_LABEL: Final = "this line is about a label: Enter opens it"
APART: Final = "what this line tells of is counted in no cell: Record lists it"
NAMES: Final = {False: 14, True: 22}
"""Characters for the name of a line: of a maker, and of a criterion on a maker's card."""


class FindingsPage(WorksBeside):
    """Every cell: how far each fault reaches and how firmly that may be said.

    Parameters
    ----------
    desk
        Where to ask.
    begun
        The page that this one is opened from, whose findings it goes on with; None where it stands by itself.
    view
        What it shows first.
    """

    KEY = "findings"
    TELLS_MARKED = True
    TITLE = "Findings"
    CSS_PATH = "findings.tcss"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("findings"))

    def __init__(self, desk: Desk, begun: WorksBeside | None = None, view: View | None = None) -> None:
        super().__init__(desk, begun)
        self._over = begun is not None
        self._view = view or View()
        self._before: list[View] = []
        self._shown: Shown | None = None
        self._lines: list[BoardLine] = []
        self._labels: tuple[View, list[LabelLine]] | None = None
        self._label_lines: dict[int, LabelLine] = {}
        """Lines about labels, by their number on the page."""
        self._drawn: tuple[View, int] | None = None

    def body(self) -> ComposeResult:
        """Lay out the strips and the scale below them."""
        yield Strips()
        yield ScaleLine()
        yield Wrapped(4, more="; enter on a line opens its why", id="asked")

    def on_mount(self) -> None:
        """Begin in the list."""
        self.query_one(Strips).focus()

    # What is shown

    async def fill(self) -> None:
        """Ask for the findings, computed again if the ledger has changed, and show what is asked for of them."""
        view, width = self._view, self.query_one(Strips).fit.strip
        self._kept, shown = await self.asked(partial(look, self._kept, view, width, this_terminal()))
        self._missing = shown.open
        self._show(view, shown)
        await self._show_labels(view)
        await self.go_on(shown.open)

    async def _show_labels(self, view: View) -> None:
        """Show what labels say below the criteria; it is asked for apart, so that the counts need not wait for it."""
        if self._kept is not None and view.criterion is None:
            self._labels = (view, await self.desk.read(partial(labels_in, self._kept, view)))
            if self._shown is not None and self._drawn is not None and self._drawn[0] == view:
                self._show(view, self._shown)

    def _show(self, view: View, shown: Shown) -> None:
        strips, fresh = self.query_one(Strips), self._drawn is None or self._drawn[0] != view
        spoken, self._shown = self._place, shown
        strips.name_width = NAMES[view.maker is not None]
        strips.found = tuple(_found_in(shown.board.lines, n) for n in range(len(shown.board.formats)))
        chosen = self._chosen(shown) if fresh else strips.chosen
        labels = self._labels[1] if self._labels is not None and self._labels[0] == view else []
        self._lines = [] if view.labels else _in_view(shown.board, view, chosen, strips.size.width)
        self._label_lines = {len(self._lines) + n: line for n, line in enumerate(labels)}
        self._lines += [one.line for one in labels]
        lines = [StripLine(one.name, tuple(map(_panel, one.cells)), one.maker is not None) for one in self._lines]
        strips.show_lines(lines, [str(one) for one in shown.board.formats], chosen, _same(self._lines, spoken))
        self._drawn = (view, strips.fit.strip)
        strips.styles.max_height = len(lines) + 1  # so that the scale stands below the last line
        self.query_one(ScaleLine).show(strips.scale(shown.board.axis))
        self.query_one("#asked", Wrapped).show(" ".join(shown.board.asked))
        self._head()
        self.say_what_is_shown()
        if strips.fit.strip != shown.width:  # another name width leaves another width for the strips
            self.work(self.fill, instead_of="fill")

    def say_what_is_shown(self) -> None:
        """Say how far the work beside the page is, else what the strips are."""
        if not self.say_how_far() and self._shown is not None:
            self.mention(self._shown.board.label)
        self.foot([*self.goes_on, *self._foot()])

    def _foot(self) -> list[tuple[str, str]]:
        """Return the page's usual keys, those that change the format with where they lead."""
        mine, strips, named = self.desk.settings.keys, self.query_one(Strips), keys.actions_of(self.KEY)
        ways = {step: next(one for one in named if one.call == f"format({step})") for step in (-1, 1)}
        led = [(keys.key_name(keys.keys_of(ways[step], mine)[0]), strips.beside(step)) for step in ways]
        usual = keys.foot(self.KEY, mine)
        at = next((n for n, (_, label) in enumerate(usual) if label == ways[1].label), len(usual))
        return [*usual[:at], *((key, to) for key, to in led if to), *usual[at + 1 :]]

    def _chosen(self, shown: Shown) -> int:
        """Return the format to begin with: the one spoken of before, else the one with most faults."""
        strips = self.query_one(Strips)
        before = strips.formats[strips.chosen] if strips.formats else ""
        names = [str(one) for one in shown.board.formats]
        return names.index(before) if before in names else shown.board.busiest

    def on_resize(self) -> None:
        """Draw the strips anew when there is more or less room for them."""
        if self._drawn is not None and self._drawn[1] != self.query_one(Strips).fit.strip:
            self.work(self.fill, instead_of="fill")

    def _go(self, view: View, *, back: bool = True) -> None:
        """Ask for something else; Esc comes back to what was there."""
        if view != self._view:
            if back:
                self._before.append(self._view)
            self._view = view
            self.work(self.fill, instead_of="fill")

    # The marked line

    @property
    def _place(self) -> CellPlace | None:
        """The criterion, maker and format that keys speak of."""
        strips = self.query_one(Strips)
        if self._shown is None or strips.marked >= len(self._lines):
            return None
        line = self._lines[strips.marked]
        formats = self._shown.board.formats  # none where nothing but labels is there
        return CellPlace(line.criterion, line.maker, formats[strips.chosen] if formats else "")

    @property
    def spoken_of(self) -> CellPlace | None:
        """The cell that keys speak of."""
        return self._place

    @property
    def asked_in(self) -> str | None:
        """The comparison that is shown."""
        return self._view.comparison

    @property
    def of_whole_maker(self) -> bool:
        """Whether this is a maker's card."""
        return self._view.maker is not None

    def why_not(self) -> str:
        """Say where a maker is asked, unless this is its card."""
        return "" if self.of_whole_maker else CARD

    @on(Rows.Marked)
    def _head(self) -> None:
        """Say what is shown; first what the list may cut of the marked line: its name, and what is told with it."""
        if self._shown is None:
            return
        strips = self.query_one(Strips)
        line = self._lines[strips.marked] if strips.marked < len(self._lines) else None
        cut = [line.name] if line is not None and line.cells and len(line.name) > strips.fit.name else []
        beside = line.cells[strips.chosen].beside if line is not None and line.cells else ""
        board = self._shown.board
        self.head(
            board.title, *cut, *([f"told once: {beside}"] if beside else []), self._shown.comparison, *board.about
        )

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.action_why()

    def action_why(self) -> None:
        """Open the why of the marked cell; a heading opens its criterion."""
        place = self._place
        label = self._label_lines.get(self.query_one(Strips).marked)
        if place is not None and label is not None:
            self._open_label(label, place)
        elif place is not None and place.maker is None:
            self._go(replace(self._view, criterion=place.criterion))
        elif place is not None and self._is_finding():
            self.app.push_screen(Why(self.desk, self._kept, self._view.comparison, place))

    def _open_label(self, line: "LabelLine", place: CellPlace) -> None:
        """Open one print of a label; the heading opens the list of them all."""
        if line.label is None:
            self._go(View(self._view.comparison, labels=True))
        else:
            about = CellPlace(line.graded, place.maker, line.label.format)
            self.app.push_screen(LabelWhy(self.desk, self._kept, self._view.comparison, line.label, about))

    def _is_heading(self, place: CellPlace) -> bool:
        """Say whether the marked line is a heading, which no maker's card and no photos belong to."""
        if place.maker is None:
            self.say(
                "this line is a heading: Enter opens its criterion, and the lines there are makers", problem=True
            )
        return place.maker is None

    def _is_finding(self) -> bool:
        """Say whether there is something to explain, and if not, why."""
        strips = self.query_one(Strips)
        if not self._lines[strips.marked].cells:
            self.say(OF_LABEL if strips.marked in self._label_lines else APART, problem=True)
            return False
        cell = self._lines[strips.marked].cells[strips.chosen]
        if cell.standing is None:
            self.say(f"{cell.words}: there is nothing to explain", problem=True)
        return cell.standing is not None

    def action_photos(self) -> None:
        """Show the photos behind the marked cell."""
        place = self._place
        if place is None or self._is_heading(place):
            return
        if self._is_finding():
            self.work(partial(open_photos, self, self._kept, self._view.comparison, place), instead_of="photos")

    def action_format(self, step: int) -> None:
        """Speak of the next format, or of the one before."""
        strips = self.query_one(Strips)
        strips.choose(strips.chosen + step)
        if self._shown is not None and self._drawn is not None:
            self._show(self._drawn[0], self._shown)

    def action_maker(self) -> None:
        """Show the card of the marked maker over all criteria; from there, the marked criterion at all makers."""
        place = self._place
        if place is None or self._is_heading(place):
            return
        if self._view.maker is None:
            self._go(View(self._view.comparison, maker=place.maker))
        else:
            self._go(View(self._view.comparison, criterion=place.criterion))

    # Criterion, comparison, back

    def action_criterion(self) -> None:
        """Choose a criterion, or all of them."""
        if self._shown is not None:
            ask_criterion(self, self._shown.criteria, self._view.criterion, self._take_criterion)

    def _take_criterion(self, key: str | None) -> None:
        if key is not None:
            self._go(View(self._view.comparison, criterion=key or None))

    def action_turn(self, step: int) -> None:
        """Show the next criterion, or the one before."""
        if self._shown is not None and self._shown.criteria:
            known = [None, *(key for key, _ in self._shown.criteria)]
            place = known.index(self._view.criterion) if self._view.criterion in known else 0
            self._go(View(self._view.comparison, criterion=known[(place + step) % len(known)]), back=False)

    def action_comparison(self) -> None:
        """Choose a comparison, or everything tested."""
        if self._shown is not None:
            ask_comparison(self, self._shown.comparisons, self._view.comparison, self._take_comparison)

    def _take_comparison(self, key: str | None) -> None:
        if key is not None:
            self._go(replace(self._view, comparison=key or None))

    def action_back(self) -> None:
        """Stop what is said to be worked on, or show what was there before."""
        if self.stopped():
            return
        if self._before:
            self._go(self._before.pop(), back=False)
        elif self._over:
            self.action_leave()
        else:
            self.stop_filling()


def _same(lines: "Sequence[BoardLine]", spoken: CellPlace | None) -> int:
    """Return the line about the criterion and maker spoken of before, else that criterion's heading, or the first."""
    for maker in (spoken.maker, None) if spoken else ():
        for number, line in enumerate(lines):
            if (line.criterion, line.maker) == (spoken and spoken.criterion, maker):
                return number
    return 0


def _found_in(lines: "Sequence[BoardLine]", place: int) -> str:
    """Return how often each mark of a finding stands in a format, as in ``3 ///``."""
    marks = [line.cells[place].mark for line in lines if line.cells]
    told = [(marks.count(MARKS[one]), MARKS[one]) for one in (Standing.SETTLED, Standing.TO_CONFIRM)]
    return " ".join(f"{count} {mark}" for count, mark in told if count)


def _panel(cell: "BoardCell") -> Panel:
    return Panel(cell.strip, cell.counts, cell.mark, cell.told, cell.short)


def _in_view(board: "Board", view: View, chosen: int, width: int) -> list["BoardLine"]:
    """Return the lines to show: of all criteria, where one format fits, those that were tested in it."""
    one_fits = Fit.into(width, len(board.formats), NAMES[False]).panels == 1
    if not one_fits or view.criterion or view.maker:
        return [*board.lines]
    return [line for line in board.lines if not line.cells or line.cells[chosen].counts]
