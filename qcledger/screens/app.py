"""The program of the pages: one mode a page, the two themes, and a clean way out."""

import asyncio
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from functools import partial
from importlib import import_module
from typing import Any, ClassVar, Final, cast

from textual import events
from textual.app import App, ComposeResult, SystemCommand
from textual.binding import BindingType
from textual.containers import Vertical
from textual.driver import Driver
from textual.screen import Screen
from textual.timer import Timer
from textual.worker import Worker

from qcledger.errors import QcledgerError
from qcledger.screens import keys
from qcledger.screens.actions import EVERY_PAGE
from qcledger.screens.desk import LEAVE_S, Desk
from qcledger.screens.messages import Go
from qcledger.screens.page import OPENING, Page
from qcledger.screens.styles import ParsedOnce
from qcledger.screens.themes import THEMES
from qcledger.screens.widgets.lines import HeadLine, KeyLine, PagesLine, RuleLine, SaidLine
from qcledger.screens.widgets.typeahead import TypeAhead, pass_on
from qcledger.text import harmless

PAGES: Final[Mapping[str, tuple[str, str]]] = {
    "loose_ends": ("Loose ends", "qcledger.screens.loose_ends:LooseEnds"),
    "stock": ("Stock", "qcledger.screens.stock:Stock"),
    "bench": ("Bench", "qcledger.screens.bench:Bench"),
    "record": ("Record", "qcledger.screens.record:RecordPage"),
    "findings": ("Findings", "qcledger.screens.findings:FindingsOpening"),
    "publish": ("Publish", "qcledger.screens.publishing:PublishPage"),
    "rubrics": ("Rubrics", "qcledger.screens.scales:RubricsPage"),
}
"""Every page by key: its title, and where it lives; a page is imported when it is first opened."""

REST_S: Final = 0.3
"""Seconds without a change of its size after which a window is at rest."""

KEEPING: Final = "form"
"""The group of the work by which a screen in front keeps what was typed there; keys behind it wait."""

ANSWER_S: Final = 2.0
"""Seconds in which a page must have answered the keys that were pressed before one leaves."""

FAREWELL_S: Final = 5.0
"""Seconds after the last save in which a terminal must take the farewell; one that is gone may never take it."""

LEFT_OUT: Final = "something typed or pasted was no UTF-8 and was left out; the rest stands"
DAMAGED: Final = "damaged, passed over and kept: {}; something half-typed or not saved may stand in it"
DAMAGED_S: Final = 20.0
"""Seconds that a damaged file is told of, once a start."""

