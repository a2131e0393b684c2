"""Tell a key that is meant from one that is held down or bounces."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

REPEAT_S: Final = 0.06
"""Keyboards repeat a held key faster than this many seconds; fingers do not."""
DELAY_S: Final = 1.0
"""Keyboards begin to repeat a held key within this many seconds."""


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


def judge(last: Press | None, key: str, at: float, *, twice: bool = True) -> tuple[KeyVerdict, Press]:
    """Return what to make of `key` pressed at `at` seconds, and what to remember for the next press.

    The same key twice always counts, however fast: zeros are the commonest grade. Two gaps in a row that no finger
    makes are a held key: from the third press on it is ignored, and the second is to be taken back. A keyboard waits
    up to `DELAY_S` before it repeats a held key, so that its first repeat looks like a second press; one fast sign
    behind that may be a bounce, two give the held key away.

    Parameters
    ----------
    last
        What was remembered of the press before.
    key, at
        The key, and when it was pressed, in seconds.
    twice
        Whether a second press as fast as a bounce counts; it does where grades are typed.
    """
    if last is None or last.key != key or at - last.at > DELAY_S:
        return KeyVerdict.TAKE, Press(key, at)
    if at - last.at >= REPEAT_S:
        return KeyVerdict.TAKE, Press(key, at, doubtful=True)
    fast = last.fast + 1
    if fast == 1 and twice and not last.doubtful:
        return KeyVerdict.TAKE, Press(key, at, doubtful=True, fast=fast)
    if fast > 1 and last.doubtful:
        return KeyVerdict.TAKE_BACK, Press(key, at, fast=fast)
    return KeyVerdict.IGNORE, Press(key, at, last.doubtful, fast)
