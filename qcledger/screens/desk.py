"""Where pages ask and save: one thread reads, one thread writes, and nothing heavy loads before the first paint."""

import asyncio
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from contextlib import suppress
from datetime import UTC, date, datetime, tzinfo
from functools import partial
from queue import SimpleQueue
from threading import Lock, RLock, Thread
from typing import TYPE_CHECKING, Any, Final, TypeVar, cast

from qcledger.clock import day_of
from qcledger.door import Door, Place
from qcledger.errors import LedgerUnavailable, NotConfirmed, QcledgerError
from qcledger.screens.done import Doings
from qcledger.screens.drafts import Drafts
from qcledger.screens.unsaved import Save
from qcledger.screens.windows import Window
from qcledger.settings import Settings, data_folder

if TYPE_CHECKING:
    from qcledger.ledger import Ledger
    from qcledger.records import Record

Answer = TypeVar("Answer")

LEAVE_S: Final = 20.0
"""Seconds that leaving waits for saves at most; what is not on disk then is kept for the next start."""
SLOW_S: Final = 1.0
"""Seconds after which a save that is still at work is kept beside the ledger, for whoever kills the program."""
LOOK_S: Final = 2.0
"""Seconds in which what was never begun must say what it would have written; a locked ledger may not let it."""


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


def _entries(ledger: "Ledger") -> int:
    from qcledger.ledger.writing import written

    with ledger.reading() as connection:
        return written(connection)


