"""Quick hands while pages open slowly: what stands in the end is what a calm hand makes by the same keys."""

import asyncio
import difflib
import random
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from textual import events
from textual.widgets import Static

from qcledger.door import Door
from qcledger.records import Observation, Trial
from qcledger.screens import desk as desks
from qcledger.screens.app import Pages
from qcledger.screens.bench import walking
from qcledger.screens.desk import Desk
from qcledger.screens.grading import Grading
from qcledger.screens.page import Page
from qcledger.screens.widgets.lines import SaidLine
from qcledger.screens.widgets.rows import Rows
from qcledger.settings import Settings
from tests.screens.support import until
from tests.small import START, small_ledger

TABLE = {
    "bench": ("Bench", "qcledger.screens.bench:Bench"),
    "stock": ("Stock", "qcledger.screens.stock:Stock"),
}
KEYS = (
    *"000011223345" * 2, *"z-+<>ue", "enter", "comma", "s", "b", "g", "escape", "down", "r", "o", "w", "n",
)  # fmt: skip
"""Digits for the most part; keys that open pages, lists and lines; and what closes them."""
WAYS = (("comma", "s", "g"), ("comma", "b"), ("escape", "comma", "b"), ("-", "u"), ("comma", "s", "down", "g", "b"))
"""What is pressed in one go now and then."""
NAMES = {"+": "plus", "-": "minus", "<": "less_than_sign", ">": "greater_than_sign"}
CHARACTERS = {"comma": ",", "enter": "\r"}
LONGEST_S = 0.03
"""Seconds that a question or a save takes at most, so that pages open while the next keys come."""


def typed(seed: int, count: int) -> list[tuple[str, float]]:
    """Return keys and when each is pressed, 20 to 400 ms apart, the same for the same seed."""
    drawn, keys = random.Random(seed), []
    while len(keys) < count:
        keys += drawn.choice(WAYS) if drawn.random() < 0.08 else [drawn.choice(KEYS)]
    at, stamped = 1000.0, []
    for key in keys[:count]:
        at += drawn.uniform(0.02, 0.4)
        stamped.append((key, at))
    return stamped


@dataclass(frozen=True)
class Stood:
    """One observation as it can be told from a second run: of which specimen, on which criterion, and what."""

    specimen: str
    criterion: str
    grade: float | None
    choice: str | None
    not_testable: str | None
    note: str


class Hands:
    """All pages on a small ledger, and hands on the keys."""

    def __init__(self, place: Path) -> None:
        self._place = place
        self.desk = Desk(Door(place), Door(place, write=True), Settings(), now=lambda: START)
        self.app = Pages(self.desk, TABLE)
        self.pilot: Any = None
        self.trace: list[str] = []
        """What each key found in front when it was answered, and which were given up: told where two hands differ."""
        answer, given_up = self.app.answer, self.app.keys_given_up

        async def traced(key: events.Key) -> None:
            self.trace.append(f"{key.key} at {type(self.app.screen).__name__}, {self._at_work()}, {self.app.focused}")
            await answer(key)

        def lost(keys: Any) -> None:
            self.trace.append(f"given up: {[key.key for key in keys]}")
            given_up(keys)

        self.app.answer, self.app.keys_given_up = traced, lost  # type: ignore[method-assign]

    def _at_work(self) -> str:
        screen = self.app.screen
        return str(screen.atwork.place) if isinstance(screen, Grading) and screen.atwork else "nothing at work"

    async def type(self, keys: list[tuple[str, float]], *, between: Callable[[], Any]) -> list[Stood]:
        """Press the keys, do something between any two, and return what was written in the end, in its order."""
        async with self.app.run_test(size=(80, 24)) as self.pilot:
            await until(self.pilot, lambda: isinstance(self.app.screen, Page) and self.app.screen.takes_keys)
            for key, at in keys:
                pressed = events.Key(NAMES.get(key, key), CHARACTERS.get(key, key if len(key) == 1 else None))
                pressed.time = at
                before = between and self.seen()
                self.app.post_message(pressed)
                await between()
                if isinstance(before, tuple):
                    self.look(key, before)
            await self.rest()
        self.desk.close()
        return self._on_disk()

    def seen(self) -> object:
        """Return nothing: quick hands do not look."""
        return None

    def look(self, key: str, before: object) -> None:
        """Look at what a key has done."""

    async def rest(self) -> None:
        """Wait until every key was answered and everything saved."""
        await until(self.pilot, lambda: not self.app._ahead._waits and not self.desk.is_saving)
        await until(self.pilot, lambda: all(job.is_finished or job.is_cancelled for job in self.app.workers))

    def _on_disk(self) -> list[Stood]:
        with Door(self._place).ledger as ledger:
            whose = {trial.id: trial.specimen for trial in ledger.rows(Trial)}
            rows = sorted(ledger.rows(Observation), key=lambda row: row.id)
            return [
                Stood(whose[row.trial], row.criterion, row.grade, row.choice, row.not_testable, row.note)
                for row in rows
            ]


