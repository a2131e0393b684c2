"""Tests of the pages wait for what is at work, and fail on what cannot be drawn."""

import asyncio
import time

import pytest
from textual.app import App, ComposeResult
from textual.widgets import Static

from qcledger.screens.desk import Desk
from tests.screens import rest
from tests.screens.support import desk_of


class Working(App[None]):
    """A key begins work in a thread, whose outcome is shown."""

    def compose(self) -> ComposeResult:
        """Show one text."""
        yield Static("before")

    def on_key(self) -> None:
        """Begin the work."""
        self.run_worker(self.work())

    async def work(self) -> None:
        """Work in a thread, then show that it is done."""
        await asyncio.to_thread(_busy)
        self.query_one(Static).update("after")


def _busy() -> None:
    end = time.monotonic() + 0.1
    while time.monotonic() < end:
        pass


class Bad(Static):
    """Cannot be drawn once it says so."""

    fails = False

    def render_line(self, y):
        """Draw a line, or fail."""
        if self.fails:
            raise RuntimeError("cannot be drawn")
        return super().render_line(y)


class Broken(App[None]):
    """Breaks from the start, or at a key."""

    def __init__(self, *, at_once: bool) -> None:
        super().__init__()
        self.at_once = at_once

    def compose(self) -> ComposeResult:
        """Show what cannot be drawn."""
        bad = Bad("x")
        bad.fails = self.at_once
        yield bad

    def on_key(self) -> None:
        """Break."""
        self.query_one(Bad).fails = True
        self.query_one(Bad).refresh()


class Ticking(App[None]):
    """Is never wholly at rest."""

    def on_mount(self) -> None:
        """Do something every few milliseconds."""
        self.set_interval(0.005, lambda: None)


async def test_work_in_a_thread_is_waited_for():
    """Behind a key and a pause its outcome is there, not what stood before."""
    async with Working().run_test() as pilot:
        await pilot.press("a")
        await settle_blank(pilot)
        assert str(pilot.app.query_one(Static).render()) == "after"


async def settle_blank(pilot):
    """Wait as `settle` does, where the app has no page of ours."""
    for _ in range(100):
        await pilot.pause()
        if all(worker.is_finished for worker in pilot.app.workers):
            return
    pytest.fail("never at rest")


@pytest.mark.parametrize("at_once", [True, False])
async def test_what_cannot_be_drawn_fails_where_nobody_looks(at_once):
    """From the start, or behind the last key of a test that looks at nothing."""
    with pytest.raises(RuntimeError, match="cannot be drawn"):
        async with Broken(at_once=at_once).run_test() as pilot:
            await pilot.press("a")


async def test_what_never_rests_holds_no_test_up():
    """A timer of a few milliseconds lets a pause end."""
    async with Ticking().run_test() as pilot:
        for _ in range(3):
            await pilot.pause()
        assert pilot.app.is_running


_KEPT: list[Desk] = []


@pytest.mark.parametrize("turn", ["first", "second"])
def test_threads_are_looked_at_no_longer_than_their_test(turn):
    """Each look whether something is at work asks the threads of one test, not those of all before."""
    assert not rest.THREADS
    _KEPT.append(desk_of())
    assert rest.THREADS
