"""The program of the pages: one mode a page, the two themes, and a clean way out."""

import asyncio
import signal
from collections.abc import Callable, Iterable, Mapping
from importlib import import_module
from typing import ClassVar, Final, cast

from textual.app import App, SystemCommand
from textual.binding import BindingType
from textual.screen import Screen
from textual.worker import Worker

from qcledger.screens import keys
from qcledger.screens.actions import ACTIONS, EVERY_PAGE, Action
from qcledger.screens.desk import Desk
from qcledger.screens.dialogs import KeysHelp
from qcledger.screens.messages import Go
from qcledger.screens.page import Page
from qcledger.screens.themes import THEMES

PAGES: Final[Mapping[str, tuple[str, str]]] = {
    "bench": ("Bench", "qcledger.screens.bench:Bench"),
    "record": ("Record", "qcledger.screens.record:Record"),
}
"""Every page by key: its title, and where it lives; a page is imported when it is first opened."""

SETTLE_S: Final = 0.05
"""Seconds between the first paint and the first heavy import, so that the paint reaches the terminal."""


class Pages(App[int]):
    """The pages of one ledger.

    Parameters
    ----------
    desk
        Where the pages ask and save.
    pages
        Key to title and ``module:class``; the first is opened first.
    """

    CSS_PATH = "app.tcss"
    TITLE = "qcledger"
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings(EVERY_PAGE))

    def __init__(self, desk: Desk, pages: Mapping[str, tuple[str, str]] = PAGES) -> None:
        super().__init__()
        self.desk = desk
        self._table = pages
        self._leaving = False
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = desk.settings.theme
        for name in set(self.available_themes) - {theme.name for theme in THEMES}:
            self.unregister_theme(name)
        self.set_keymap(dict(desk.settings.keys))
        for key in pages:
            self.add_mode(key, self._maker_of(key))

    def _maker_of(self, key: str) -> Callable[[], Screen[None]]:
        """Return what imports and makes one page when its mode is first entered."""

        def make() -> Screen[None]:
            module, _, name = self._table[key][1].partition(":")
            return cast("Screen[None]", getattr(import_module(module), name)(self.desk))

        return make

    def on_mount(self) -> None:
        """Open the first page, and the desk only after it has been painted."""
        self._hear_signals()
        self.switch_mode(next(iter(self._table)))
        self.call_after_refresh(self.set_timer, SETTLE_S, self.desk.open)

    def _hear_signals(self) -> None:
        """Leave cleanly on TERM and HUP; Python alone would leave the terminal raw."""
        loop = asyncio.get_running_loop()
        for name in ("SIGTERM", "SIGHUP"):
            number = getattr(signal, name, None)
            if number is not None and self._driver is not None and not self.is_headless:
                loop.add_signal_handler(number, self._leave_with, 128 + number)

    def _leave_with(self, code: int) -> None:
        async def leave() -> None:
            await self._leave(code)

        _: Worker[None] = self.run_worker(leave, group="leave")

    async def _leave(self, code: int = 0) -> None:
        """Finish the saves, then end."""
        if self._leaving:
            return
        self._leaving = True
        await asyncio.to_thread(self.desk.close)
        self.exit(code, return_code=code)

    def _fatal_error(self) -> None:
        """End on an unexpected error without printing a framed traceback; who started the pages tells it."""
        self._close_messages_no_wait()

    @property
    def failure(self) -> BaseException | None:
        """The unexpected error that ended the pages, if one did."""
        return self._exception

    async def action_quit(self) -> None:
        """Leave once every save is on disk."""
        await self._leave()

    def action_help_quit(self) -> None:
        """Say how to leave; Ctrl+C is too easily meant for copying."""
        self._say(f"{keys.key_name(keys.keys_of(self._action('any.quit'), self.desk.settings.keys)[-1])} leaves")

    @staticmethod
    def _action(name: str) -> Action:
        return next(action for action in ACTIONS if action.id == name)

    def _say(self, line: str) -> None:
        if isinstance(self.screen, Page):
            self.screen.say(line)

    def action_go(self, page: str, subject: str | None = None) -> None:
        """Open a page, unless a question stands in front."""
        if isinstance(self.screen, Page) and page in self._table:
            self.switch_mode(page)
            if subject is not None and isinstance(self.screen, Page):
                self.screen.arrive(subject)

    def on_go(self, message: Go) -> None:
        """Open the page that another page asked for."""
        self.action_go(message.page, message.subject)

    def action_next_theme(self) -> None:
        """Change to the other theme for this run; the settings file says which one comes first."""
        names = [theme.name for theme in THEMES]
        self.theme = names[(names.index(self.theme) + 1) % len(names)]

    def action_keys_help(self) -> None:
        """Show every key of the page in front."""
        if isinstance(self.screen, Page):
            mine = self.desk.settings.keys
            shown = [*keys.actions_of(self.screen.KEY), *keys.actions_of(EVERY_PAGE)]
            lines = [(" ".join(map(keys.key_name, keys.keys_of(act, mine))), act.help, act.id) for act in shown]
            self.push_screen(KeysHelp(self.screen.TITLE or "", lines))

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Offer the pages, the themes, the keys and the way out in the palette."""
        for key, (title, _) in self._table.items():
            yield SystemCommand(title, f"Open the page {title}", lambda key=key: self.action_go(key))
        for theme in THEMES:
            yield SystemCommand(theme.name, "Change the theme", lambda name=theme.name: setattr(self, "theme", name))
        yield SystemCommand("all keys", "Show what every key does here", self.action_keys_help)
        yield SystemCommand("quit", "Finish the saves and leave", self.action_quit)
