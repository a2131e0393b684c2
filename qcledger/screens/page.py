"""What every page does, once."""

import asyncio
from collections.abc import Awaitable, Callable, Iterable, Sequence
from contextlib import suppress
from typing import ClassVar, Final

from textual import events, on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.css.query import NoMatches
from textual.message import Message
from textual.screen import Screen
from textual.worker import Worker

from qcledger.errors import NotConfirmed, QcledgerError
from qcledger.screens import keys
from qcledger.screens.actions import EVERY_PAGE
from qcledger.screens.desk import Desk
from qcledger.screens.done import Back
from qcledger.screens.messages import Tell
from qcledger.screens.shown import shown_time
from qcledger.screens.styles import StyledOnce
from qcledger.screens.widgets.lines import HeadLine, KeyLine, PagesLine, RuleLine, SaidLine
from qcledger.screens.widgets.rows import Rows
from qcledger.screens.widgets.wrapped import Wrapped

OPENING: Final = "opening the ledger ..."
NOTHING_DONE: Final = "nothing is left to take back in this window"

IN_FULL_LINES: Final = 3
"""Most lines that what is cut of a marked row takes."""

LOOK_S: Final = 1.0
"""Seconds between two looks for what other windows have written, and after a key before the next."""

GONE_S: Final = 0.5
"""Seconds after which a page that is being taken down is gone."""


