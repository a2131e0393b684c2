"""Keys wait for an earlier one that is still on its way through a form, so that none lands in the wrong field."""

from collections.abc import Awaitable, Callable, Sequence
from functools import partial
from typing import Final

from textual import events
from textual.app import App
from textual.dom import DOMNode
from textual.screen import ModalScreen

LAPS: Final = 5
"""Ways from a line up to the program that an answer may take: key, line, field, form, focus."""
LOOK_S: Final = 0.02
"""Seconds between looks whether a line that is being opened can be typed into."""
PATIENCE_S: Final = 2.0
"""Seconds after which keys go on in any case."""


async def pass_on(way: Sequence[DOMNode], then: Callable[[], Awaitable[None]]) -> None:
    """Do `then` once each one on the way has done, in turn, what was asked of it before."""
    if not way or not way[0].call_later(pass_on, way[1:], then):
        await then()


class TypeAhead:
    """Letters reach a line at once, Enter and the arrows only by way of every widget around it.

    Between a key such as Enter and its answer, a moved cursor, quick hands and scanners are further on already. Keys
    pressed in between are held until a messenger sent the same way behind the first one has arrived.

    Parameters
    ----------
    app
        The program whose keys these are.
    """

    def __init__(self, app: App[int]) -> None:
        self._app = app
        self._held: list[events.Key] | None = None
        self._turn = 0

    def holds(self, key: events.Key) -> bool:
        """Say whether a key has to wait, and hold it then."""
        if self._held is not None:
            self._held.append(key)
        return self._held is not None

    async def after(self, key: events.Key) -> None:
        """Hold what follows `key` until it is answered, if it is one that a line passes on or that opens a line."""
        from textual.widgets import Input  # here, because the first paint has no line to type into

        line = self._app.focused
        typing = isinstance(line, Input)
        if typing == key.is_printable or not (typing or self._begins_line(key)):
            return
        self._held, self._turn = [], self._turn + 1
        self._app.set_timer(PATIENCE_S, partial(self._go_on, self._turn))
        way = (line or self._app.screen).ancestors_with_self
        await pass_on([*way] * LAPS, partial(self._go_on if typing else self._when_typing, self._turn))

    def _begins_line(self, key: events.Key) -> bool:
        """Say whether a key begins a sticker, on a page where nothing is being typed."""
        begins = key.character is not None and (key.character.isupper() or key.character == "#")
        return begins and not isinstance(self._app.screen, ModalScreen)

    async def _when_typing(self, turn: int) -> None:
        """Let the held keys follow once a line is there to be typed into; where none comes, patience ends."""
        if self._app.focused is None and len(self._app.screen_stack) > 1:
            self._app.set_timer(LOOK_S, partial(self._when_typing, turn))
        else:
            await self._go_on(turn)

    async def _go_on(self, turn: int) -> None:
        """Let the held keys follow, in their order."""
        if turn == self._turn and self._held is not None:
            held, self._held = self._held, None
            for key in held:
                await self._app.on_event(key)
