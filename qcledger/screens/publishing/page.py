"""The page Publish: what is missing before an edition, what goes with it, what changed, and every edition so far."""

from collections.abc import Awaitable, Callable, Sequence
from functools import partial
from threading import Event
from typing import TYPE_CHECKING, ClassVar, Final

from textual import on
from textual.app import ComposeResult
from textual.binding import BindingType

from qcledger.public.missing import GapKind
from qcledger.screens import keys
from qcledger.screens.actions import DUE_KEYS
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import Ask, Words
from qcledger.screens.keptline import KeptLine
from qcledger.screens.messages import Go
from qcledger.screens.page import Page
from qcledger.screens.publishing import shelf
from qcledger.screens.publishing.shelf import BeforeEdition, ShelfLine, WithEdition
from qcledger.screens.publishing.writing import LOOKING, NOT_YET, WritesPages
from qcledger.screens.widgets.lines import SaidLine
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.screens.widgets.wrapped import Wrapped

if TYPE_CHECKING:
    from textual.timer import Timer

    from qcledger.ledger import Ledger
    from qcledger.report.beside import Beside
    from qcledger.report.kept import KeptFindings

COLUMNS: Final = (Column("key", 3), Column("", 22), Column("what it needs, or says", 20, grows=True))
LOOK_S: Final = 1.0
"""Seconds between looks at what is worked out beside the page."""
STOPPED: Final = "stopped; r looks again"
LEAD: Final = "Nothing is sent anywhere: the page is written to a file, and you put it where readers find it."


