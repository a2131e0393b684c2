"""How a sheet at work looks: what is judged, its ladder, what stands, and the cautions of the whole sheet."""

from datetime import datetime
from typing import TYPE_CHECKING, Final

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.geometry import Size
from textual.widget import Widget

from qcledger.bench.atwork import AtWork
from qcledger.bench.runsheet import RunSheet, SheetSquare, Walk
from qcledger.bench.timers import clock, is_counted
from qcledger.screens.bench.pulse import Pulse
from qcledger.screens.desk import Desk
from qcledger.screens.shown import shown_line, shown_number, shown_reading, shown_result
from qcledger.screens.widgets.ladder import Ladder, LadderOfAnchors
from qcledger.screens.widgets.wrapped import Wrapped, share
from qcledger.settings import Settings
from qcledger.text import one_line, shorten

if TYPE_CHECKING:
    from qcledger.rubric import Criterion

AIR: Final = 2
"""Empty lines around the ladder, where there is room for them."""
LEAST: Final = (3, 1)
"""Lines that the instruction and the cautions keep."""


def ladder_of(work: AtWork[RunSheet]) -> Ladder:
    """Return the ladder of the criterion at work, with what stands and what is proposed."""
    criterion = work.sheet.criteria[work.here.criterion]
    stands = work.sheet.result(work.here)
    if criterion.choices:
        words = list(criterion.choices)
        rungs = {float(n): f"{word}: {criterion.choices[word]}" for n, word in enumerate(words, 1)}
        return Ladder(rungs, chosen=float(words.index(stands.choice) + 1) if stands.choice in words else None)
    return Ladder(criterion.anchors, stands.grade, work.proposed, criterion.fault_line)


def instruction(sheet: RunSheet, criterion: "Criterion") -> str:
    """Return how a test is done; at a later stage than the first, what is looked at stands before what was laid."""
    if not criterion.look or not criterion.put_down or sheet.stage in sheet.order[:1]:
        return criterion.how
    return f"Look: {criterion.look} Laid before: {' '.join(criterion.put_down)}"


def caution_line(sheet: RunSheet, criterion: "Criterion") -> str:
    """Return what to mind here in a line; before anything was judged, the rules of the sheet in full behind it."""
    line = sheet.to_mind.line(criterion)
    if sheet.is_fresh:
        return " ".join((f"{line}." if line else "", *sheet.to_mind.rules)).strip()
    return f"{line}; ! reads the rules" if line and sheet.to_mind.rules else line or "! reads the rules of this sheet"


def pulse_text(work: AtWork[RunSheet], settings: Settings) -> str:
    """Return what the line of the beat says while no beat runs."""
    criterion = work.sheet.criteria[work.here.criterion]
    stands = work.sheet.result(work.here)
    if criterion.reading is None:
        return ""
    unit = criterion.reading.unit
    if work.pending is not None:
        taken = f"{shown_reading(work.pending, settings)} {unit}"
        if work.proposed is None:
            return f"{taken}: a digit grades it"
        return f"{taken}: proposes {shown_number(work.proposed, settings)}, Enter takes it"
    if stands.reading is not None:
        return f"{shown_reading(stands, settings)} {unit}"
    return f"{unit}: space counts, r types" if is_counted(unit) else f"{unit}: r types a reading"


class BenchMarks(Widget):
    """What stands beside the place at work: the tests of one specimen, or one test of every specimen."""

    DEFAULT_CSS = """
    BenchMarks { height: auto; max-height: 4; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._marks: list[tuple[str, bool]] = []

    def show(self, work: AtWork[RunSheet], settings: Settings) -> None:
        """Show the marks of the group at work."""
        sheet, here = work.sheet, work.here
        if work.walk is Walk.BY_SPECIMEN:
            group = [SheetSquare(here.line, key) for key in sheet.criteria if sheet.asks(SheetSquare(here.line, key))]
            names = [one_line(sheet.criteria[place.criterion].title) for place in group]
        else:
            group = [SheetSquare(line, here.criterion) for line in range(len(sheet.lines))]
            group = [place for place in group if sheet.asks(place)]
            names = [one_line(sheet.label(place.line)) for place in group]
        self._marks = [
            (f"{name} {shown_result(sheet.result(place), settings)}", place == here)
            for name, place in zip(names, group, strict=True)
        ]
        self.refresh(layout=True)

    def _rows(self, width: int) -> list[list[tuple[str, bool]]]:
        rows: list[list[tuple[str, bool]]] = [[]]
        used = 0
        for text, here in self._marks:
            if rows[-1] and used + len(text) + 3 > width:
                rows.append([])
                used = 0
            rows[-1].append((shorten(text, width), here))
            used += len(text) + 3
        return rows

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the lines the marks take."""
        return len(self._rows(max(width, 1)))

    def render(self) -> Content:
        """Return the marks, the one at work in square brackets."""
        lines = []
        for row in self._rows(max(self.size.width, 1)):
            parts = [shown_line(f"[{text}]", "bold $ink") if here else shown_line(text) for text, here in row]
            lines.append(Content("  ").join(parts))
        return Content("\n").join(lines)


