"""The beat that counts for busy hands, and the timers that run beside it."""

from collections.abc import Callable
from typing import Final

from textual.content import Content
from textual.message import Message
from textual.timer import Timer as Ticker
from textual.widget import Widget

from qcledger.bench.timers import Beat, Timers
from qcledger.screens.shown import shown_line
from qcledger.text import shorten

TICK_S: Final = 0.1
"""Seconds between two looks at the clock."""


class Pulse(Widget):
    """One line: what is counted and how far on the left, timers on the right; it flashes once a second.

    Parameters
    ----------
    clock
        Seconds that never run backwards.
    bell
        Whether each second also sounds the terminal's bell.
    """

    DEFAULT_CSS = """
    Pulse { height: 1; }
    Pulse.-flash { text-style: reverse; }
    """

    class Over(Message):
        """The beat has reached the stop of its test."""

    def __init__(self, clock: Callable[[], float], *, bell: bool) -> None:
        super().__init__()
        self._clock = clock
        self._bell = bell
        self._said = ""
        self._unit = ""
        self._beat: Beat | None = None
        self._counted = 0
        self._named = Timers({})
        self._ticker: Ticker | None = None

    @property
    def beat(self) -> Beat | None:
        """The beat, while it runs."""
        return self._beat

    def on_mount(self) -> None:
        """Look at the clock from now on, as long as there is something to count."""
        self._ticker = self.set_interval(TICK_S, self._tick, pause=True)

    def say(self, words: str) -> None:
        """Show words on the left while no beat runs: a reading at hand, or how to take one."""
        self._said = words
        self.refresh()

    def start(self, unit: str, stop_at: float | None) -> None:
        """Start counting `unit` at one a second."""
        self._beat, self._unit, self._counted = Beat(self._clock(), stop_at), unit, 0
        self._wake()

    def stop(self) -> Beat | None:
        """Stop the beat and return it; None when none was running."""
        stopped, self._beat = self._beat, None
        self.remove_class("-flash")
        self._wake()
        return stopped

    def toggle_timer(self, name: str) -> bool:
        """Start the timer `name` or stop it; says whether it runs now."""
        self._named = self._named.toggle(name, self._clock())
        self._wake()
        return name in self._named.started

    @property
    def timers(self) -> Timers:
        """The timers that run."""
        return self._named

    def _wake(self) -> None:
        if self._ticker is not None:
            (self._ticker.resume if self._beat or self._named.started else self._ticker.pause)()
        self.refresh()

    def _tick(self) -> None:
        """Count on; at the stop of the test say so once."""
        now = self._clock()
        if self._beat is not None:
            counted = self._beat.count(now)
            if counted != self._counted:
                self._flash(counted)
            if self._beat.is_over(now):
                self.post_message(self.Over())
        self.refresh()

    def _flash(self, counted: int) -> None:
        self._counted = counted
        self.toggle_class("-flash")
        if self._bell:
            self.app.bell()

    def render(self) -> Content:
        """Return the line; the count is never cut."""
        width = self.size.width
        now = self._clock()
        left = self._said if self._beat is None else f"{self._unit}: {self._beat.count(now)}, space stops"
        running = "   ".join(f"{name} {time}" for name, time in self._named.shown(now))
        right = shorten(running, max(width - len(left) - 2, 0))
        gap = " " * max(width - len(left) - len(right), 0)
        return Content.assemble(shown_line(left, "bold" if self._beat else ""), gap, shown_line(right))
