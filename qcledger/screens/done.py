"""What was done last in this window, on whichever page, so that it can be taken back from whichever page."""

from collections import defaultdict
from collections.abc import Awaitable, Callable, Sized
from dataclasses import dataclass
from threading import Lock
from typing import Any

Back = Callable[[Any], Awaitable[str]]
"""Takes one thing back, given the page that is in front by then, and returns what to say."""


@dataclass(frozen=True, slots=True, eq=False)
class Done:
    """One thing done.

    Parameters
    ----------
    by
        Who did it: a page's name with what it is about. That page may take it back in a way of its own.
    back
        Takes it back from any other page.
    depth, of
        For one who keeps steps of his own: how many there were with this one, and where they are kept. With fewer
        it was taken back already.
    """

    by: str
    back: Back
    depth: int = 0
    of: Sized = ()

    @property
    def stands(self) -> bool:
        """Whether it was not taken back in another way."""
        return len(self.of) >= self.depth


class Doings:
    """Everything that can be taken back in one window, in the order it was done."""

    def __init__(self) -> None:
        self._done: list[Done] = []
        self._steps: defaultdict[str, list[Any]] = defaultdict(list)
        self._restored: dict[str, str] = {}
        self._lock = Lock()

    def add(self, by: str, back: Back) -> None:
        """Let something that was just saved be taken back."""
        with self._lock:
            self._done.append(Done(by, back))

    def step(self, by: str, of: Sized, back: Back, new: int = 1) -> None:
        """Let the last `new` of some steps be taken back, for one who keeps them; may be called from any thread.

        Steps of the same one that were taken back meanwhile are forgotten.
        """
        depth = len(of)
        with self._lock:
            self._done = [one for one in self._done if one.of is not of or one.depth <= depth - new]
            self._done += [Done(by, back, number, of) for number in range(depth - new + 1, depth + 1)]

    def steps(self, by: str) -> list[Any]:
        """Return the list in which someone keeps steps of his own; it outlives his page."""
        return self._steps[by]

    @property
    def newest(self) -> Done | None:
        """What was done last and still stands; None when there is nothing."""
        with self._lock:
            while self._done and not self._done[-1].stands:
                self._done.pop()
            return self._done[-1] if self._done else None

    def is_last(self, by: str) -> bool:
        """Say whether what was done last was done by someone, or nothing was done at all."""
        newest = self.newest
        return newest is None or newest.by == by

    def drop(self, done: Done) -> None:
        """Forget what was taken back."""
        with self._lock:
            self._done = [one for one in self._done if one is not done]

    def drop_last(self, by: str) -> None:
        """Forget what was done last if someone did it: it is done in another way now."""
        if (newest := self.newest) is not None and newest.by == by:
            self.drop(newest)

    def clear(self) -> None:
        """Forget everything, whoever keeps it: what was done may hold words that are gone for good."""
        with self._lock:
            for steps in (*self._steps.values(), *(one.of for one in self._done)):
                if isinstance(steps, list):
                    steps.clear()
            self._done.clear()

    def restore(self, done: Done) -> None:
        """Put back what could not be taken back; it is the newest again."""
        with self._lock:
            self._done.append(done)

    def restored(self, row: str, under: str) -> None:
        """Note under which id a row stands since it was restored."""
        self._restored[row] = under

    def stands_as(self, row: str) -> str:
        """Return the id under which a row stands by now: its own, unless it was restored since."""
        while row in self._restored:
            row = self._restored[row]
        return row
