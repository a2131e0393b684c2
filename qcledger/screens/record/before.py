"""Before a spreadsheet comes in: each row and what it would become, and bringing it in from there."""

from collections.abc import Iterable, Sequence
from functools import partial
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, ClassVar, Final, TypeVar

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.errors import Halted, bad
from qcledger.exchange.outlook import EVERYTHING, GRANTED, KINDS, Outlook
from qcledger.screens import keys
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import Ask, Words
from qcledger.screens.page import Page
from qcledger.screens.record.oneimport import OneImport, progress_on, reverse
from qcledger.screens.record.sheetrow import SheetRowPage
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.screens.widgets.typeline import TypeLine
from qcledger.screens.widgets.wrapped import Wrapped
from qcledger.text import one_line

if TYPE_CHECKING:
    from qcledger.exchange.account import RowTold
    from qcledger.exchange.plan import ImportPlan
    from qcledger.ledger import Ledger
    from qcledger.ledger.progress import Progress

T = TypeVar("T")

COLUMNS: Final = (
    Column("row", 6, right=True, need=2),
    Column("becomes", 17, need=1),
    Column("about", 16, grows=True, need=0),
    Column("cells", 12, grows=True, need=3),
)
LOOKING: Final = "looking at what it would bring; Esc stops"
BRINGING: Final = "bringing it in; Esc stops, and nothing is stored then"
ESC_STOPS: Final = "; Esc stops"
STOPPED: Final = "stopped, and nothing was stored"
AT_WORK: Final = "it is still at work; Esc stops it"
NO_MAP: Final = (
    "There is no map at {} yet: w writes a proposed one there, each line of it a guess to be checked in an editor."
)
WRITTEN: Final = (
    "Written to {}. Check it in an editor, put your decision where a ? stands, and come back: r looks again."
)
REFUSED: Final = "Nothing comes in while a row is refused or changed: mend the file or its map, then r."
READY: Final = "i brings it in, all of it or nothing; r looks again once file or map were changed."
CALLED_MOST: Final = 200
"""Most characters of what a sheet is called."""


