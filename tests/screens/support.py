"""What tests of the pages share: a plain picture of the screen, and a page with one list and one field."""

import time
from collections.abc import Callable
from typing import Any

from textual.app import App, ComposeResult
from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Static

from qcledger.door import LedgerIdentity
from qcledger.screens.app import Pages
from qcledger.screens.desk import Desk
from qcledger.screens.page import Page
from qcledger.screens.shown import shown
from qcledger.screens.widgets.fields import NEEDED, Field
from qcledger.screens.widgets.ladder import Ladder, LadderOfAnchors
from qcledger.screens.widgets.rows import Column, Row, Rows
from qcledger.settings import Settings
from tests.screens.rest import are_asked

QUIET = 2
"""Looks without work after which nothing more is to come: a dialog that closes asks for its save later."""
LOOK_S = 0.01
"""Seconds between the first two looks at what is not so yet."""
SELDOM_S = 0.1
"""Seconds between two looks at most: each draws a page anew, while what is waited for needs the processor itself."""
LONGER = 1.5
"""How many times longer each wait is than the one before."""
LOOKS = 3000
"""Looks after which a test gives up."""
LONGEST_S = 90.0
"""Seconds after which it gives up, be the machine as busy as it may, once it has looked fifty times."""


class GivenDoor:
    """A door to whatever a test puts behind it."""

    def __init__(self, make: Callable[[], Any] = object) -> None:
        self._make = make
        self._ledger: Any = None
        self.closed = False

    @property
    def ledger(self) -> Any:
        """Return what is behind the door, made when first asked for."""
        if self._ledger is None:
            self._ledger = self._make()
        return self._ledger

    def identity(self) -> LedgerIdentity:
        """Return what no file says."""
        return LedgerIdentity("given", frozenset())

    def close(self) -> None:
        """Remember that the door was closed."""
        self.closed = True


class Nothing:
    """Stands for a ledger without a time zone and without a row, where a test asks for nothing else of it."""

    zone = None

    def rows(self, *_: object, **__: object) -> tuple[()]:
        """Return no row of any kind."""
        return ()


def desk_of(make: Callable[[], Any] = Nothing, settings: Settings | None = None, **kwargs: Any) -> Desk:
    """Return a desk whose two doors lead to what `make` makes."""
    return Desk(GivenDoor(make), GivenDoor(make), settings or Settings(), **kwargs)


def frame(app: App[Any]) -> list[str]:
    """Return what the screen shows, one plain line a row, blanks at the ends taken off."""
    return [strip.text.rstrip() for strip in app.screen._compositor.render_strips()]


def marked_fields(app: App[Any]) -> list[str]:
    """Return the names of the fields in front whose label carries the mark of what must be filled in."""
    labels = ((field, str(field.query_one(".label", Static).render())) for field in app.screen.query(Field))
    return [field.name or "" for field, label in labels if label.rstrip().endswith(NEEDED[0])]


def picture(app: App[Any]) -> str:
    """Return what the screen shows as one text."""
    return "\n".join(frame(app))


def is_drawn(app: App[Any]) -> bool:
    """Whether the screen in front has its widgets and was laid out."""
    return app.screen.is_mounted and app.screen._compositor.size == app.size


def in_front(app: App[Any], kind: type[Screen[Any]]) -> bool:
    """Whether a screen of this kind is in front and drawn: one that was only just pushed has no fields yet."""
    return isinstance(app.screen, kind) and is_drawn(app)


async def settle(pilot: Pilot[Any], quiet: int = QUIET) -> None:
    """Wait until nothing was at work beside the pages for so many looks in a row, each with the pages at rest."""
    still = 0
    for _ in range(LOOKS):
        await pilot.pause()
        busy = _is_blank(pilot.app) or are_asked() or not all(worker.is_finished for worker in pilot.app.workers)
        still = 0 if busy else still + 1
        if still == quiet:
            return
        if busy:
            await pilot.pause(LOOK_S)
    raise AssertionError(picture(pilot.app))


def _is_blank(app: App[Any]) -> bool:
    """Whether no page has come yet."""
    return isinstance(app, Pages) and type(app.screen) is Screen


async def until(pilot: Pilot[Any], true: Callable[[], bool]) -> None:
    """Wait until something is so; fail with what the screen shows when it never is."""
    wait, end = LOOK_S, time.monotonic() + LONGEST_S
    for looks in range(LOOKS):
        await pilot.pause()
        if true():
            return
        if looks > 50 and time.monotonic() > end:
            break
        await pilot.pause(wait)
        wait = min(SELDOM_S, wait * LONGER)
        if (broke := pilot.app._exception) is not None:
            raise broke
    raise AssertionError(picture(pilot.app))


class Sample(Page):
    """A page with one of everything, filled with texts a test gives."""

    KEY = "sample"
    TITLE = "Sample"
    TEXTS: tuple[str, ...] = ("plain",)

    def body(self) -> ComposeResult:
        """Lay out a ladder, a field and a list."""
        yield LadderOfAnchors()
        yield Field("field", self.TEXTS[0], lambda _: self.TEXTS[0], value=self.TEXTS[0], hint=self.TEXTS[0])
        yield Rows([Column("title", 8, grows=True), Column("n", 4, right=True, need=1)], self.rows)

    async def rows(self, first: int, most: int) -> list[Row]:
        """Return the given texts as rows."""
        return [Row(str(i), (text, str(i))) for i, text in enumerate(self.TEXTS)][first : first + most]

    async def fill(self) -> None:
        """Show every text in every place."""
        self.head(*self.TEXTS[:3])
        self.say(self.TEXTS[0])
        self.query_one(LadderOfAnchors).show(Ladder(dict(enumerate(self.TEXTS[:6])), chosen=1, fault_from=1))
        self.query_one(Rows).show(len(self.TEXTS))
        self.notify(shown(self.TEXTS[0]).plain or "-", markup=False)


class Other(Sample):
    """A second page."""

    KEY = "other"
    TITLE = "Other"


SAMPLES = {
    "loose_ends": ("Sample", "tests.screens.support:Sample"),
    "stock": ("Other", "tests.screens.support:Other"),
}
