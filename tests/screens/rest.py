"""When the pages are at rest: nothing is ready to run, nothing is due within a frame, no thread has work for them.

Textual's pilot takes a process for idle when it used little of the processor for 20 ms, twice a key. That is a guess
which a busy machine makes wrong, and most of the time of a page's test. Here the loop itself is asked.
"""

import asyncio
import time
import weakref
from typing import Any

from qcledger.screens import desk

FRAME_S = 0.02
"""Seconds within which what is due is waited for: Textual draws at most sixty times a second."""
LOOK_S = 0.001
"""Seconds between two looks at a thread that is at work."""
IDLE = 0.1
"""The share of the processor under which a process waits for something else than itself."""

THREADS: "weakref.WeakSet[desk._Thread]" = weakref.WeakSet()
"""Every thread that asks a ledger for pages."""


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
        elif not are_asked() or await _waits():
            return


def _is_ready() -> bool:
    loop: Any = asyncio.get_running_loop()
    return bool(loop._ready)


def _next_due() -> float | None:
    loop: Any = asyncio.get_running_loop()
    return min((handle._when for handle in loop._scheduled if not handle._cancelled), default=None)


def are_asked() -> bool:
    """Whether a thread has work that pages gave it."""
    return any(thread._asked for thread in THREADS)


async def _waits() -> bool:
    """Whether what is asked stands still: the process used little of the processor for a frame, as for a lock."""
    began, used = time.monotonic(), time.process_time()
    while time.monotonic() - began < FRAME_S:
        await asyncio.sleep(LOOK_S)
        if not are_asked() or _is_ready():
            return False
    return time.process_time() - used < IDLE * (time.monotonic() - began)