SETTLE_S: Final = 0.05
"""Seconds between the first paint and what comes then, so that the paint reaches the terminal."""


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
    VERTICAL_BREAKPOINTS = [(0, "-low"), (12, "-middle"), (23, "-high")]  # noqa: RUF012
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (60, "-normal"), (110, "-wide")]  # noqa: RUF012
    BINDINGS: ClassVar[list[BindingType]] = list(keys.bindings(EVERY_PAGE))

    def __init__(self, desk: Desk, pages: Mapping[str, tuple[str, str]] = PAGES) -> None:
        super().__init__()
        self.desk = desk
        self._table = pages
        self._leaving = self._ending = False
        self.next_ledger: str | None = None
        """The ledger that is to be opened after this one."""
        self._resting: Timer | None = None
        self._ahead = TypeAhead(self, self)
        self._going = False
        """Whether the letter of a page is awaited."""
        self._first: str | None = next(iter(pages))
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = desk.settings.theme
        for name in set(self.available_themes) - {theme.name for theme in THEMES}:
            self.unregister_theme(name)
        self.stylesheet = ParsedOnce(variables=self.get_css_variables())
        self.set_keymap(dict(desk.settings.keys))
        for key in pages:
            self.add_mode(key, self._maker_of(key))

    def _maker_of(self, key: str) -> Callable[[], Screen[None]]:
        """Return what imports and makes one page when its mode is first entered."""

        def make() -> Screen[None]:
            module, _, name = self._table[key][1].partition(":")
            return cast("Screen[None]", getattr(import_module(module), name)(self.desk))

        return make

    def compose(self) -> ComposeResult:
        """Lay out what is painted first: the lines every page has, before any page is imported."""
        action = keys.action("any.help")
        yield HeadLine(self._table[self._first or ""][0])
        mine = self.desk.settings.keys
        yield PagesLine(keys.go_key(mine), keys.pages(mine), self._first or "")
        yield Vertical(id="body")
        yield SaidLine(OPENING)
        yield RuleLine()
        yield KeyLine([], (keys.key_name(keys.keys_of(action, self.desk.settings.keys)[0]), action.label))

    def on_mount(self) -> None:
        """Paint first; then open the first page, and the desk behind it."""
        self._hear_signals()
        self.app_resume_signal.subscribe(self, self._draw_anew)
        self.call_after_refresh(self.set_timer, SETTLE_S, self._enter)

    def _enter(self) -> None:
        first, self._first = self._first, None
        if first is not None and self.is_running:  # else one has left already
            self.desk.open()
            self.switch_mode(first)
            _: Worker[None] = self.run_worker(self._ask_about_unsaved(), group="unsaved")

    async def _ask_about_unsaved(self) -> None:
        """Ask about saves that did not reach the ledger before, once the ledger is open."""
        with suppress(QcledgerError):  # the page in front tells that it cannot be opened
            damaged = await self.desk.read(lambda _: self.desk.window.damaged)
            if damaged:
                told = harmless(DAMAGED.format(damaged[0]))
                self.notify(told, markup=False, severity="warning", timeout=DAMAGED_S)
            if self.desk.window.saves:
                from qcledger.screens.leftover import ask_about  # here, because there is seldom something to ask

                await ask_about(self)

    def on_resize(self) -> None:
        """Draw everything once more when the window has come to rest; some lose a part of it while they change."""
        if self._resting is not None:
            self._resting.stop()
        self._resting = self.set_timer(REST_S, self._draw_anew)

    def _draw_anew(self, _: object = None) -> None:
        """Draw everything again, as when the shell gives the terminal back; what it held is gone."""
        if self.is_running:
            self.refresh(layout=True)
            self.screen.refresh(layout=True)

    def _hear_signals(self) -> None:
        """Leave cleanly on TERM and HUP; Python alone would leave the terminal raw."""
        loop = asyncio.get_running_loop()
        for name in ("SIGTERM", "SIGHUP"):
            number = getattr(signal, name, None)
            if number is not None and self._driver is not None and not self.is_headless:
                loop.add_signal_handler(number, self._leave_with, 128 + number, name == "SIGHUP")
        self._continue_orderly(loop)

    def _continue_orderly(self, loop: asyncio.AbstractEventLoop) -> None:
        """Go on after a stop in turn with everything else; a closing window sends CONT right behind HUP.

        Textual's own handler would begin to draw anew in the middle of leaving, and the program would hang.
        """
        number = getattr(signal, "SIGCONT", None)
        go_on = signal.getsignal(number) if number is not None else None
        if number is not None and callable(go_on) and not self.is_headless:
            loop.add_signal_handler(number, lambda: None if self._ending else go_on(number, None))

    def on_terminal_gone(self) -> None:
        """Leave as on a hang-up, of which not every program is told."""
        self._leave_with(128 + getattr(signal, "SIGHUP", 1), hush=True)

    def on_bytes_left_out(self) -> None:
        """Say that something typed or pasted was no text; what else was typed stands."""
        if isinstance(self.screen, Page):
            self.screen.say(LEFT_OUT, problem=True)
        else:
            self.notify(LEFT_OUT, markup=False)

    def _leave_with(self, code: int, hush: bool = False) -> None:
        """Leave because of a signal; a second one changes nothing.

        What has to be waited for is waited for beside the pages, which may hang with their terminal.
        """
        if self._ending:
            return
        self._ending = True
        if hush and isinstance(self._driver, self._terminal()):
            self._driver.hush()
        loop = asyncio.get_running_loop()
        threading.Thread(target=self._depart, args=(loop, code), name="leaving", daemon=True).start()

    async def _answered(self) -> None:
        """Let the keys be answered that are on their way to the page; their saves have been asked for then.

        A key goes from the program to the line or the page in front, and up again to where it means something.
        """
        answered = asyncio.Event()

        async def tell() -> None:
            answered.set()

        with suppress(TimeoutError):
            async with asyncio.timeout(ANSWER_S):
                await pass_on([self, *(self.focused or self.screen).ancestors_with_self], tell)
                await answered.wait()
        await asyncio.sleep(0)  # what a key has begun beside the page comes to its save

    def _depart(self, loop: asyncio.AbstractEventLoop, code: int) -> None:
        """Finish the saves or keep them, end the pages; where those cannot end any more, end the program."""
        with suppress(Exception):  # the pages are gone already, or hang with their terminal
            asyncio.run_coroutine_threadsafe(self._answered(), loop).result(ANSWER_S)
        self.desk.close()
        with suppress(RuntimeError):  # the pages are gone already
            loop.call_soon_threadsafe(partial(self.exit, code, return_code=code))
        time.sleep(FAREWELL_S)
        if isinstance(self._driver, self._terminal()):
            self._driver.restore()
        os._exit(code)

    @staticmethod
    def _terminal() -> type[Any]:
        """Return the class of terminals that can hang up; none of them is one on Windows."""
        if sys.platform == "win32":
            return type(None)
        from qcledger.screens.terminal import Terminal  # here, because Windows lacks what it is made of

        return Terminal

    def get_driver_class(self) -> type[Driver]:
        """Return what reads and draws: where terminals may hang up and send anything, one that takes it."""
        found = super().get_driver_class()
        return self._terminal() if found.__name__ == "LinuxDriver" else found

    async def _leave(self) -> None:
        """Finish the saves, then end."""
        await self._answered()
        if self.desk.is_saving:
            self._say(f"finishing the saves; at most {LEAVE_S:g} s, then they are kept for the next start")
        await asyncio.to_thread(self.desk.close)
        self.exit(0, return_code=0)

    def _fatal_error(self) -> None:
        """End on an unexpected error without printing a framed traceback; who started the pages tells it."""
        self._close_messages_no_wait()

    @property
    def failure(self) -> BaseException | None:
        """The unexpected error that ended the pages, if one did."""
        return self._exception

    async def on_event(self, event: events.Event) -> None:
        """Take keys one after the other, also where the answer to one takes its time."""
        if not isinstance(event, events.Key) or event.is_forwarded:
            await super().on_event(event)
        elif self._ahead.is_stuck and event.key in keys.keys_of(keys.action("any.quit"), self.desk.settings.keys):
            await self.answer(event)
        else:
            await self._ahead.take(event)

    # Keys, in their order

    def takes_keys(self, screen: Screen[Any]) -> bool:
        """Whether a screen is open, filled and not about to become another one."""
        if isinstance(screen, Page):
            return screen.takes_keys
        if type(screen) is Screen:  # what is painted before the first page
            return False
        if any(job.group == KEEPING and job.node is screen and not _is_over(job) for job in self.workers):
            return False  # what was typed is being saved, and the screen closes with that
        wants_focus = screen.AUTO_FOCUS != "" and bool(screen.focus_chain)
        return screen.is_mounted and (screen.focused is not None or not wants_focus)

    async def answer(self, key: events.Key) -> None:
        """Give a key to whatever is in front, or take it as the letter of a page."""
        if self._going:
            self._go_by(key)
        else:
            await super().on_event(key)

    def keys_wait(self, count: int) -> None:
        """Say that so many keys are waiting."""
        self._say(f"still at work on the key before; {_counted(count)} in order")

    def keys_given_up(self, keys: Sequence[events.Key]) -> None:
        """Say which keys were given up."""
        self._say(f"not answered, because the ledger did not: {_written(keys)}; press them again", problem=True)

    def action_begin_go(self) -> None:
        """Let the next key be the letter of a page."""
        if isinstance(self.screen, Page):
            self._going = True
            self.screen.going(awaited=True)

    def _go_by(self, key: events.Key) -> None:
        self._going = False
        if isinstance(self.screen, Page):
            self.screen.going(awaited=False)
        mine = self.desk.settings.keys
        page = keys.page_of([key.key, key.character or ""], mine)
        if page is not None and page in self._table:
            self.action_go(page)
        elif key.key != "escape":
            there = ", ".join(letter for name, letter, _ in keys.pages(mine) if name in self._table)
            self._say(f"no page has the key {_written([key])}, and nothing was done; pages: {there}", problem=True)

    async def action_quit(self) -> None:
        """Leave once every save is on disk."""
        if not self._leaving:
            self._leaving = True
            _: Worker[None] = self.run_worker(self._leave(), group="leaving")  # beside the keys that are on their way

    def action_help_quit(self) -> None:
        """Say how to leave; Ctrl+C is too easily meant for copying."""
        self._say(f"{keys.key_name(keys.keys_of(keys.action('any.quit'), self.desk.settings.keys)[-1])} leaves")

    def _say(self, line: str, *, problem: bool = False) -> None:
        if isinstance(self.screen, Page):
            self.screen.say(line, problem=problem)
        else:
            self.notify(harmless(line), markup=False)

    def action_go(self, page: str, subject: str | None = None) -> None:
        """Open a page, unless a question stands in front; before there are any, the first one to open."""
        if self._first is not None and page in self._table:
            self._first = page
        elif isinstance(self.screen, Page) and page in self._table:
            asking = self.current_mode
            self.switch_mode(page)
            if subject is not None:
                self._bring(subject, asking if asking != page else None)

    def _bring(self, subject: str, asking: str | None) -> None:
        """Show a subject on the page of this mode that takes one; what lies on top of it there is left."""
        while isinstance(self.screen, Page) and not self.screen.takes_subjects and len(self.screen_stack) > 1:
            self.pop_screen()
        front = self.screen
        if isinstance(front, Page):
            front.came_from = asking or front.came_from
            front.call_later(front.arrive, subject)  # behind its mounting, for it may be new

    def on_key(self, event: events.Key) -> None:
        """Let a capital letter begin a sticker, typed or scanned; say of any other key that it does nothing here."""
        if event.character is not None and event.character.isupper():
            self.action_sticker(event.character)
        elif isinstance(self.screen, Page) and event.key not in self.screen.active_bindings:
            self._say(self.screen.unknown(_written([event])), problem=True)

    def action_sticker(self, start: str = "") -> None:
        """Ask for a sticker and open the history of its specimen."""
        if not isinstance(self.screen, Page):
            return
        from qcledger.bench.unpacking import find_sticker

        async def read(text: str) -> str:
            return await self.desk.read(lambda ledger: find_sticker(ledger, text), after_saves=True)

        def take(specimen: str | None) -> None:
            if specimen is not None:
                self.action_go("stock", specimen)

        from qcledger.screens.widgets.typeline import TypeLine  # here, because the first paint asks for nothing

        self.push_screen(TypeLine("Sticker, as in OV 0147 or 147", read, start), take)

    def on_go(self, message: Go) -> None:
        """Open the page that another page asked for."""
        self.action_go(message.page, message.subject)

    def action_undo(self) -> None:
        """Take back the last thing done in this window, on the page in front; not while something is typed."""
        line = self.focused
        if not isinstance(self.screen, Page):
            return
        if line is not None and line.check_consume_key("a", "a"):
            self._say("something is being typed here; undo is for the page, from its list", problem=True)
        else:
            self.screen.action_undo()

    def action_next_theme(self) -> None:
        """Change to the other theme for this run; the settings file says which one comes first."""
        names = [theme.name for theme in THEMES]
        self.theme = names[(names.index(self.theme) + 1) % len(names)]

    def action_keys_help(self) -> None:
        """Show every key of the page in front."""
        if isinstance(self.screen, Page):
            lines = keys.help_lines(self.screen.KEY, self.screen.works, self.desk.settings.keys)
            from qcledger.screens.dialogs import KeysHelp  # here, because the first paint needs no dialog

            self.push_screen(KeysHelp(self.screen.TITLE or "", lines))

    def action_in_and_out(self) -> None:
        """Show what goes out of the ledger and comes into it."""
        if isinstance(self.screen, Page):
            from qcledger.screens import inandout  # here, because the first paint asks for nothing

            inandout.ask(self.screen)

    def action_guide(self, chapter: str | None = None) -> None:
        """Open the guide where it speaks of the page in front, or at a chapter."""
        page = self.screen
        if isinstance(page, Page) and (page.KEY != "guide" or chapter is not None):
            from qcledger.screens.guide import Guide  # here, because the first paint asks for nothing

            self.push_screen(Guide(self.desk, chapter or page.chapter))

    def action_command_palette(self) -> None:
        """Open the palette, asking in the words of the help."""
        from textual.command import CommandPalette  # here, because the first paint asks for nothing

        if not isinstance(self.screen, CommandPalette):
            self.push_screen(CommandPalette(placeholder=keys.action("any.palette").help.rstrip(".")))

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Offer the pages, the themes, the keys and the way out in the palette."""
        return _commands(self)


def _commands(app: Pages) -> Iterable[SystemCommand]:
    """Yield what the palette offers."""
    for key, (title, _) in app._table.items():
        yield SystemCommand(title, f"Open the page {title}", lambda key=key: app.action_go(key))
    for theme in THEMES:
        yield SystemCommand(theme.name, "Change the theme", lambda name=theme.name: setattr(app, "theme", name))
    yield SystemCommand("all keys", "Show what every key does here", app.action_keys_help)
    yield SystemCommand("in and out", keys.action("any.in_and_out").help, app.action_in_and_out)
    from qcledger.screens.guide import chapters

    for name, title in chapters().items():
        yield SystemCommand(f"guide: {title}", "Read the guide", lambda name=name: app.action_guide(name))
    yield SystemCommand("quit", "Save and quit", app.action_quit)


def _written(pressed: Sequence[events.Key]) -> str:
    """Return keys as they are engraved."""
    names = [key.character if key.is_printable and key.character else key.key for key in pressed]
    return harmless(" ".join(map(keys.key_name, names)))


def _is_over(job: Worker[Any]) -> bool:
    return job.is_finished or job.is_cancelled  # one that was cancelled before it began never says that it ended


def _counted(count: int) -> str:
    return "1 key follows" if count == 1 else f"{count} keys follow"
