"""Timers by name, and a beat of one a second that counts for hands that are busy; the clock is an argument."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from qcledger.vocab import Censored

COUNTED: Final = ("turns", "strokes", "rubs", "s")
"""First words of the units that a beat of one a second counts."""


@dataclass(frozen=True, slots=True)
class Beat:
    """A beat that runs since `started` seconds, and ends by itself after `stop_at` counts if that is given."""

    started: float
    stop_at: float | None = None

    def count(self, now: float) -> int:
        """Return how many whole seconds have passed, the stop included."""
        counted = int(max(now - self.started, 0))
        return counted if self.stop_at is None else min(counted, int(self.stop_at))

    def is_over(self, now: float) -> bool:
        """Say whether the test has reached its stop."""
        return self.stop_at is not None and now - self.started >= self.stop_at

    def reading(self, now: float) -> tuple[float, Censored]:
        """Return the count as a reading: beyond the stop it is only known to be above it."""
        return float(self.count(now)), Censored.ABOVE if self.is_over(now) else Censored.EXACT


def is_counted(unit: str) -> bool:
    """Say whether a beat of one a second counts this unit, as in "turns" or "s until the froth is gone"."""
    return unit.split(" ")[0] in COUNTED


@dataclass(frozen=True, slots=True)
class Timers:
    """Named timers that run at once: name to the second each was started."""

    started: Mapping[str, float]

    def toggle(self, name: str, now: float) -> "Timers":
        """Return the timers with `name` started, or stopped when it was running."""
        running = dict(self.started)
        if running.pop(name, None) is None:
            running[name] = now
        return Timers(running)

    def shown(self, now: float) -> list[tuple[str, str]]:
        """Return (name, minutes and seconds) of each timer, the oldest first."""
        return [(name, clock(now - since)) for name, since in self.started.items()]


def clock(seconds: float) -> str:
    """Return a duration as ``0:18``, ``12:40`` or ``1:02:05``."""
    whole = int(max(seconds, 0))
    hours, rest = divmod(whole, 3600)
    minutes, secs = divmod(rest, 60)
    return f"{hours}:{minutes:02}:{secs:02}" if hours else f"{minutes}:{secs:02}"