class Calm(Hands):
    """Hands that look at the screen after each key."""

    def __init__(self, place: Path) -> None:
        super().__init__(place)
        self.silent: list[str] = []
        """Keys that had neither an effect nor a word."""

    def seen(self) -> object:
        """Wipe what was said, and return all that a key may change."""
        for line in self.app.screen.query(SaidLine):
            line.say("")
        for wrong in self.app.screen.query(".wrong").results(Static):
            wrong.update("")
        return self._state()

    def _state(self) -> tuple[object, ...]:
        screen = self.app.screen
        work = screen.atwork if isinstance(screen, Grading) else None
        at_work = work and (work.place, work.settled, work.walk, work.pending, dict(work.sheet.seen))
        focused = self.app.focused
        texts = [str(one.render()) for one in screen.query(Static)]
        typed_in = getattr(focused, "value", None), getattr(focused, "text", None)
        marks = [rows.marked for rows in screen.query(Rows)]
        return screen, at_work, self.app._going, focused, typed_in, texts, marks, self.app.current_mode

    def look(self, key: str, before: object) -> None:
        """Note a key after which everything is as it was, and nothing is said."""
        said = [line.said for line in self.app.screen.query(SaidLine) if line.said]
        if not said and self._state() == before and not (key in "<>downescape" and self._is_at_an_end()):
            self.silent.append(f"{key} on {type(self.app.screen).__name__}")

    def _is_at_an_end(self) -> bool:
        """Whether a list or a sheet goes no further that way: it is in sight."""
        return True


@pytest.fixture(autouse=True)
def _slow(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let questions and saves take their time, and a graded criterion stay until the next key."""
    monkeypatch.setattr(walking, "MOMENT_S", 600.0)
    ask, drawn = desks._Thread.ask, random.Random(7)

    def late(thread: Any, job: Any, *through: Any) -> Any:
        def slowly(ledger: Any) -> Any:
            time.sleep(drawn.uniform(0, LONGEST_S))
            return job(ledger)

        return ask(thread, slowly, *through)

    monkeypatch.setattr(desks._Thread, "ask", late)


async def compare(tmp_path: Path, seed: int, count: int) -> None:
    """Press the same keys calmly and quickly, and hold what was written against each other."""
    keys, drawn = typed(seed, count), random.Random(seed)
    (tmp_path / "calm").mkdir()
    (tmp_path / "quick").mkdir()
    calm = Calm(small_ledger(tmp_path / "calm").place)
    slow = await calm.type(keys, between=calm.rest)
    quick = Hands(small_ledger(tmp_path / "quick").place)

    async def hurry() -> None:
        await asyncio.sleep(drawn.choice([0, 0, 0.001, 0.01]))

    fast = await quick.type(keys, between=hurry)
    apart = difflib.unified_diff(calm.trace, quick.trace, "calm", "quick", n=99, lineterm="")
    assert fast == slow, "\n".join([f"seed {seed}", *apart])
    assert calm.silent == [], f"seed {seed}"
    assert any(one.grade is not None for one in slow), "the keys grade"


@pytest.mark.parametrize("seed", range(4))
async def test_quick_keys_write_what_calm_ones_write(home, tmp_path, seed):
    """Fifty keys, 20 to 400 ms apart: each has an effect or a word, none grades what another key was meant for."""
    await compare(tmp_path, seed, 50)


@pytest.mark.calibration
@pytest.mark.parametrize("seed", range(100, 200))
async def test_ten_thousand_quick_keys_write_what_calm_ones_write(home, tmp_path, seed):
    """The same of a hundred times a hundred keys."""
    await compare(tmp_path, seed, 100)