class TopLine(Widget):
    """One line with something on the left and something on the right; the left is never cut for the right."""

    DEFAULT_CSS = """
    TopLine { height: 1; }
    """

    def __init__(self, *, id: str) -> None:  # noqa: A002
        super().__init__(id=id)
        self._left = self._right = ""

    def show(self, left: str, right: str) -> None:
        """Show other words."""
        self._left, self._right = one_line(left), one_line(right)
        self.refresh()

    def render(self) -> Content:
        """Return the line."""
        width = self.size.width
        left = shorten(self._left, width)
        right = self._right if len(left) + len(self._right) + 2 <= width else ""
        return Content.assemble((left, "bold"), " " * (width - len(left) - len(right)), right)


class SheetView(Vertical):
    """A sheet at work, from what is judged down to the cautions."""

    DEFAULT_CSS = """
    SheetView { height: 1fr; overflow: hidden; }
    SheetView > LadderOfAnchors { margin-top: 1; margin-bottom: 1; }
    SheetView > #how { color: $faint; }
    SheetView > #cautions { color: $warning; dock: bottom; }
    SheetView.-empty > * { display: none; }
    SheetView.-tight > LadderOfAnchors { margin: 0; }
    """

    def __init__(self, desk: Desk) -> None:
        super().__init__(id="sheet")
        self._desk = desk
        self._work: AtWork[RunSheet] | None = None

    def compose(self) -> ComposeResult:
        """Lay out the parts of the sheet."""
        yield TopLine(id="label")
        yield TopLine(id="criterion")
        yield Wrapped(2, id="how")
        yield Pulse(self._desk.clock, bell=self._desk.settings.bell)
        yield LadderOfAnchors()
        yield BenchMarks()
        yield Wrapped(3, id="cautions", more="(! reads on)")

    def on_mount(self) -> None:
        """Let the time of the stage go on."""
        self.set_interval(1, self._show_time)

    def _show_time(self) -> None:
        if self._work is not None and self._work.place is not None and self.screen.is_current:
            sheet, line = self._work.sheet, self._work.here.line
            label = f"{sheet.label(line)}   {line + 1} of {len(sheet.lines)}"
            self.query_one("#label", TopLine).show(label, since(self._work, self._desk.now()))

    def show(self, work: AtWork[RunSheet]) -> None:
        """Show the place at work; a stage with nothing to judge leaves its place empty."""
        self._work = work
        self.set_class(work.place is None, "-empty")
        if work.place is None:
            return
        settings = self._desk.settings
        criterion = work.sheet.criteria[work.here.criterion]
        keys = list(work.sheet.criteria)
        count = f"{keys.index(criterion.key) + 1} of {len(keys)}"
        self._show_time()
        self.query_one("#criterion", TopLine).show(self._named(work, criterion.title), count)
        self.query_one("#how", Wrapped).show(instruction(work.sheet, criterion))
        self.query_one(Pulse).say(pulse_text(work, settings))
        self.query_one(LadderOfAnchors).show(ladder_of(work))
        self.query_one(BenchMarks).show(work, settings)
        line = caution_line(work.sheet, criterion)
        self.query_one("#cautions", Wrapped).show(f"! {line}" if line else "")
        self._share_lines()

    def _share_lines(self) -> None:
        """Give the instruction and the cautions every line that is left; air around the ladder goes first."""
        size, screen = self.size, self.screen.size
        fixed = 3 + sum(
            self.query_one(kind).get_content_height(size, screen, size.width)
            for kind in (LadderOfAnchors, BenchMarks)
        )
        how, cautions = self.query_one("#how", Wrapped), self.query_one("#cautions", Wrapped)
        whole = share(size.height - fixed - AIR, size.width, how, cautions, LEAST)
        self.set_class(not whole, "-tight")
        if not whole:
            share(size.height - fixed, size.width, how, cautions, LEAST)

    def _named(self, work: AtWork[RunSheet], title: str) -> str:
        """Return the criterion's line; where there is no room for ladder and cautions it stands for them."""
        if not self.screen.has_class("-low"):
            return f"{title}   {self._at(work)}"
        caution = "! " if work.sheet.cautions else ""
        return f"{caution}{shown_result(work.sheet.result(work.here), self._desk.settings)} {title}"

    def on_resize(self) -> None:
        """Say what there is room for."""
        if self._work is not None:
            self.show(self._work)

    def _at(self, work: AtWork[RunSheet]) -> str:
        """Return what beside the ladder tells that this place is not open: its note, or why it was not testable."""
        stands = work.sheet.result(work.here)
        why = f"not testable: {stands.not_testable}" if stands.not_testable and not stands.is_open else ""
        note = work.note or stands.note
        return "   ".join(part for part in (why, f"note: {note}" if note else "") if part)


def since(work: AtWork[RunSheet], now: datetime) -> str:
    """Return how blind the place at work is, and how long its stage has been at work in this sitting."""
    row = work.sheet.stage_row
    begun = max(row.started_at, work.opened_at) if row is not None and row.started_at is not None else None
    blind = _blind(work.sheet, work.here) if work.sheet.is_blind else ""
    return ", ".join(part for part in (blind, clock((now - begun).total_seconds()) if begun else "") if part)


def _blind(sheet: RunSheet, here: SheetSquare) -> str:
    """Return how blind a sheet is, or why this test cannot be."""
    from qcledger.rubric.handled import not_blind  # loaded long before: the sheet's criteria come from there

    why = not_blind(sheet.criteria[here.criterion], {line.specimen.format for line in sheet.lines})
    return f"not blind here: {why}" if why else f"blind, {sheet.session.blinding}"
