"""Tell a key that is meant from one that is held down or bounces."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

HOLD_S: Final = 0.3
"""Repeats of a key sooner than this many seconds after its last sign of life are ignored."""
REPEAT_S: Final = 0.1
"""Keyboards repeat a held key faster than this; fingers do not."""
DELAY_S: Final = 1.0
"""Keyboards begin to repeat a held key within this time, often later than `HOLD_S`."""


class KeyVerdict(StrEnum):
    """What a press of a key is."""

    TAKE = "take"
    IGNORE = "ignore"
    TAKE_BACK = "take back"


@dataclass(frozen=True, slots=True)
class Press:
    """The last press of a key and what is known about it.

    Parameters
    ----------
    key
        The key.
    at
        When it last gave a sign, in seconds.
    doubtful
        Whether the press taken last may have been the first repeat of a held key.
    fast
        How many signs in a row came as fast as only a held key sends them.
    """

    key: str
    at: float
    doubtful: bool = False
    fast: int = 0


def judge(last: Press | None, key: str, at: float) -> tuple[KeyVerdict, Press]:
    """Return what to make of `key` pressed at `at` seconds, and what to remember for the next press.

    A keyboard waits up to a second before it repeats a held key, so that the first repeat looks like a second press.
    Two fast repeats right after it give it away: it is to be taken back.
    """
    if last is None or last.key != key or at - last.at > DELAY_S:
        return KeyVerdict.TAKE, Press(key, at)
    gap = at - last.at
    if gap >= HOLD_S:
        return KeyVerdict.TAKE, Press(key, at, doubtful=True)
    fast = last.fast + 1 if gap <= REPEAT_S else 0
    if last.doubtful and fast >= 2:
        return KeyVerdict.TAKE_BACK, Press(key, at, fast=fast)
    return KeyVerdict.IGNORE, Press(key, at, last.doubtful, fast)
