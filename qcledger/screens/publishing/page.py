"""The page Publish: what is missing before an edition, what goes with it, what changed, and every edition so far."""

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from contextlib import suppress
from functools import partial
from pathlib import Path
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
from qcledger.screens.publishing.shelf import Shelf, ShelfLine, WithEdition
from qcledger.screens.widgets.lines import SaidLine
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.screens.widgets.typeline import TypeLine
from qcledger.screens.widgets.wrapped import Wrapped

if TYPE_CHECKING:
    from textual.timer import Timer

    from qcledger.ledger import Ledger
    from qcledger.report.beside import Beside
    from qcledger.report.kept import KeptFindings

COLUMNS: Final = (Column("key", 3), Column("", 22), Column("what it needs, or says", 20, grows=True))
LOOK_S: Final = 1.0
"""Seconds between looks at what is worked out beside the page."""
LOOKING: Final = "looking at what is missing; Esc stops"
STOPPED: Final = "stopped; r looks again"
NOT_YET: Final = "not everything is worked out yet; wait for it, or r goes on"
LEAD: Final = "Nothing is sent anywhere: the page is written to a file, and you put it where readers find it."


class PublishPage(Page):
    """What is missing first; then what is printed with the edition, what changed, and the editions so far."""

    KEY = "publish"
    TITLE = "Publish"
    TELLS_MARKED = True
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings("publish"))

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._kept: KeptFindings | None = None
        self._shelf: Shelf | None = None
        self._stop = Event()
        """Ends looking at what is missing."""
        self._no_more = Event()
        """Ends writing a page."""
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

    @property
    def _typed(self) -> dict[str, str]:
        """What was typed to go with the edition, and which captions were read, by the names of the drafts."""
        names = (*map(shelf.draft_name, WithEdition), shelf.CAPTIONS_READ)
        return {name: self.desk.drafts.get(name) for name in names}

    async def fill(self) -> None:
        """Ask what is missing, and show it."""
        from qcledger.report.kept import KeptFindings, Stopped

        self._stop.set()
        stop = self._stop = Event()
        kept = self._kept = self._kept or KeptFindings()
        typed = self._typed
        if self._shelf is None:
            self.say(LOOKING)

        def ask(ledger: "Ledger") -> Shelf | None:
            try:
                return shelf.look(kept, typed, stop, ledger)
            except Stopped:
                return None

        found = await self.desk.read(ask)
        if found is None:
            self.say(STOPPED)
            return
        self._show(found)
        if found.open and not self._halted:
            await self._begin_beside(kept)

    def _show(self, found: Shelf) -> None:
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

    # Draft and edition

    def action_draft(self) -> None:
        """Write a draft."""
        self._to_file("scorecard-draft", self._draft)

    def action_publish(self) -> None:
        """Publish, where nothing is missing."""
        if self._is_ready():
            if self._shelf is not None and self._shelf.gaps:
                self.say(f"{len(self._shelf.gaps)} missing; t publishes all the same, and prints why", problem=True)
            else:
                self._publish("")

    def action_all_the_same(self) -> None:
        """Publish although something is missing, with a reason that is printed."""
        if not self._is_ready():
            return
        if self._shelf is not None and not self._shelf.gaps:
            self.say("nothing is missing; p publishes", problem=True)
            return
        drafts, name = self.desk.drafts, "publish reason"

        def take(text: str | None) -> None:
            if text is not None:
                self._publish(text)

        title = "Why it is published all the same; this and what is missing is printed"
        self.app.push_screen(KeptLine(title, drafts.get(name), partial(drafts.keep, name)), take)

    def _is_ready(self) -> bool:
        """Say whether an edition may be made, and if not, why."""
        if self._shelf is None or self._shelf.open:
            self.say(NOT_YET if self._shelf is not None else LOOKING, problem=True)
            return False
        return True

    def _publish(self, reason: str) -> None:
        number = self._shelf.number if self._shelf is not None else 1
        self._to_file(f"scorecard-edition-{number}", partial(self._edition, reason))

    def _to_file(self, name: str, then: Callable[[Path], Awaitable[None]]) -> None:
        """Ask where the page goes, and go on with that."""
        from qcledger.public.place import refuse_taken

        async def read(text: str) -> Path:
            page = Path(text.strip()).expanduser()
            await asyncio.to_thread(refuse_taken, page, force=False)
            return page

        def take(page: Path | None) -> None:
            if page is not None:
                self.work(partial(then, page), instead_of="publish", holds=False)

        self.app.push_screen(TypeLine("The file that the page goes to", read, f"~/{name}.html"), take)

    def _teller(self) -> Callable[[int], None]:
        """Return what says on the page, from another thread, how many photos were made."""
        loop, most = asyncio.get_running_loop(), 2 * (self._shelf.photos if self._shelf is not None else 0)

        def told(count: int) -> None:
            with suppress(RuntimeError):  # the pages are gone, and the work ends
                loop.call_soon_threadsafe(self.mention, f"photos {count} of at most {most}; Esc stops")

        return told

    async def _draft(self, page: Path) -> None:
        kept, typed, stop, told = self._begin()
        if await self._stoppable(partial(shelf.write_draft, kept, page, typed, stop, told)):
            self.say(f"a draft, not recorded: {page}")

    async def _edition(self, reason: str, page: Path) -> None:
        from qcledger.public import publishing

        kept, typed, stop, told = self._begin()
        made: list[publishing.WrittenEdition] = []

        def make(ledger: "Ledger") -> None:
            made.append(shelf.write_edition(kept, page, typed, reason, stop, told, ledger))

        if not await self._stoppable(make):
            return
        (edition,) = made
        view = edition.planned.made.view
        question = f"Record edition {view.edition.number} with {len(edition.planned.now)} settled things? {page}"
        if not await self.app.push_screen_wait(Ask(question)):
            self.say("nothing was recorded")
            return
        await self.desk.save(lambda ledger: publishing.record(ledger, edition))
        for name in (*map(shelf.draft_name, WithEdition), "publish reason"):
            self.desk.drafts.drop(name)
        await self.fill()
        self.saved()
        self.say(f"edition {view.edition.number} is recorded: {page}")

    def _begin(self) -> "tuple[KeptFindings, dict[str, str], Event, Callable[[int], None]]":
        from qcledger.report.kept import KeptFindings

        self._no_more.set()
        stop = self._no_more = Event()
        self._kept = self._kept or KeptFindings()
        self.say("writing the page; Esc stops")
        return self._kept, self._typed, stop, self._teller()

    async def _stoppable(self, job: "Callable[[Ledger], None]") -> bool:
        """Do something in the reading thread, and say whether it came to its end."""
        from qcledger.report.kept import Stopped

        def ask(ledger: "Ledger") -> bool:
            try:
                job(ledger)
            except Stopped:
                return False
            return True

        done = await self.desk.read(ask, after_saves=False)
        if not done:
            self.say("stopped; nothing was written")
        return done


_MEND: Final[dict[GapKind, Callable[[PublishPage, str], Awaitable[None]]]] = {
    GapKind.ASK: PublishPage.ask,
    GapKind.ANSWER: PublishPage.take_answer,
    GapKind.SESSION: PublishPage.decide_session,
    GapKind.HEALTH: PublishPage.release,
}