class _Thread:
    """One worker thread with a queue and a ledger of its own; it ends with the program, whatever it waits for."""

    def __init__(self, door: Door, name: str, opened: Callable[[Door], None]) -> None:
        self._door = door
        self._opened = opened
        self._queue: SimpleQueue[tuple[Future[Any], Callable[[Ledger], Any], Door] | None] = SimpleQueue()
        self._thread = Thread(target=self._run, name=name, daemon=True)
        self._asked: set[Future[Any]] = set()
        self._lock = Lock()
        self._closed = False

    def ask(self, job: "Callable[[Ledger], Answer]", through: Door | None = None) -> "Future[Answer]":
        """Queue `job` on this thread's ledger, or on that behind another door."""
        asked: Future[Answer] = Future()
        with self._lock:
            if self._closed:  # one is leaving, and a key came too late
                raise asyncio.CancelledError
            if not self._thread.is_alive():
                self._thread.start()
            self._asked.add(asked)
            asked.add_done_callback(self._asked.discard)
            self._queue.put((asked, job, through or self._door))
        return asked

    def _run(self) -> None:
        while (one := self._queue.get()) is not None:
            asked, job, door = one
            if not asked.set_running_or_notify_cancel():
                continue
            try:
                ledger = door.ledger
                self._opened(door)
                answer = job(ledger)
            except BaseException as error:
                asked.set_exception(error)
            else:
                asked.set_result(answer)
        self._door.close()

    def close(self, *, drop: bool, within: float) -> None:
        """Finish what was asked for, or with `drop` only what was begun, but wait no longer than `within` seconds.

        The ledger is closed in its own thread, by itself when that comes back later.
        """
        with self._lock:
            closed, self._closed = self._closed, True
        if drop:
            self.drop()
        if self._thread.ident is None:  # nothing was ever asked for
            self._door.close()
            return
        if not closed:
            self._queue.put(None)
        self._thread.join(within)

    def drop(self) -> None:
        """Drop what was asked for and not begun."""
        for asked in list(self._asked):
            asked.cancel()


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
    `close` waits for it a bounded time; `unsaved` then holds what is not in the ledger and nobody was told of.
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
        self.window = Window(data_folder() / "windows")
        """What this window holds that is not in the ledger, in a file that the next start finds."""
        self.drafts = Drafts(self.window)
        """Texts that were typed and not yet saved."""
        self.done = Doings()
        """What was done last in this window, on whichever page, to be taken back in that order."""
        self.rubric = ""
        """The rubric that this window chose for the next new comparison; empty where it chose none."""
        self.unsaved: list[Save] = []
        """Saves that failed, or never came to be made, and that nobody was left to be told of."""
        self.kept = 0
        """How many of those are kept for the next start; known once the desk is closed."""
        self.zone: tzinfo | None = None
        """The time zone the tester works in; None is this machine's, and until the ledger was first asked."""
        self._knows_zone = False
        self._door = reader
        self._reader = _Thread(reader, "reader", self._opened)
        self._writer = _Thread(writer, "writer", self._opened)
        self._writing = writer
        self._saves: list[Save] = []
        self._just_told: list[Save] = []  # failures told a moment ago: who leaves now may not have seen that
        self._lock = RLock()
        self._closing = Lock()
        self._leaving = False
        self._open = asyncio.Event()
        self.looks = False
        """Whether pages look now and then for what other windows and commands have written."""
        self._own = 0
        """How many entries this window has written while it looked."""
        self._others: int | None = None
        """How many entries others had written when that was looked at last; None before."""
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

    def new_id(self) -> str:
        """Return an id for a new row; loads the ledger, so ask for none before something was read."""
        from qcledger.ledger import new_id

        return new_id()

    def open(self) -> None:
        """Let questions through; called once the first page has been painted."""
        self._open.set()

    async def read(self, job: "Callable[[Ledger], Answer]", *, after_saves: bool = False) -> Answer:
        """Return what `job` makes of the ledger, in the reading thread.

        With `after_saves` it is asked in the writing thread, behind every save that was asked for before, of the
        ledger opened for reading all the same: one may look around where nothing can be written.
        """
        await self._open.wait()
        asked = (self._writer if after_saves else self._reader).ask(job, self._door)
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

    async def save(self, job: "Callable[[Ledger], Answer]", *, kept: bool = True) -> Answer:
        """Return what `job` made in the ledger, once it is on disk.

        Without `kept` it is not kept for the next start should it not be made: it can be asked for again from a file.

        Raises
        ------
        NotConfirmed
            When the disk reported an error; the same job may be given again.
        """
        return cast(Answer, await self._save(Save(job, self._at(), is_kept=kept)))

    async def append(self, records: "Sequence[Record]") -> None:
        """Save records that need nothing looked up; as `save`, and kept at once when the program must end."""
        await self._save(Save(lambda ledger: ledger.append(records), self._at(), records))

    async def stirred(self) -> bool:
        """Say whether another window, or a command, has written since this was asked last."""
        if self._saves:
            return False
        others = await self.read(_entries) - self._own
        before, self._others = self._others, others
        return before not in (None, others)

    def _counted(self, make: "Callable[[Ledger], Any]", ledger: "Ledger") -> Any:
        """Return what a save makes, and count the entries it writes as this window's own."""
        before = _entries(ledger)
        try:
            return make(ledger)
        finally:
            self._own += _entries(ledger) - before

    def _at(self) -> str:
        return self.now().isoformat(timespec="seconds")

    async def _save(self, save: Save) -> Any:
        await self._open.wait()
        while self._just_told:
            self._forget(self._just_told.pop())
        save.asked = asked = self._writer.ask(partial(self._counted, save.make) if self.looks else save.make)
        with self._lock:
            self._saves.append(save)
        asked.add_done_callback(lambda _: self._ended(save))
        slow = asyncio.get_running_loop().call_later(SLOW_S, self._keep)
        try:
            await _done(asked)
        finally:
            slow.cancel()
        if asked.cancelled():  # one is leaving: it is kept for the next start
            raise asyncio.CancelledError
        if not self._leaving:  # else the page is as good as gone, and the answer is told at the end
            if save.records and isinstance(asked.exception(), LedgerUnavailable | NotConfirmed):
                self._just_told.append(save)
            else:
                self._forget(save)
        return asked.result()

    def _ended(self, save: Save) -> None:
        """Let go of a save that was made; one that failed is kept until somebody was told."""
        asked = save.asked
        if asked is not None and not asked.cancelled():
            save.error = asked.exception()
            if save.error is None:
                self._forget(save)

    def _forget(self, save: Save) -> None:
        with self._lock:
            if save in self._saves:
                self._saves.remove(save)
            if self.window.pending and not self._leaving:
                self._keep()

    def _keep(self, *, surely: bool = False) -> int:
        """Keep what is not in the ledger yet in this window's file; return how many saves that is."""
        with self._lock:
            self.window.pending = [kept for save in self._saves if (kept := save.kept())]
            return len(self.window.pending) if self.window.write(surely=surely) else 0

    def forget(self, saves: "Sequence[dict[str, Any]]") -> None:
        """Let go of saves that were kept before: they were made, or are not wanted."""
        self.window.saves = [save for save in self.window.saves if save not in saves]
        self.window.write(surely=True)

    @property
    def is_saving(self) -> bool:
        """Whether a save that was asked for has not ended."""
        return any(save.asked is None or not save.asked.done() for save in list(self._saves))

    async def settled(self) -> None:
        """Wait until every save that was asked for before has ended, and the page that asked was told."""
        if self._saves:
            await self.read(lambda _: None, after_saves=True)

    def _opened(self, door: Door) -> None:
        """Ask a ledger, before its first job, which one it is and where its tester works."""
        if not self.window.is_claimed:
            self.window.claim(door.identity())
        if not self._knows_zone:
            self.learn_zone(door.ledger)
            from qcledger.bench.worked import speak_of  # here: rubrics are no matter of the first paint

            speak_of(door.ledger)

    def close(self, within: float = LEAVE_S) -> None:
        """Wait for the saves that were asked for, but no longer than `within` seconds; then close both ledgers.

        What is not in the ledger then is kept for the next start and stands in `unsaved`. Whoever closes once more,
        or in another thread, waits for that.
        """
        with self._closing:
            if self._leaving:
                return
            self._leaving = True
            self._keep(surely=True)  # at once: whoever kills the program while it waits takes nothing away
            self._writer.close(drop=False, within=within)
            self._writer.drop()
            self._look_up()
            self.unsaved = list(self._saves)
            self.kept = self._keep(surely=bool(self.unsaved))
            self._reader.close(drop=True, within=LOOK_S)
            self.window.close()

    def _look_up(self) -> None:
        """Find out what the saves that were never made would have written."""

        def look() -> None:
            for save in [save for save in self._saves if not save.is_known]:
                try:
                    save.note(self._writing.ledger)
                except Exception as error:  # whatever stands in its way, the others are asked
                    save.error = save.error or error

        if any(not save.is_known for save in self._saves):
            looking = Thread(target=look, name="left over", daemon=True)
            looking.start()
            looking.join(LOOK_S)

    def farewell(self) -> str:
        """Return what is to be told when the pages are left: what is not in the ledger; empty when everything is."""
        count, again = len(self.unsaved), sum(not save.is_kept for save in self.unsaved)
        lost = count - self.kept - again
        if not count:
            return ""
        error = next((save.error for save in self.unsaved if save.error is not None), None)
        reason = error.line() if isinstance(error, QcledgerError) else "it was busy until the end."
        told = f"{_saves(count)} did not reach the ledger: {reason}"
        if self.kept:
            which = "it" if self.kept == 1 else "them"
            told += f" {_saves(self.kept, ' is', ' are')} kept; the next start asks about {which}."
        if again:
            told += " What was being brought in did not come in: its file stands, bring it in again."
        return f"{told} {_saves(lost, ' is', ' are')} lost." if lost else told


def _saves(count: int, one: str = "", more: str = "") -> str:
    return f"1 save{one}" if count == 1 else f"{count} saves{more}"
