"""Where pages ask and save: one thread reads, one thread writes, and nothing heavy loads before the first paint."""

import asyncio
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from datetime import UTC, date, datetime, tzinfo
from typing import TYPE_CHECKING, Any, TypeVar

from qcledger.clock import day_of
from qcledger.door import Door, Place
from qcledger.screens.drafts import Drafts
from qcledger.settings import Settings, data_folder

if TYPE_CHECKING:
    from qcledger.ledger import Ledger

Answer = TypeVar("Answer")


def _utc_now() -> datetime:
    return datetime.now(UTC)


async def _done(asked: "Future[Answer]") -> None:
    """Wait for `asked`, never cancelling it; `asyncio.wrap_future` would drop a save that still waits its turn."""
    loop = asyncio.get_running_loop()
    ended = asyncio.Event()

    def tell(_: object) -> None:
        with suppress(RuntimeError):  # the pages are gone: nobody is left to be told
            loop.call_soon_threadsafe(ended.set)

    asked.add_done_callback(tell)
    await ended.wait()


class _Thread:
    """One worker thread with a queue and a ledger of its own."""

    def __init__(self, door: Door, name: str) -> None:
        self._door = door
        self._queue = ThreadPoolExecutor(1, thread_name_prefix=name)
        self._asked: set[Future[Any]] = set()

    def ask(self, job: "Callable[[Ledger], Answer]") -> "Future[Answer]":
        try:
            asked = self._queue.submit(lambda: job(self._door.ledger))
        except RuntimeError:  # the desk is closed: one is leaving, and a key came too late
            raise asyncio.CancelledError from None
        self._asked.add(asked)
        asked.add_done_callback(self._asked.discard)
        return asked

    def close(self, *, drop: bool) -> None:
        """Finish what was asked for, or with `drop` only what was begun, and close the ledger in its own thread."""
        for asked in list(self._asked) if drop else ():
            asked.cancel()
        with suppress(RuntimeError):  # closed before
            self._queue.submit(self._door.close)
        self._queue.shutdown(wait=True)


class Desk:
    """What a page may ask for.

    Parameters
    ----------
    reader, writer
        Doors to the ledger: one opened for reading, one for writing.
    settings
        What the tester has set.
    now
        The time of day in UTC, as it is shown and recorded.
    clock
        Seconds that never run backwards, for timers and held keys.

    Notes
    -----
    Saves are kept in the order of the keys by the writer's one thread. A save whose page is gone is still made, and
    `close` waits for it; `unsaved` then holds what failed after nobody was left to be told.
    """

    def __init__(
        self,
        reader: Door,
        writer: Door,
        settings: Settings,
        *,
        now: Callable[[], datetime] = _utc_now,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.settings = settings
        self.now = now
        self.clock = clock
        self.drafts = Drafts(data_folder() / "drafts.json")
        """Texts that were typed and not yet saved."""
        self.undo: dict[str, list[Any]] = {}
        """What was done last, by page and what it is about: a page that comes back can still take it back."""
        self.unsaved: list[BaseException] = []
        self.zone: tzinfo | None = None
        """The time zone the tester works in; None is this machine's, and until the ledger was first asked."""
        self._door = reader
        self._reader = _Thread(reader, "reader")
        self._writer = _Thread(writer, "writer")
        self._saving = 0
        self._knows_zone = False
        self._open = asyncio.Event()
        self.is_ready = False
        """Whether a first question was answered; until then the ledger is being opened."""

    def place(self) -> Place:
        """Return where the ledger is, for a process that opens it once more; ask in the reading thread."""
        return self._door.place

    @property
    def today(self) -> date:
        """The day it is where the tester works; ask once something was read."""
        return day_of(self.now(), self.zone)

    def learn_zone(self, ledger: "Ledger") -> None:
        """Let days be those of the time zone that a ledger has for its tester."""
        self.zone, self._knows_zone = ledger.zone, True

    def _first_learning(self, job: "Callable[[Ledger], Answer]") -> "Callable[[Ledger], Answer]":
        """Return a job that first asks for the tester's time zone, where that was not asked yet."""

        def learned(ledger: "Ledger") -> Answer:
            if not self._knows_zone:
                self.learn_zone(ledger)
            return job(ledger)

        return learned

    def new_id(self) -> str:
        """Return an id for a new row; loads the ledger, so ask for none before something was read."""
        from qcledger.ledger import new_id

        return new_id()

    def open(self) -> None:
        """Let questions through; called once the first page has been painted."""
        self._open.set()

    async def read(self, job: "Callable[[Ledger], Answer]", *, after_saves: bool = False) -> Answer:
        """Return what `job` makes of the ledger, in the reading thread.

        With `after_saves` it is asked in the writing thread, behind every save that was asked for before.
        """
        await self._open.wait()
        asked = (self._writer if after_saves else self._reader).ask(self._first_learning(job))
        try:
            await _done(asked)
        except asyncio.CancelledError:
            asked.cancel()
            raise
        if asked.cancelled():  # the desk was closed meanwhile, and nobody waits for the answer
            raise asyncio.CancelledError
        answer = asked.result()
        self.is_ready = True
        return answer

    async def save(self, job: "Callable[[Ledger], Answer]") -> Answer:
        """Return what `job` made in the ledger, once it is on disk.

        Raises
        ------
        NotConfirmed
            When the disk reported an error; the same job may be given again.
        """
        await self._open.wait()
        kept = self._writer.ask(self._first_learning(job))
        self._saving += 1
        try:
            await _done(kept)
        except asyncio.CancelledError:
            kept.add_done_callback(self._note_failure)
            raise
        finally:
            self._saving -= 1
        return kept.result()

    async def settled(self) -> None:
        """Wait until every save that was asked for before has ended, and the page that asked was told."""
        if self._saving:
            await self.read(lambda _: None, after_saves=True)

    def _note_failure(self, kept: "Future[Answer]") -> None:
        if (error := kept.exception()) is not None:
            self.unsaved.append(error)

    def close(self) -> None:
        """Wait until every save that was asked for is done, then close both ledgers."""
        self._writer.close(drop=False)
        self._reader.close(drop=True)
