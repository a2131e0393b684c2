"""The bench page under test: a clock that the test holds, and what is on disk."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from typing import Any

from textual.pilot import Pilot

from qcledger.door import Door
from qcledger.records import Observation
from qcledger.screens.app import Pages
from qcledger.screens.bench.page import Bench as BenchPage
from qcledger.screens.desk import Desk
from qcledger.screens.widgets.lines import SaidLine
from qcledger.settings import Settings
from tests.screens.support import in_front, picture, until
from tests.small import Small

TABLE = {
    "bench": ("Bench", "qcledger.screens.bench:Bench"),
    "stock": ("Other", "tests.screens.support:Other"),
}


class Bench:
    """The page on a small ledger."""

    def __init__(self, small: Small, **settings: Any) -> None:
        self.small = small
        self.seconds = 100.0
        self.desk = Desk(
            Door(small.place),
            Door(small.place, write=True),
            Settings(**settings),
            now=lambda: datetime(2026, 3, 9, 14, 2, 31, tzinfo=UTC),
            clock=lambda: self.seconds,
        )
        self.app = Pages(self.desk, TABLE)
        self.pilot: Pilot[Any]
        self.presses = 0

    @asynccontextmanager
    async def run(self, size: tuple[int, int] = (80, 24)) -> "AsyncIterator[Bench]":
        """Run the page until its sheet is open."""
        async with self.app.run_test(size=size) as self.pilot:
            await self.until(lambda: in_front(self.app, BenchPage))
            await self.until(lambda: self.page.atwork is not None)
            yield self
            await self.saved()
        self.desk.close()

    @property
    def page(self) -> BenchPage:
        """The page."""
        for screen in self.app.screen_stack:
            if isinstance(screen, BenchPage):
                return screen
        raise AssertionError(self.app.screen_stack)

    @property
    def said(self) -> SaidLine:
        """What was said and saved."""
        return self.page.query_one(SaidLine)

    @property
    def picture(self) -> str:
        """What the screen shows."""
        return picture(self.app)

    @property
    def place(self) -> tuple[int, str]:
        """The line and criterion at work."""
        assert self.page.atwork is not None
        return tuple(self.page.atwork.here)  # type: ignore[return-value]

    async def press(self, *keys: str) -> None:
        """Press keys as a calm hand does: far enough apart to be meant."""
        for key in keys:
            self.page._press = None
            await self.pilot.press(key)
            self.presses += 1

    async def until(self, true: Callable[[], bool]) -> None:
        """Wait until something is so; the pages run in this very loop."""
        await until(self.pilot, true)

    async def saved(self) -> None:
        """Wait until nothing is being saved."""
        await self.until(lambda: self.page._saving == 0)

    def on_disk(self) -> list[Observation]:
        """Return the observations that a newly opened ledger finds, oldest first."""
        with self.small.open() as ledger:
            return sorted(ledger.rows(Observation), key=lambda seen: seen.id)
