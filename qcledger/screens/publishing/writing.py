"""Writing a page to a file, as a draft or as an edition: asked for, told how far it is, and stopped when wanted."""

import asyncio
from collections.abc import Awaitable, Callable
from contextlib import suppress
from functools import partial
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, Final

from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import Ask
from qcledger.screens.keptline import KeptLine
from qcledger.screens.page import Page
from qcledger.screens.publishing import shelf
from qcledger.screens.publishing.shelf import BeforeEdition, WithEdition
from qcledger.screens.widgets.typeline import TypeLine

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.report.kept import KeptFindings

LOOKING: Final = "looking at what is missing; Esc stops"
NOT_YET: Final = "not everything is worked out yet; wait for it, or r goes on"
REASON: Final = "publish reason"
"""The name of the draft that says why an edition goes out although something is missing."""


class WritesPages(Page):
    """A page that writes the public page to a file."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._kept: KeptFindings | None = None
        self._shelf: BeforeEdition | None = None
        self._no_more = Event()
        """Ends writing a page."""

    @property
    def _typed(self) -> dict[str, str]:
        """What was typed to go with the edition, and which captions were read, by the names of the drafts."""
        names = (*map(shelf.draft_name, WithEdition), shelf.CAPTIONS_READ)
        return {name: self.desk.drafts.get(name) for name in names}

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
        drafts, name = self.desk.drafts, REASON

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
        for name in (*map(shelf.draft_name, WithEdition), REASON):
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
