"""The bench: the sheets at work, one of them under the hands, and what lies beside it."""

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Horizontal
from textual.widgets import ContentSwitcher

from qcledger.bench import sheets, wishes
from qcledger.bench.atwork import AtWork
from qcledger.bench.offer import offer
from qcledger.bench.runsheet import RunSheet, Walk
from qcledger.bench.timers import is_counted
from qcledger.bench.worked import of_session
from qcledger.screens import keys
from qcledger.screens.bench.beside import BesideSheet
from qcledger.screens.bench.closing import Closing
from qcledger.screens.bench.conditions import ask_conditions
from qcledger.screens.bench.forms import BeginForm, PaperForm
from qcledger.screens.bench.pulse import Pulse
from qcledger.screens.bench.sheetlist import SheetList
from qcledger.screens.bench.sheetmap import MapOfSheet
from qcledger.screens.bench.tester import Measured
from qcledger.screens.bench.view import SheetView
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import NoteBox, Words
from qcledger.screens.page import Page
from qcledger.screens.shown import shown_moment
from qcledger.vocab import Censored

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

WITHOUT_SHEET: Final = frozenset({"begin", "sheets", "plan", "pour", "tester", "undo"})
"""Actions of this page that need no sheet at work."""


class Bench(BesideSheet):
    """A run sheet at work: by specimen or by test, through its stages."""

    KEY = "bench"
    TITLE = "Bench"
    CSS_PATH = "bench.tcss"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("bench"))
    _OWN: ClassVar[frozenset[str]] = frozenset(action.call.partition("(")[0] for action in keys.actions_of("bench"))

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._wanted: str | None = None
        self._of_paper = ""
        self._wants_list = False
        """Whether the list of sheets was asked for: help read there opens none behind it."""
        self._works: dict[tuple[str, str], AtWork[RunSheet]] = {}

    def body(self) -> ComposeResult:
        """Lay out the list of sheets and the sheet at work, one of which is shown."""
        with ContentSwitcher(initial="sheets"):
            yield SheetList(id="sheets")
            with Horizontal(id="at_work"):
                yield SheetView(self.desk)
                yield MapOfSheet(id="map")

    def on_mount(self) -> None:
        """Name the keys there are before any sheet is open."""
        self.foot([], "begin", "plan", "tester")

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Let keys that need a sheet do nothing without one, so that digits open pages then."""
        return self.atwork is not None or action in WITHOUT_SHEET or action not in self._OWN

    def on_screen_suspend(self) -> None:
        """Coming back from another page goes on with the sheet."""
        if isinstance(self.app.screen, Page):
            self._wants_list = False

    # Sheets

    @property
    def waits_for_fill(self) -> bool:
        """Whether keys wait: also until another sheet has come that was asked for."""
        return self._wanted is not None or super().waits_for_fill

    async def fill(self) -> None:
        """Show the sheet at work; without one the sheets there are, or the only one."""
        if self._wanted is not None:
            await self._open(self._wanted)
        elif self.atwork is None:
            await self._list(open_only=not self._wants_list)
        else:
            await self.read_again(self.atwork)

    def arrive(self, subject: str) -> None:
        """Open the sheet of the session with this id."""
        self._wanted = subject
        self.work(self.fill, instead_of="fill")

    async def _list(self, *, open_only: bool = False) -> None:
        found = await self.desk.read(sheets.open_sheets, after_saves=True)
        if open_only and len(found) == 1:
            await self._open(found[0].session.id)
            return
        self.atwork = None
        self.query_one(ContentSwitcher).current = "sheets"
        self.query_one(SheetList).show(found)
        self.head(f"{len(found)} sheet{'' if len(found) == 1 else 's'} open" if found else "no sheet open")
        self.foot([("Enter", "open")] if found else [], "begin", "plan", "tester")

    async def _open(self, session: str, stage: str | None = None, walk: Walk = Walk.BY_SPECIMEN) -> None:
        def load(ledger: "Ledger") -> tuple[RunSheet, str]:
            return sheets.load(ledger, session, stage), ledger.daybook.tester

        sheet, tester = await self.desk.read(load, after_saves=True)
        self._wanted = None  # only now: a fill that another one replaces must leave it to be found
        self._wants_list = False
        if sheet.session.closed_at is not None:
            self.open_asked(Closing(self.desk, session))
            return
        self.came_from = None
        self.atwork = self._at(sheet, tester, walk)
        self.query_one(ContentSwitcher).current = "at_work"
        self.set_focus(None)
        self.foot()
        self.show()
        self._warn_of_early()
        if self._of_paper:
            self.say(self._of_paper)
            self._of_paper = ""

    def _at(self, sheet: RunSheet, tester: str, walk: Walk) -> AtWork[RunSheet]:
        """Return a sheet at work; one that was at work before keeps what can be taken back."""
        key = sheet.session.id, sheet.stage
        if (known := self._works.get(key)) is not None:
            known.reopen(sheet, walk)
            return known
        work = AtWork(sheet, tester=tester, now=self.desk.now, new_id=self.desk.new_id, walk=walk)
        self._works[key] = work
        return work

    def _warn_of_early(self) -> None:
        """Say when the stage at work is due, if that is still to come."""
        row = self.atwork.sheet.stage_row if self.atwork is not None else None
        due = row.due_at if row is not None and row.started_at is None else None
        if row is not None and due is not None and due > self.desk.now():
            at = shown_moment(due, self.desk.settings, self.desk.zone)
            self.say(f"early: the stage {row.name} is due at {at}; s goes on to the next stage", problem=True)

    @on(SheetList.Opened)
    def _opened(self, message: SheetList.Opened) -> None:
        message.stop()
        self.work(partial(self._open, message.session), instead_of="fill", holds=True)

    def action_sheets(self) -> None:
        """Show the list of sheets at work."""
        self.stay()
        self._wants_list = True
        self.work(self._list, instead_of="fill", holds=True)

    def action_stage(self) -> None:
        """Go to the stage after this one, and from the last to the first."""
        if self.atwork is not None:
            self.stay()
            sheet = self.atwork.sheet
            names = sheet.order
            onward = names[(names.index(sheet.stage) + 1) % len(names)]
            self.work(partial(self._go_on, sheet.session.id, onward, self.atwork.walk), instead_of="fill", holds=True)

    async def _go_on(self, session: str, stage: str, walk: Walk) -> None:
        """Open another stage, and say what is not noted of its conditions yet."""
        await self._open(session, stage, walk)
        if self.atwork is None:
            return
        here = self.atwork.sheet.session
        titles = (await self.desk.read(lambda ledger: of_session(ledger, here))).titles
        row = self.atwork.sheet.stage_row
        gone = [word for field, word in titles.items() if getattr(row, field, None) is None]
        if gone:
            self.mention(f"not noted at the stage {stage}: {', '.join(gone)}; h notes them")

    def action_close_session(self) -> None:
        """Show what is to be looked at before the session of the sheet at work is closed."""
        if self.atwork is not None:
            session, self.atwork = self.atwork.sheet.session.id, None
            self.app.push_screen(Closing(self.desk, session))

    def action_tester(self) -> None:
        """Show how good the tester is."""
        self.stay()
        self.app.push_screen(Measured(self.desk))

    # Forms

    def action_begin(self) -> None:
        """Ask what a new sheet is to hold, and begin it."""
        self.stay()
        self.work(self._begin)

    async def _begin(self) -> None:
        offered = await self.desk.read(partial(offer, rubric=self.desk.rubric), after_saves=True)

        async def save(typed: Mapping[str, str]) -> str:
            asking = wishes.Asking(self.desk.settings, self.desk.now(), self.desk.new_id(), wishes.new_seed())
            begun = await self.desk.save(lambda ledger: wishes.begin(typed, ledger, asking))
            self.saved()
            self._of_paper = begun.wish.plan.said
            return begun.laid.sessions[0].id

        def begun(session: str | None) -> None:
            if session is not None:
                self.arrive(session)

        self.app.push_screen(BeginForm(offered, save), begun)

    def action_paper(self) -> None:
        """Take in a filled paper sheet."""
        work = self.atwork
        if work is None or work.place is None:
            return
        self.stay()

        async def save(line: int, text: str) -> str:
            written = work.type_line(line, text)
            self.noted(work, len(written))
            await self.save(work, written)
            return f"saved {self.clock_time}"

        titles = [criterion.title for criterion in work.sheet.criteria.values()]
        labels = [work.sheet.label(line) for line in range(len(work.sheet.lines))]
        self.app.push_screen(PaperForm(titles, labels, save), lambda _: self.show())

    # Readings, beat and timers

    def action_beat(self) -> None:
        """Start the beat, or stop it and take its count as the reading."""
        pulse, work = self.query_one(Pulse), self.atwork
        if work is None or work.place is None or not self.meant("space"):
            return
        self.stay()
        if pulse.beat is not None:
            self._stop_beat()
            return
        if work.settled:
            work.advance()
        reading = work.sheet.criteria[work.here.criterion].reading
        if reading is None or not is_counted(reading.unit):
            self.say("nothing here is counted by the second; r types a reading, t starts a timer", problem=True)
            return
        pulse.start(reading.unit, reading.stop_at)
        self.show()

    def _stop_beat(self) -> None:
        beat = self.query_one(Pulse).stop()
        if beat is not None:
            self._take_reading(lambda: beat.reading(self.desk.clock()))

    @on(Pulse.Over)
    def _over(self) -> None:
        """Take the reading when the test reaches its stop."""
        self.app.bell()
        self._stop_beat()

    def _take_reading(self, take: Callable[[], tuple[float, Censored]]) -> None:
        """Keep a reading for the grade to come; the sheet shows what it proposes."""

        def keep(work: AtWork[RunSheet]) -> None:
            work.read(*take())

        self.write(keep)

    def action_timer(self) -> None:
        """Start or stop the timer of this specimen and test."""
        if self.atwork is not None and self.atwork.place is not None and self.meant("t"):
            sheet, here = self.atwork.sheet, self.atwork.here
            name = f"{sheet.label(here.line)} {sheet.criteria[here.criterion].title}"
            running = self.query_one(Pulse).toggle_timer(name)
            self.say(f"timer {'started' if running else 'stopped'}: {name}")

    # Notes, cautions

    def action_note(self) -> None:
        """Write a note to the grade that stands, or to the one to come; a draft left behind is taken up again."""
        work = self.atwork
        if work is None or work.place is None:
            return
        self.stay()
        place, drafts = work.here, self.desk.drafts
        name = f"note {work.sheet.lines[place.line].row.id} {place.criterion}"
        stands = work.note or work.sheet.result(place).note

        async def keep(note: str) -> None:
            if note != stands and self.atwork is work:
                work.go(place)
                written = work.annotate(note)
                self.show()
                if written is None:  # the draft stays until there is a grade to write it to
                    return
                self.noted(work)
                await self.save(work, (written,))
            drafts.drop(name)

        def kept(note: str | None) -> None:
            if note is not None:
                self.work(partial(keep, note))

        title = f"Note: {work.sheet.criteria[place.criterion].title}, {work.sheet.label(place.line)}"
        self.app.push_screen(NoteBox(title, drafts.get(name) or stands, partial(drafts.keep, name), stands), kept)

    def action_amend(self) -> None:
        """Amend what stands at the place at work, with a reason, a photo or a note; by its code while blind."""
        from qcledger.screens.record.amend import Amend

        work = self.atwork
        if work is None or work.place is None:
            return
        self.stay()
        seen = work.sheet.seen.get(work.here)
        if seen is None:
            self.say("nothing stands here yet; a digit grades it", problem=True)
        else:
            self.app.push_screen(Amend(self.desk, seen.id))

    def action_conditions(self) -> None:
        """Note or amend what the stage at work is worked under."""
        if self.atwork is not None:
            self.stay()
            sheet = self.atwork.sheet
            self.work(partial(ask_conditions, self, sheet.session.id, sheet.stage))

    def action_cautions(self) -> None:
        """Show every caution of the sheet in full."""
        if self.atwork is not None:
            self.app.push_screen(Words("Cautions of this sheet", self.atwork.sheet.cautions))
