"""Findings: what is settled first, one line an accusation; then what is common, to confirm, of labels, and open."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.records.finding_key import FindingKey
from qcledger.screens import keys
from qcledger.screens.actions import LINE_KEYS
from qcledger.screens.desk import Desk
from qcledger.screens.findings.asking import CellPlace, View
from qcledger.screens.findings.choose import FilteredRows, ask_comparison, ask_criterion
from qcledger.screens.findings.labelwhy import LabelWhy
from qcledger.screens.findings.page import FindingsPage
from qcledger.screens.findings.photos import open_photos
from qcledger.screens.findings.why import Why
from qcledger.screens.findings.workedout import WorksBeside
from qcledger.screens.widgets.fields import Field
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.screens.widgets.wrapped import Wrapped, in_lines
from qcledger.thing import worded

if TYPE_CHECKING:
    from threading import Event

    from qcledger.ledger import Ledger
    from qcledger.report.kept import KeptFindings
    from qcledger.report.opening import OpeningLine

COLUMNS: Final = (Column("key", 3), Column("", 3), Column("what is found", 18, grows=True))
BESIDE: Final = 14
"""Cells of a line that its words do not get: key, mark, what stands between, and the edges."""
NOTHING_FOUND: Final = "no line has all these words; Esc shows every one again"
HEADING: Final = "this line is a heading: mark a line below it"
ALL_CELLS: Final = "no judgement yet: a shows every criterion with its counts"


@dataclass(frozen=True, slots=True)
class Opened:
    """What the page shows: its lines, whose they are, and how many answers are still missing."""

    lines: "list[OpeningLine]"
    about: tuple[str, ...]
    comparison: str
    criteria: list[tuple[str, str]]
    comparisons: list[tuple[str, str]]
    missing: int


def opened(
    kept: "KeptFindings | None", comparison: str | None, labels: bool, stop: "Event", ledger: "Ledger"
) -> "tuple[KeptFindings, Opened]":
    """Return what the page shows, computed again if the ledger has changed; runs in the reading thread."""
    from qcledger.report.board import about_all, criteria_of
    from qcledger.report.kept import KeptFindings, comparisons
    from qcledger.report.opening import opening_lines

    mine = kept or KeptFindings()
    reading = mine.reading(ledger, comparison, stop)
    known = comparisons(ledger)
    lines = opening_lines(reading.found, reading.label_facts if labels else (), reading.open)
    title = dict(known).get(comparison or "", "all comparisons")
    about = tuple(filter(None, about_all(reading.found)))
    return mine, Opened(lines, about, title, criteria_of(reading.found), known, reading.open)


class FindingsOpening(WorksBeside):
    """Where Findings opens: every line is one thing to say, and Enter opens why."""

    KEY = "opening"
    TELLS_MARKED = True
    TITLE = "Findings"
    CSS_PATH = "findings.tcss"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("opening"))

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._comparison: str | None = None
        self._words: tuple[str, ...] = ()
        self._opened: Opened | None = None
        self._lines: list[OpeningLine] = []
        self._rows: list[Row] = []

    def body(self) -> ComposeResult:
        """Lay out the line to filter by, the list, and words for an empty one."""
        yield Field("filter", "filter", hint=worded("words of maker, paint, lot, fault, standing"))
        yield Wrapped(3, id="none")
        yield FilteredRows(COLUMNS, self._load)  # letters are keys of the page, none moves the mark

    def on_mount(self) -> None:
        """Begin in the list."""
        self.query_one(Rows).focus()

    async def fill(self) -> None:
        """Show what is found; what labels say is asked for apart, so that the rest need not wait for it."""
        for labels in (False, True):
            ask = partial(opened, self._kept, self._comparison, labels)
            self._kept, found = await self.asked(ask)
            if labels or self._opened is None or not self._opened.lines:
                self._opened, self._missing = found, found.missing
                self._show()
        await self.go_on(self._missing)

    def _show(self) -> None:
        """Show the lines that have every word, each whole, with the mark where it was."""
        from qcledger.report.opening import matching

        if self._opened is None:
            return
        rows, marked = self.query_one(Rows), self._marked
        self._lines = matching(self._opened.lines, self._words)
        self._rows = [*self._drawn(max(self.size.width - BESIDE, 10))]
        first = next((n for n, row in enumerate(self._rows) if not row.faint), 0)
        again = self._lines.index(marked) if marked in self._lines else -1
        rows.show(len(self._rows), marked=next((n for n, r in enumerate(self._rows) if r.id == str(again)), first))
        empty = NOTHING_FOUND if self._words else ALL_CELLS
        self.query_one("#none", Wrapped).show("" if self._lines else empty)
        self.head(self._opened.comparison, *self._opened.about)
        self.say_what_is_shown()

    def _drawn(self, width: int) -> Iterator[Row]:
        """Yield each line in full; its key stands on the first of its rows, and means all of them."""
        free = iter(LINE_KEYS)
        for number, line in enumerate(self._lines):
            key = "" if line.is_heading else next(free, "")
            for place, words in enumerate(in_lines(line.words, width + (4 if line.is_heading else 0))):
                cells = (words,) if line.is_heading else ("" if place else key, "" if place else line.mark, words)
                yield Row(str(number), ("", "", words) if line.is_heading else cells, line.is_heading)

    def say_what_is_shown(self) -> None:
        """Say how far the work beside the page is, else nothing, and name the keys."""
        if not self.say_how_far():
            self.mention("")
        self.foot([*self.goes_on, *keys.foot(self.KEY, self.desk.settings.keys)])

    def on_resize(self) -> None:
        """Break the lines anew."""
        if self._opened is not None:
            self.call_after_refresh(self._show)

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        return self._rows[first : first + most]

    # Filtering

    def action_filter(self) -> None:
        """Go to the line to filter by."""
        self.query_one(Field).focus_input()

    @on(Field.Changed)
    def _typed(self, message: Field.Changed) -> None:
        message.stop()
        self._words = tuple(message.value.casefold().split())
        self._show()

    @on(Field.Entered)
    def _entered(self, message: Field.Entered) -> None:
        message.stop()
        self.query_one(Rows).focus()

    def action_back(self) -> None:
        """Stop what is being worked on, or show every line again."""
        if self.stopped():
            return
        if self._words:
            self.query_one(Field).value = ""
            self.query_one(Rows).focus()
        else:
            self.stop_filling()

    def arrive(self, subject: str) -> None:
        """Open why of the finding with this key."""
        about = FindingKey.read(subject)
        self.open_asked(Why(self.desk, None, None, CellPlace(about.criterion, about.maker, about.format)))

    # The marked line

    @property
    def _marked(self) -> "OpeningLine | None":
        row = self.query_one(Rows).row
        number = int(row.id) if row is not None else -1
        return self._lines[number] if 0 <= number < len(self._lines) else None

    @property
    def spoken_of(self) -> CellPlace | None:
        """The finding that keys speak of."""
        line = self._marked
        return CellPlace(*line.about) if line is not None and line.about is not None else None

    @property
    def asked_in(self) -> str | None:
        """The comparison that is shown."""
        return self._comparison

    def why_not(self) -> str:
        """Say that a heading has no maker."""
        return "" if self.spoken_of is not None else HEADING

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self._open_why(self._lines[int(message.row.id)])

    def action_why(self) -> None:
        """Open the why of the marked line."""
        self.query_one(Rows).action_pick()

    def action_line(self, number: int) -> None:
        """Open the why of the line with this key."""
        every = [line for line in self._lines if not line.is_heading]
        if number < len(every):
            self._open_why(every[number])

    def works(self, verb: str) -> bool:
        """Whether there is a line with this key."""
        word, _, key = verb.partition("_")
        return word != "line" or LINE_KEYS.index(key) < sum(not line.is_heading for line in self._lines)

    def _open_why(self, line: "OpeningLine") -> None:
        if line.about is None:
            self.say(HEADING, problem=True)
        elif line.label is not None:
            about = CellPlace(*line.about)
            self.app.push_screen(LabelWhy(self.desk, self._kept, self._comparison, line.label, about))
        else:
            self.app.push_screen(Why(self.desk, self._kept, self._comparison, CellPlace(*line.about)))

    def action_photos(self) -> None:
        """Show the photos behind the marked line."""
        place, line = self.spoken_of, self._marked
        if place is None or line is None or line.label is not None:
            self.say(HEADING if place is None else "Enter opens this label, and p there its photos", problem=True)
            return
        self.work(partial(open_photos, self, self._kept, self._comparison, place), instead_of="photos")

    # Other views

    def _cells(self, view: View) -> None:
        self.app.push_screen(FindingsPage(self.desk, self, view))

    def action_cells(self) -> None:
        """Show all cells by criterion."""
        self._cells(View(self._comparison))

    def action_maker(self) -> None:
        """Show the card of the marked maker over all criteria."""
        if self.spoken_of is None:
            self.say(HEADING, problem=True)
        else:
            self._cells(View(self._comparison, maker=self.spoken_of.maker))

    def action_criterion(self) -> None:
        """Choose a criterion, and show it at every maker."""
        if self._opened is not None:
            place = self.spoken_of
            ask_criterion(self, self._opened.criteria, place.criterion if place else None, self._take_criterion)

    def _take_criterion(self, key: str | None) -> None:
        if key is not None:
            self._cells(View(self._comparison, criterion=key or None))

    def action_comparison(self) -> None:
        """Choose a comparison, or everything tested."""
        if self._opened is not None:
            ask_comparison(self, self._opened.comparisons, self._comparison, self._take_comparison)

    def _take_comparison(self, key: str | None) -> None:
        if key is not None and (key or None) != self._comparison:
            self._comparison = key or None
            self.work(self.fill, instead_of="fill")
