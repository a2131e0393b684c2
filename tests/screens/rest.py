"""When the pages are at rest: nothing is ready to run, nothing is due within a frame, no thread has work for them.

Textual's pilot takes a process for idle when it used little of the processor for 20 ms, twice a key. That is a guess
which a busy machine makes wrong, and most of the time of a page's test. Here the loop itself is asked.

What changes on a page is not drawn anew where no terminal shows it: a test that looks at a page draws all of it. Each
page that came is drawn once when it is at rest, and when the program ends, so that what cannot be drawn fails unseen,
too.
"""

import asyncio
import contextvars
import time
import weakref
from collections.abc import Callable
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
IDLE = 0.1
"""The share of the processor under which a process waits for something else than itself."""

THREADS: "weakref.WeakSet[desk._Thread]" = weakref.WeakSet()
"""Every thread that asks a ledger for pages."""
_beside = 0
"""How much else is at work in threads."""
_UNDRAWN: dict[Compositor, Any] = {}
"""Pages that came or changed as a whole and were not drawn since, each with the screens that can be seen behind it."""


async def at_rest(_shortest: float = 0, longest: float = 1) -> None:
    """Wait until the running loop is at rest; no longer than `longest` seconds, nor for a thread that itself waits.

    Stands for Textual's `wait_for_idle`, whose parameters it has.
    """
    end = time.monotonic() + longest
    due = time.monotonic() + FRAME_S
    while time.monotonic() < end:
        await asyncio.sleep(0)
        if _is_ready():
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
    return _beside > 0 or any(thread._asked for thread in THREADS)


async def _waits() -> bool:
    """Whether what is asked stands still: the process used little of the processor for a frame, as for a lock."""
    began, used = time.monotonic(), time.process_time()
    while time.monotonic() - began < FRAME_S:
        await asyncio.sleep(LOOK_S)
        if not are_asked() or _is_ready():
            return False
    return time.process_time() - used < IDLE * (time.monotonic() - began)


def ask_the_loop() -> None:
    """Let every pilot of this process ask the loop, and draw what is looked at; done once."""
    textual.app.wait_for_idle = textual.pilot.wait_for_idle = at_rest  # type: ignore[attr-defined]
    asyncio.to_thread = _counted(asyncio.to_thread)
    Compositor.render_update = _drawn_whole(Compositor.render_update)  # type: ignore[method-assign]
    App._shutdown = _drawn_last(App._shutdown)  # type: ignore[method-assign]


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