class BeforeImport(Page):
    """What each row of a spreadsheet would become: new, already here, changed, refused, left out and why.

    Parameters
    ----------
    desk
        Where to ask and save.
    path, map_file
        The spreadsheet, and the file that says what its columns hold.
    """

    KEY = "before"
    TELLS_MARKED = True
    TITLE = "Before it comes in"
    CSS_PATH = "record.tcss"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("before"))

    def __init__(self, desk: Desk, path: Path, map_file: Path) -> None:
        super().__init__(desk)
        self._path, self._map = path, map_file
        self._called: str | None = None
        self._look: Outlook | None = None
        self._was_looked = False
        self._which = EVERYTHING
        self._rows: Sequence[RowTold] = ()
        self._granted: Sequence[str] = ()
        self._stop = Event()
        self._is_at_work = False

    @property
    def waits_for_fill(self) -> bool:
        """Keys mean the same while it is looked at: Esc stops that."""
        return False

    def body(self) -> ComposeResult:
        """Lay out what comes in altogether, the rows, and the marked one in words."""
        yield Wrapped(4, id="whole")
        yield Rows(COLUMNS, self._load)
        yield Wrapped(6, id="result", more="Enter shows all")

    def on_mount(self) -> None:
        """Begin in the list."""
        self.query_one(Rows).focus()

    async def fill(self) -> None:
        """Look at what would come in, once; r looks again."""
        if not self._was_looked:
            self._was_looked = True
            self.work(self._look_at_it, holds=False)

    # Looking

    async def _look_at_it(self) -> None:
        """Ask what the sheet would bring, as the ledger, the file and its map are now."""
        from qcledger.exchange.outlook import look_ahead

        self.head(self._path.name, *([self._called] if self._called else []))
        self._show(None, "")
        if not self._map.exists():
            self._tell(NO_MAP.format(self._map))
            return
        progress, settings = self._begin(LOOKING), self.desk.settings

        def ask(ledger: "Ledger") -> Outlook:
            return look_ahead(
                ledger, self._path, self._map, settings=settings, called=self._called, progress=progress
            )

        try:
            await self.desk.settled()  # what was asked to be saved counts; but no save waits for this
            look = await self.desk.read(ask)
        finally:
            self._is_at_work = False
        self._show(look, _altogether(look))
        self.say(REFUSED if look.plan is None else READY)

    def _begin(self, said: str) -> "Progress":
        """Note that something long is at work, and return what tells how far it is and lets it be stopped."""
        self._is_at_work = True
        self._stop.clear()
        self.say(said)
        return stoppable(progress_on(self, ESC_STOPS), self._stop)

    def _show(self, look: Outlook | None, words: str) -> None:
        self._look = look
        self._tell(words)
        self._list(EVERYTHING)

    def _tell(self, words: str) -> None:
        self.query_one("#whole", Wrapped).show(words)

    def _list(self, which: str) -> None:
        """List what there is of one kind, first what was taken for granted; the mark is on what is refused."""
        look, self._which = self._look, which
        self._rows = look.only(which) if look else ()
        self._granted = look.granted if look and which in (EVERYTHING, GRANTED) else ()
        if not (self._rows or self._granted):
            self.query_one("#result", Wrapped).show("")
        refused = next((n for n, row in enumerate(self._rows, len(self._granted)) if row.refusals), 0)
        self.query_one(Rows).show(len(self._granted) + len(self._rows), marked=refused)

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        numbers = range(first, min(first + most, len(self._granted) + len(self._rows)))
        return [Row(str(number), self._cells(number)) for number in numbers]

    def _cells(self, number: int) -> tuple[str, ...]:
        if number < len(self._granted):
            return "", GRANTED, self._granted[number], ""
        row = self._rows[number - len(self._granted)]
        why = "; ".join(row.refusals or row.reasons)
        return str(row.number), row.state, row.about or why, why if row.refusals else row.read or why

    @on(Rows.Marked)
    def _marked(self, message: Rows.Marked) -> None:
        """Tell the marked row in words: what is refused of it first."""
        message.stop()
        if message.row is not None:
            self.query_one("#result", Wrapped).show(self._words(int(message.row.id)))

    def _words(self, number: int) -> str:
        if number < len(self._granted):
            return f"Taken for granted: {self._granted[number]}"
        row = self._rows[number - len(self._granted)]
        others = [reason for reason in row.reasons if reason not in row.refusals]
        return "; ".join(filter(None, (row.line, *row.refusals, row.read, *others)))

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        number = int(message.row.id) - len(self._granted)
        if number < 0:
            self.app.push_screen(Words("Taken for granted", self._granted))
        else:
            self.app.push_screen(SheetRowPage(self.desk, self._path.name, self._rows, number))

    def action_open(self) -> None:
        """Open the marked row."""
        self.query_one(Rows).action_pick()

    def action_which(self) -> None:
        """List the next kind of rows of which there are any."""
        if self._look is None:
            self.say(AT_WORK if self._is_at_work else "no row was looked at yet", problem=True)
            return
        kinds = [kind for kind in KINDS if self._look.counts[kind]]
        self._list(kinds[(kinds.index(self._which) + 1) % len(kinds)] if self._which in kinds else EVERYTHING)
        shown = len(self._granted) + len(self._rows)
        self.say(f"{self._which}: {shown} of {self._look.counts[EVERYTHING]}")

    def action_again(self) -> None:
        """Look again."""
        if self._is_at_work:
            self.say(AT_WORK, problem=True)
        else:
            self.work(self._look_at_it, instead_of="looking", holds=False)

    def action_called(self) -> None:
        """Type what the sheet is called, and look again."""
        if self._is_at_work:
            self.say(AT_WORK, problem=True)
            return

        async def read(text: str) -> str:
            name = one_line(text)
            if not 0 < len(name) <= CALLED_MOST:
                raise bad("name", text, f"1 to {CALLED_MOST} characters")
            return name

        def take(name: str | None) -> None:
            if name is not None:
                self._called = name
                self.action_again()

        self.app.push_screen(TypeLine("What the sheet is called", read, self._called or self._path.name), take)

    def action_propose(self) -> None:
        """Write a proposed map to the file that was named; never over one that stands."""
        if self._is_at_work:
            self.say(AT_WORK, problem=True)
        else:
            self.work(self._propose)

    async def _propose(self) -> None:
        from qcledger.exchange.guess import write_proposed

        settings = self.desk.settings
        await self.desk.read(lambda _: write_proposed(self._path, settings, self._map))
        self._tell(WRITTEN.format(self._map))

    # Bringing in

    def action_bring_in(self) -> None:
        """Ask once more, then bring it in."""
        look = self._look
        if look is None or self._is_at_work:
            self.say(AT_WORK if self._is_at_work else "nothing was looked at yet", problem=True)
        elif look.plan is None:
            self.say(REFUSED, problem=True)
        elif not look.plan.records:
            self.say("nothing of it is new: every row is here already", problem=True)
        else:
            plan, question = look.plan, f"Bring in {self._path.name}: {_altogether(look)} All of it, as one act?"
            self.app.push_screen(Ask(question), lambda yes: self._bring_in(plan) if yes else None)

    def _bring_in(self, plan: "ImportPlan") -> None:
        self.work(partial(self._carry_out, plan), holds=False)

    async def _carry_out(self, plan: "ImportPlan") -> None:
        from qcledger.exchange.plan import carry_out

        progress = self._begin(BRINGING)
        self.save_state("...")
        try:
            await self.desk.save(lambda ledger: carry_out(ledger, plan, progress=progress), kept=False)
        except BaseException:
            self.save_state("not saved")
            raise
        finally:
            self._is_at_work = False
        sheets = plan.imports
        name = plan.source.name if len(sheets) == 1 else f"{len(sheets)} sheets"
        said = f"{name} came in: {_rows(plan.new_rows)} new; z takes all of it back"
        self.did(partial(_take_back, imports=[one.id for one in plan.imports]))
        self.app.switch_screen(OneImport(self.desk, plan.source.id, said))

    def action_leave(self) -> None:
        """Stop what is at work; else go back."""
        if self._is_at_work:
            self._stop.set()
            self.say("stopping ...")
        else:
            super().action_leave()


async def _take_back(page: Page, *, imports: Sequence[str]) -> str:
    """Take back what came in: each sheet of a file, the last one first."""
    said = [
        await reverse(page, import_=one, out=True, reason="undone", apart=set(), again="")
        for one in reversed(imports)
    ]
    return said[0] if len(said) == 1 else f"{len(said)} sheets are taken back"


def stoppable(progress: "Progress", stop: Event) -> "Progress":
    """Return progress that raises `Halted` before the next item once it is to stop."""

    def told(label: str, items: Sequence[T]) -> Iterable[T]:
        for item in progress(label, items):
            if stop.is_set():
                raise Halted(STOPPED)
            yield item

    return told


def _altogether(look: Outlook) -> str:
    """Return how many rows become what, and what would come in by tables."""
    kinds = [f"{count} {kind}" for kind, count in look.counts.items() if count and kind != EVERYTHING]
    said = f"Rows: {', '.join(kinds)}."
    if look.plan is not None and look.plan.records:
        tables = [f"{count} {table.replace('_', ' ')}" for table, count in look.plan.counts().items()]
        said += f" New in the ledger: {', '.join(tables)}."
    return said


def _rows(count: int) -> str:
    return f"{count} row" + "s" * (count != 1)
