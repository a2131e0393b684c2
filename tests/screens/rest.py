"""When the pages are at rest: nothing is ready to run, nothing is due within a frame, no thread has work for them.

Textual's pilot takes a process for idle when it used little of the processor for 20 ms, twice a key. That is a guess
which a busy machine makes wrong, and most of the time of a page's test. Here the loop itself is asked.

What changes on a page is not drawn anew where no terminal shows it: a test that looks at a page draws all of it. Each
page that came is drawn once when it is at rest, and when the program ends, so that what cannot be drawn fails unseen,
too.
"""

import asyncio
import contextvars
import threading
import time
import weakref
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import textual.app
import textual.pilot
from textual._compositor import Compositor
from textual._context import visible_screen_stack
from textual.app import App

from qcledger.screens import desk

FRAME_S = 0.02
"""Seconds within which what is due is waited for: Textual draws at most sixty times a second."""
LOOK_S = 0.001
"""Seconds between two looks at a thread that is at work."""
PATIENCE_S = 20.0
"""Seconds for which a thread that is at work is waited for; a busy machine gives it little of them."""
OWN = 0.5
"""The share of the longest time that a loop may have the processor at least, however busy the machine."""
IDLE = 0.1
"""The share of the time under which threads wait for something else than the processor."""

TASKS = Path("/proc/self/task")
"""Where Linux tells of each thread of this process the nanoseconds at work, and those it stood in line for that."""

THREADS: "weakref.WeakSet[desk._Thread]" = weakref.WeakSet()
"""Every thread that asks a ledger for pages."""
_beside = 0
"""How much else is at work in threads."""
_UNDRAWN: dict[Compositor, Any] = {}
"""Pages that came or changed as a whole and were not drawn since, each with the screens that show behind it."""


class Watched:
    """A queue of one thread that knows whether everything given to it was done, and whoever asked was told."""

    def __init__(self, queue: Any) -> None:
        self._queue = queue
        self._given = 0
        self._done = 0
        self._taken = False

    def put(self, one: Any) -> None:
        """Give one more; the last one, None, asks for nothing."""
        self._given += one is not None
        self._queue.put(one)

    def get(self) -> Any:
        """Take the next; whoever does so is done with the one before."""
        self._done += self._taken
        one = self._queue.get()
        self._taken = one is not None
        return one

    @property
    def is_at_work(self) -> bool:
        """Whether something was given that is not done."""
        return self._given > self._done


async def at_rest(_shortest: float = 0, longest: float = 1) -> None:
    """Wait until the running loop is at rest; no longer than `longest` seconds, nor for a thread that itself waits.

    A thread that is at work is given as long as it takes, and so is a loop that hardly got the processor. Stands for
    Textual's `wait_for_idle` with its parameters.
    """
    began, had = time.monotonic(), time.thread_time()
    due = began + FRAME_S

    def patience() -> float:
        return PATIENCE_S if are_asked() or time.thread_time() - had < OWN * longest else longest

    while (now := time.monotonic()) < began + patience():
        await asyncio.sleep(0)
        if _is_ready():
            due = now + FRAME_S  # what it does may ask for a frame, however late it comes to do it
            continue
        if (soon := _next_due()) is not None and soon <= due:
            await asyncio.sleep(max(0.0, soon - time.monotonic()))
        elif not _draw() and (not are_asked() or await _waits()):
            return


def _draw() -> bool:
    """Draw what was not drawn since it came; return whether there was something."""
    drawn = bool(_UNDRAWN)
    while _UNDRAWN:
        compositor, behind = _UNDRAWN.popitem()
        if compositor.root is not None and compositor.root.is_running:
            contextvars.copy_context().run(_drawn_before, compositor, behind)
    return drawn


def _drawn_before(compositor: Compositor, behind: Any) -> None:
    visible_screen_stack.set(behind)
    compositor.render_strips()


def _is_ready() -> bool:
    loop: Any = asyncio.get_running_loop()
    return bool(loop._ready)


def _next_due() -> float | None:
    loop: Any = asyncio.get_running_loop()
    return min((handle._when for handle in loop._scheduled if not handle._cancelled), default=None)


def are_asked() -> bool:
    """Whether a thread has work that pages gave it."""
    return _beside > 0 or any(thread._queue.is_at_work for thread in THREADS)


async def _waits() -> bool:
    """Whether what is asked stands still, as for a lock: for a frame the threads hardly wanted the processor."""
    began, wanted = time.monotonic(), _wanted()
    while time.monotonic() - began < FRAME_S:
        await asyncio.sleep(LOOK_S)
        if not are_asked() or _is_ready():
            return False
    return _wanted() - wanted < IDLE * (time.monotonic() - began)


def _wanted() -> float:
    """Return the seconds that the other threads had the processor or stood in line for it.

    Where the system does not tell of each thread, those that the whole process had it.
    """
    if not TASKS.is_dir():
        return time.process_time()
    own, spent = str(threading.get_native_id()), 0
    for task in TASKS.iterdir():
        with suppress(OSError):  # that thread has just ended
            if task.name != own:
                spent += sum(map(int, (task / "schedstat").read_text(encoding="ascii").split()[:2]))
    return spent * 1e-9


def ask_the_loop() -> None:
    """Let every pilot of this process ask the loop, and draw what is looked at; done once."""
    textual.app.wait_for_idle = textual.pilot.wait_for_idle = at_rest  # type: ignore[attr-defined]
    textual.pilot.Pilot._wait_for_screen = _all_answered  # type: ignore[method-assign]
    asyncio.to_thread = _counted(asyncio.to_thread)
    Compositor.render_update = _drawn_whole(Compositor.render_update)  # type: ignore[method-assign]
    App._shutdown = _drawn_last(App._shutdown)  # type: ignore[method-assign]


async def _all_answered(pilot: textual.pilot.Pilot[Any], _timeout: float = 0) -> bool:
    """Wait until every widget has answered what it was sent; return whether none has failed.

    Textual sends each widget of the screen one message more, twice a key, and waits for all of them; a loop at rest
    says the same.
    """
    await at_rest()
    return pilot.app._exception is None


def _counted(to_thread: Callable[..., Any]) -> Callable[..., Any]:
    """Return `to_thread` so that what it does is known to be at work."""

    async def counted(work: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Any:
        global _beside  # noqa: PLW0603 -- one number for a process, as there is one pool of threads
        _beside += 1
        try:
            return await to_thread(work, *args, **kwargs)
        finally:
            _beside -= 1

    return counted


def _drawn_whole(render: Callable[..., Any]) -> Callable[..., Any]:
    """Return `render` so that it leaves a page that came for when it is at rest, and what has only changed."""

    def drawn(compositor: Compositor, full: bool = False, screen_stack: Any = None, simplify: bool = False) -> Any:
        if full:
            return render(compositor, full, screen_stack, simplify)
        behind = [] if screen_stack is None else screen_stack
        visible_screen_stack.set(behind)
        if compositor.size.region in compositor._dirty_regions:
            _UNDRAWN[compositor] = behind
        compositor._dirty_regions.clear()
        return None

    return drawn


def _drawn_last(shutdown: Callable[[App[Any]], Any]) -> Callable[[App[Any]], Any]:
    """Return `shutdown` so that the page in front is drawn before."""

    async def drawn(app: App[Any]) -> None:
        try:
            if app._exception is None and app.screen_stack and app.screen.is_mounted:
                app.screen._compositor.render_strips()
        finally:
            await shutdown(app)

    return drawn
