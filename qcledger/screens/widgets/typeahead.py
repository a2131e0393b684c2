"""Keys wait for an earlier one that is still on its way, and for a page that is opening; none is lost unsaid."""

import time
from collections import deque
from collections.abc import Awaitable, Callable, Sequence
from functools import partial
from typing import Any, Final, Protocol

from textual import events
from textual.app import App
from textual.dom import DOMNode
from textual.screen import Screen

LAPS: Final = 5
"""Ways from a line up to the program that an answer may take: key, line, field, form, focus."""
LOOK_S: Final = 0.02
"""Seconds between looks whether what is in front takes keys yet."""
SLOW_S: Final = 2.0
"""Seconds after which it is said that keys are waiting."""
PATIENCE_S: Final = 30.0
"""Seconds after which keys that wait are given up, and named."""


async def pass_on(way: Sequence[DOMNode], then: Callable[[], Awaitable[None]]) -> None:
    """Do `then` once each one on the way has done, in turn, what was asked of it before."""
    if not way or not way[0].call_later(pass_on, way[1:], then):
        await then()


class Keyboard(Protocol):
    """What answers keys."""

    def takes_keys(self, screen: Screen[Any]) -> bool:
        """Whether a screen is open, filled and not about to become another one."""

    async def answer(self, key: events.Key) -> None:
        """Give a key to whatever is in front."""

    def keys_wait(self, count: int) -> None:
        """Say that so many keys are waiting."""

    def keys_given_up(self, keys: Sequence[events.Key]) -> None:
        """Say which keys were given up."""


class TypeAhead:
    """Letters reach a line at once; every other key by way of every widget around it, and may open another page.

    Between a key and its answer, a moved cursor or an opened page, quick hands and scanners are further on already.
    Keys pressed in between are held, in their order, until a messenger sent the same way behind the first one has
    arrived and what is in front by then takes keys.

    Parameters
    ----------
    app
        The program whose keys these are.
    keyboard
        What answers them.
    now
        Seconds that never run backwards.
    """

    def __init__(self, app: App[int], keyboard: Keyboard, now: Callable[[], float] = time.monotonic) -> None:
        self._app = app
        self._keyboard = keyboard
        self._now = now
        self._held: deque[events.Key] = deque()
        self._waits = False
        self._is_on_its_way = False
        """Whether a letter was sent to a line, and no key since that waited for the line."""
        self._since = 0.0
        self._is_told = False

    @property
    def is_stuck(self) -> bool:
        """Whether keys have to wait for what is in front."""
        return self._waits and not self._keyboard.takes_keys(self._app.screen)

    async def take(self, key: events.Key) -> None:
        """Answer a key, or hold it until those before it are answered."""
        if self._waits:
            self._held.append(key)
        elif not self._keyboard.takes_keys(self._app.screen):
            self._held.append(key)
            self._begin()
            await self._pass()
        else:
            await self._answer(key)

    def _begin(self) -> None:
        self._waits, self._is_told, self._since = True, False, self._now()

    async def _answer(self, key: events.Key) -> None:
        line = self._app.focused
        is_typed = line is not None and line.check_consume_key(key.key, key.character)
        overtakes, self._is_on_its_way = self._is_on_its_way and not is_typed, is_typed
        if overtakes:  # one that leaves a note is answered before the line is asked: letters would be lost
            self._held.appendleft(key)
            self._begin()
            await self._pass(line)
            return
        await self._keyboard.answer(key)
        if not is_typed:
            self._begin()
            await self._pass(line)

    async def _pass(self, line: DOMNode | None = None) -> None:
        """Send a messenger behind the last key."""
        front = self._app.screen
        way = (line or self._app.focused or front).ancestors_with_self
        await pass_on([*way] * LAPS, partial(self._look, front))

    async def _look(self, front: Screen[Any]) -> None:
        """Let the held keys follow once what is in front takes them; what has come to the front is asked anew."""
        if not self._app.is_running:
            return
        if self._app.screen is not front:
            await self._pass()
        elif self._keyboard.takes_keys(front):
            await self._go_on()
        elif (waited := self._now() - self._since) > PATIENCE_S:
            self._give_up()
        else:
            if waited > SLOW_S and self._held and not self._is_told:
                self._is_told = True
                self._keyboard.keys_wait(len(self._held))
            self._app.set_timer(LOOK_S, partial(self._look, front))

    async def _go_on(self) -> None:
        """Let the held keys follow, in their order, until one has to be waited for."""
        self._waits = False
        while self._held and not self._waits:
            await self._answer(self._held.popleft())

    def _give_up(self) -> None:
        self._waits, given_up = False, list(self._held)
        self._held.clear()
        if given_up:
            self._keyboard.keys_given_up(given_up)
