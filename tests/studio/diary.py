"""What is written into a daybook in one go."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from PIL.Image import Image

from qcledger.records import Record

OWNER, GUEST = "OV", "TL"
NAMES = {OWNER: "OV, Brinefold Studio", GUEST: "TL, guest"}
"""Whom a daybook and all that is written in it names; one name each, or one tester would count as two."""


def moment(day: date, hour: int, minute: int = 0, seconds: float = 0) -> datetime:
    """Return a time of a day, in UTC, to the millisecond; `seconds` may go beyond a minute."""
    return datetime.combine(day, time(hour, minute), UTC) + timedelta(milliseconds=round(1000 * seconds))


@dataclass(frozen=True, slots=True)
class Page:
    """Records written by one tester in one go, at one time."""

    at: datetime
    by: str
    records: tuple[Record, ...]
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Shot:
    """A photo filed at a time for an observation; `draw` makes it."""

    at: datetime
    by: str
    observation: str
    specimen: str
    name: str
    caption: str
    draw: Callable[[], Image]