class PublishPage(WritesPages):
    """What is missing first; then what is printed with the edition, what changed, and the editions so far."""

    KEY = "publish"
    TITLE = "Publish"
    TELLS_MARKED = True
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("publish"))

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._stop = Event()
        """Ends looking at what is missing."""
        self._beside: Beside | None = None
        self._watch: Timer | None = None
        self._halted = False

    def body(self) -> ComposeResult:
        """Lay out what is said of the whole, the list, and the marked line in full."""
        yield Wrapped(2, id="lead")
        yield Rows(COLUMNS, self._load)
        yield Wrapped(4, id="whole")

    def on_mount(self) -> None:
        """Begin in the list."""
        self.query_one(Rows).focus()
        self.query_one("#lead", Wrapped).show(LEAD)
        self._watch = self.set_interval(LOOK_S, self._look_beside, pause=True)

    def on_unmount(self) -> None:
        """Leave no work behind."""
        self._stop.set()
        self._no_more.set()
        if self._beside is not None:
            self._beside.stop()

    def on_screen_suspend(self) -> None:
        """Stop the work of this page when another one comes to the front; a question in front of it stops nothing."""
        if isinstance(self.app.screen, Page):
            self._stop.set()
            self._no_more.set()

    @property
    def chapter(self) -> str:
        """The chapter of the guide that speaks of this page."""
        return "publishing"

    @property
    def waits_for_fill(self) -> bool:
        """Whether keys wait until it was filled: it may take long, and Esc stops that."""
        return False

    # What is shown

    async def fill(self) -> None:
        """Ask what is missing, and show it."""
        from qcledger.report.kept import KeptFindings, Stopped

        self._stop.set()
        stop = self._stop = Event()
        kept = self._kept = self._kept or KeptFindings()
        if self._shelf is None:
            self.say(LOOKING)

        def ask(ledger: "Ledger") -> BeforeEdition | None:
            try:  # drafts of windows before this one are there once the ledger was opened, and not before
                return shelf.look(kept, self._typed, stop, ledger)
            except Stopped:
                return None

        found = await self.desk.read(ask)
        if found is None:
            self.say(STOPPED)
            return
        self._show(found)
        if found.open and not self._halted:
            await self._begin_beside(kept)

    def _show(self, found: BeforeEdition) -> None:
        self._shelf = found
        rows = self.query_one(Rows)
        rows.show(len(found.lines), marked=min(rows.marked, max(len(found.lines) - 1, 0)))
        missing = f"{len(found.gaps)} missing" if found.gaps else "nothing missing"
        self.head(f"edition {found.number} next", f"{found.said} settled", missing)
        if self.query_one(SaidLine).said in (LOOKING, STOPPED, NOT_YET):
            self.say(self._state())

    def _state(self) -> str:
        if self._beside is not None and self._beside.running:
            return f"{self._beside.told}; Esc stops, r goes on"
        if self._shelf is not None and self._shelf.open:
            return NOT_YET
        return ""

    async def _load(self, first: int, most: int) -> Sequence[Row]:
        lines = self._shelf.lines if self._shelf is not None else ()
        return [
            Row(str(n), (DUE_KEYS[n] if n < len(DUE_KEYS) else "", one.title, one.words))
            for n, one in enumerate(lines[first : first + most], first)
        ]

    @on(Rows.Marked)
    def _show_whole(self, message: Rows.Marked) -> None:
        """Show the marked line in full."""
        message.stop()
        one = self._at(int(message.row.id)) if message.row is not None else None
        self.query_one("#whole", Wrapped).show(f"{one.title}: {one.words}" if one else "")

    def _at(self, number: int) -> ShelfLine | None:
        lines = self._shelf.lines if self._shelf is not None else ()
        return lines[number] if number < len(lines) else None

    # What is worked out beside the page

    async def _begin_beside(self, kept: "KeptFindings") -> None:
        from qcledger.report.beside import Beside

        beside = self._beside = self._beside or Beside()
        place = self.desk.place
        await self.desk.read(lambda ledger: beside.begin(place(), None, kept.reading(ledger)))
        if beside.running and self._watch is not None:
            self._watch.resume()
            self.say(self._state())

    def _look_beside(self) -> None:
        """Say how far it is; once it has ended, look again."""
        if self._beside is None or self._watch is None or not self.is_current:
            return
        ended = not self._beside.running
        self._beside.news()
        if ended:
            self._watch.pause()
            self.work(self.fill, instead_of="fill")
        else:
            self.mention(self._state())

    # Keys

    def works(self, verb: str) -> bool:
        """Whether there is a line with this key."""
        word, _, key = verb.partition("_")
        return word != "do" or self._at(DUE_KEYS.index(key)) is not None

    @on(Rows.Picked)
    def _picked(self, message: Rows.Picked) -> None:
        message.stop()
        self.action_do(int(message.row.id))

    def action_open(self) -> None:
        """Do what the marked line is for."""
        self.query_one(Rows).action_pick()

    def action_again(self) -> None:
        """Look again, and go on with what was stopped."""
        self._halted = False
        self.work(self.fill, instead_of="fill")

    def action_stop(self) -> None:
        """Stop what is being worked on."""
        self._stop.set()
        self._no_more.set()
        if self._beside is not None and self._beside.running:
            self._halted = True
            self._beside.stop(again=True)
        self.say(STOPPED)

    def action_do(self, number: int) -> None:
        """Mend what a line says is missing, change what is printed, or show what there is to read."""
        one = self._at(number)
        if one is None:
            return
        if one.gap is not None:
            self._mend(one)
        elif one.given is not None:
            self._type(one.given)
        else:
            self.app.push_screen(Words(f"{one.title}: {one.words}", one.more))

    def _mend(self, one: ShelfLine) -> None:
        assert one.gap is not None
        kind, subject = one.gap.kind, one.gap.subject
        if kind in shelf.GIVEN:
            self._type(shelf.GIVEN[kind])
        elif kind is GapKind.CAPTIONS:
            self._read_captions()
        else:
            self.work(partial(_MEND[kind], self, subject), instead_of="form")

    async def ask(self, maker: str) -> None:
        """Open the form that asks a maker."""
        from qcledger.report.kept import KeptFindings
        from qcledger.screens.forms.asking import ask_maker

        kept = self._kept or KeptFindings()
        ask_maker(self, await self.desk.read(partial(shelf.offer_of, kept, maker)))

    async def take_answer(self, maker: str) -> None:
        """Open the form of what a maker answered."""
        from qcledger.screens.forms.asking import answer_of

        await answer_of(self, await self.desk.read(partial(shelf.awaited_of, maker), after_saves=True))

    async def decide_session(self, code: str) -> None:
        """Open the checks of a session, where it is kept or voided."""
        self.post_message(Go("bench", await self.desk.read(partial(shelf.session_id, code))))

    async def release(self, key: str) -> None:
        """Open the form that releases what may concern health."""
        from qcledger.screens.forms.deciding import release

        release(self, key)

    def _type(self, given: WithEdition) -> None:
        """Type what is printed with the edition."""
        name = shelf.draft_name(given)
        drafts = self.desk.drafts
        start = self._shelf.printed[given] if self._shelf is not None else drafts.get(name)

        def take(text: str | None) -> None:
            if text is not None:
                drafts.keep(name, text)
                self.work(self.fill, instead_of="fill")

        self.app.push_screen(KeptLine(shelf.ASKED[given], start, partial(drafts.keep, name)), take)

    def _read_captions(self) -> None:
        """Show the captions that go out, and note that they were read."""
        captions = self._shelf.captions if self._shelf is not None else ()

        def take(read: bool | None) -> None:
            if read:
                self.desk.drafts.keep(shelf.CAPTIONS_READ, shelf.mark_of(captions))
                self.work(self.fill, instead_of="fill")

        listed = "\n".join(f"- {one}" for one in captions)
        self.app.push_screen(Ask(f"These captions go out as typed. Are they right?\n\n{listed}"), take)


_MEND: Final[dict[GapKind, Callable[[PublishPage, str], Awaitable[None]]]] = {
    GapKind.ASK: PublishPage.ask,
    GapKind.ANSWER: PublishPage.take_answer,
    GapKind.SESSION: PublishPage.decide_session,
    GapKind.HEALTH: PublishPage.release,
}