class Page(StyledOnce, Screen[None]):
    """One job, one focus, its next step visible: a head line, a body, what was said, and the keys.

    A page says what it is (`KEY`, `TITLE`), composes its `body`, and fills it in `fill`, which is called whenever the
    page comes to the front.
    """

    KEY: ClassVar[str]
    TITLE = ""
    AUTO_FOCUS = ""
    TELLS_MARKED: ClassVar[bool] = False
    """Whether the page itself tells the marked row of its list in full; else what is cut of it stands below."""
    DEFAULT_CSS = """
    Page #in_full { color: $faint; }
    Page.-low #in_full { display: none; }
    """

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self.pressed_at = 0.0
        """When the key now being answered was pressed, in seconds of the terminal's own clock."""
        self._refused_at = -1.0
        """When the key was pressed that was refused last."""
        self._held_by: list[Worker[None]] = []
        """What was begun beside the page and may change what keys mean: they wait for it."""
        self.came_from: str | None = None
        """The page by key that asked for this one; leaving goes back there."""

    def compose(self) -> ComposeResult:
        """Lay out what all pages share around the page's body."""
        mine = self.desk.settings.keys
        yield HeadLine(self.TITLE or "")
        yield PagesLine(keys.go_key(mine), keys.pages(mine), self.app.current_mode or "")
        with Vertical(id="body"):
            yield from self.body()
            if not self.TELLS_MARKED:
                yield Wrapped(IN_FULL_LINES, id="in_full")
        yield SaidLine()
        yield RuleLine(classes="-bottom")
        yield KeyLine(keys.foot(self.KEY, mine), self.named("any.help"))

    @on(events.DescendantFocus)
    @on(events.DescendantBlur)
    def _name_help(self) -> None:
        """Name the key that shows all keys: while something is typed, one that types nothing."""
        typing = self.focused is not None and self.focused.check_consume_key("a", "a")
        self.query_one(KeyLine).show_last(self.named("any.help", typing=typing))

    def body(self) -> ComposeResult:
        """Compose what is the page's own."""
        raise NotImplementedError

    async def fill(self) -> None:
        """Ask the desk for what the page shows, and show it."""

    def arrive(self, subject: str) -> None:
        """Open with the row whose id is `subject`, because another page asked for it."""

    @property
    def takes_subjects(self) -> bool:
        """Whether another page may ask this one to open with a row."""
        return type(self).arrive is not Page.arrive

    def open_asked(self, page: "Page") -> None:
        """Open a page on top of this one; where another page asked for it, leaving it goes back there."""
        page.came_from, self.came_from = self.came_from, None
        self.app.push_screen(page)

    def action_leave(self) -> None:
        """Go back to the page below, or to the one that asked for this one."""
        self.app.pop_screen()
        if self.came_from is not None:
            self.app.switch_mode(self.came_from)

    def on_mount(self) -> None:
        """Look now and then for what other windows have written."""
        if self.desk.looks:
            self.set_interval(LOOK_S, self._look_around)

    def _look_around(self) -> None:
        """Look, where the page is in front, stands as it is told to, nothing is typed and no key was just pressed."""
        typing = self.focused is not None and self.focused.check_consume_key("a", "a")
        if self.is_current and self.takes_keys and not typing and Message().time - self.pressed_at > LOOK_S:
            _: Worker[None] = self.run_worker(self._show_others, group="others", exclusive=True)

    async def _show_others(self) -> None:
        with suppress(QcledgerError):  # a ledger that cannot be read now is told by what asks for something
            if await self.desk.stirred() and self.is_current:
                self.work(self._fill, instead_of="fill")

    def on_screen_resume(self) -> None:
        """Fill the page whenever it comes to the front, for another page may have changed what it shows."""
        self.work(self._fill, instead_of="fill")

    @property
    def waits_for_fill(self) -> bool:
        """Whether keys mean nothing, or something else, until the page was filled."""
        return True

    @property
    def takes_keys(self) -> bool:
        """Whether the page stands as it is told to: nothing is under way by which a key would mean something else."""
        self._held_by = [job for job in self._held_by if not (job.is_finished or job.is_cancelled)]
        return self.is_mounted and not self._held_by and not any(one.is_loading for one in self._lists())

    def _lists(self) -> Iterable[Rows]:
        """Return the lists that are shown on the page."""
        return (one for one in self.walk_children(Rows) if one.is_on_screen)

    def going(self, *, awaited: bool) -> None:
        """Show that the letter of a page is awaited, or no longer."""
        self.query_one(PagesLine).show(self.app.current_mode or "", going=awaited)

    def on_screen_suspend(self) -> None:
        """Leave nothing said behind when another page comes to the front; it would be old when one comes back."""
        if isinstance(self.app.screen, Page):
            self.say("")

    async def _fill(self) -> None:
        if not self.desk.is_ready:
            self.say(OPENING)
        await self.fill()
        if self.query_one(SaidLine).said == OPENING:
            self.say("")

    def on_key(self, event: events.Key) -> None:
        """Keep the time of the press: while the program is busy, presses queue up and are answered later."""
        self.pressed_at = event.time

    @property
    def chapter(self) -> str:
        """The chapter of the guide that speaks of this page, or the key of the page."""
        return self.KEY

    def head(self, *parts: str) -> None:
        """Say beside the page's name what it is about."""
        self.query_one(HeadLine).show(*parts)

    def say(self, line: str, *, problem: bool = False) -> None:
        """Say one line to the tester."""
        self._refused_at = self.pressed_at if problem else -1.0
        self.query_one(SaidLine).say(line, problem=problem)

    def mention(self, line: str) -> None:
        """Say what no key has asked for; what was refused stands until the next key."""
        if self._refused_at != self.pressed_at:
            self.say(line)

    def works(self, verb: str) -> bool:
        """Whether one of the page's own actions has something to do now; the help leaves out what has not."""
        return True

    def unknown(self, key: str) -> str:
        """Return what is said of a key that does nothing here."""
        mine = self.desk.settings.keys
        return f"{key} does nothing here; {self.named('any.help')[0]} lists the keys, {keys.go_key(mine)} opens pages"

    def saved(self) -> None:
        """Say when the last save was made, in the tester's own time zone."""
        self.save_state(f"saved {self.clock_time}")

    @property
    def clock_time(self) -> str:
        """The time of day where the tester works, to the second."""
        return shown_time(self.desk.now(), self.desk.zone)

    def save_state(self, state: str) -> None:
        """Show how far the last save has come."""
        self.query_one(SaidLine).save_state(state)

    def foot(self, pairs: Sequence[tuple[str, str]] | None = None, *verbs: str) -> None:
        """Show these keys, then those of the page's own `verbs`; without any, the page's usual ones."""
        mine = self.desk.settings.keys
        usual = keys.foot(self.KEY, mine) if pairs is None and not verbs else []
        named = [action for action in keys.actions_of(self.KEY) if action.id.partition(".")[2] in verbs]
        own = [(keys.key_name(keys.keys_of(action, mine)[0]), action.label) for action in named]
        self.query_one(KeyLine).show([*usual, *(pairs or ()), *own])

    # Taking back

    @property
    def undone_as(self) -> str:
        """The name under which this page notes what it did."""
        return self.KEY

    def did(self, back: Back) -> None:
        """Let what was just saved be taken back, from this page or any other of the window."""
        self.desk.done.add(self.undone_as, back)

    def action_undo(self) -> None:
        """Take back the last thing done in this window, on whichever page that was."""
        self.work(self.take_back)

    async def take_back(self) -> None:
        """Take back the last thing done in this window and say what that was, where it can be seen in front."""
        await self.desk.settled()
        if (newest := self.desk.done.newest) is None:
            self.say(NOTHING_DONE, problem=True)
            return
        self.desk.done.drop(newest)
        try:
            said = await newest.back(self)
        except BaseException:
            self.desk.done.restore(newest)
            raise
        self.saved()
        self.workers.cancel_group(self, "fill")  # what was asked before shows what stood, and would be said over this
        await self.fill()
        self.say(said)

    def named(self, action_id: str, *, typing: bool = False) -> tuple[str, str]:
        """Return an action of every page as the foot names it: its first key, or one that types nothing."""
        action = next(action for action in keys.actions_of(EVERY_PAGE) if action.id == action_id)
        held = keys.keys_of(action, self.desk.settings.keys)
        quiet = [key for key in held if len(key) > 1] if typing else []
        return keys.key_name([*quiet, *held][0]), action.label

    def work(self, job: Callable[[], Awaitable[None]], *, instead_of: str = "", holds: bool | None = None) -> None:
        """Run `job` beside the page; what goes wrong for the user is said in one line.

        A job with `instead_of` takes the place of an unfinished one of that name. Keys wait for a job that `holds`
        them, because it opens or shows something else than what is in front; so do all that do not say otherwise.
        """

        async def told() -> None:
            try:
                await self._tell_of(job)
            except NoMatches:
                await asyncio.sleep(GONE_S)  # a page on its way out is gone by then, and this job with it
                if self.is_attached and self.app.is_running:  # else the page or the program was left meanwhile
                    raise

        begun: Worker[None] = self.run_worker(told, group=instead_of or "job", exclusive=bool(instead_of))
        if self.waits_for_fill if holds is None and instead_of == "fill" else holds is not False:
            self._held_by.append(begun)

    async def _tell_of(self, job: Callable[[], Awaitable[None]]) -> None:
        try:
            await job()
        except NotConfirmed as error:
            self.save_state("not confirmed, same key tries again")
            self.say(error.told(), problem=True)
        except QcledgerError as error:
            self.say(error.told(), problem=True)

    def on_rows_marked(self, message: Message) -> None:
        """Show below the list what of its marked row has no room in the columns."""
        for below in self.query("#in_full").results(Wrapped):
            rows = getattr(message, "rows")  # noqa: B009 - a page without a list loads none
            below.show(rows.left_out() if rows.display else "")

    def on_field_mended(self) -> None:
        """Say no longer that a field was refused: it is another text now."""
        line = self.query_one(SaidLine)
        if line.is_problem:
            self.say("")

    @on(Tell)
    def _on_tell(self, told: Tell) -> None:
        told.stop()
        self.say(told.line, problem=told.problem)
