"""Days as a tester lives them: the local day of an instant, a day written back to an instant, and sittings.

Instants are aware and kept in UTC. Which day one falls on depends on a time zone, so nowhere else is a day taken from
an instant. A zone that is None is this machine's own: good enough to show a time by, never to count by.
"""

import os
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from itertools import pairwise
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

from qcledger.errors import bad

AHEAD: Final = timedelta(hours=14)
"""How far the calendar of the easternmost time zone is ahead of UTC."""
EASTERNMOST: Final = timezone(AHEAD)
"""Where a day begins first."""
PAUSE: Final = timedelta(hours=6)
"""A pause from which on work goes on in another sitting (our proposal)."""

_LINK: Final = Path("/etc/localtime")
_NAMED: Final = Path("/etc/timezone")
_TREE: Final = "zoneinfo/"
_NO_PLACES: Final = frozenset({"localtime", "Factory"})
"""Names in the zone files that mean another zone on each machine, or none."""


# Zones


def zone_named(name: str, where: str = "time zone") -> ZoneInfo:
    """Return the time zone with an IANA name, as in ``Europe/Berlin``.

    Raises
    ------
    BadInput
        When there is none; the names most like it are proposed.
    """
    known = available_timezones() - _NO_PLACES
    if name in known:
        return ZoneInfo(name)
    from difflib import get_close_matches  # here, because most names are right

    by_form = {_form(one): one for one in known}
    ends = {form.rpartition("/")[2]: form for form in sorted(by_form)}
    likely = [by_form[ends[end]] for end in get_close_matches(_form(name).rpartition("/")[2], ends, n=3, cutoff=0.75)]
    examples = " or ".join(likely or ("Europe/Berlin", "Pacific/Auckland"))
    raise bad(where, name, f"an IANA name, as in {examples}")


def _form(name: str) -> str:
    return name.strip().casefold().replace(" ", "_")


def kept_zone(name: str) -> ZoneInfo | None:
    """Return the time zone of a name that was checked when it was kept; None where it is not known here."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None


def machine_zone() -> str | None:
    """Return the IANA name of this machine's time zone; None where the system does not tell it.

    The environment variable ``TZ`` decides where it is set, as for every program; else where ``/etc/localtime``
    leads, else what ``/etc/timezone`` says.
    """
    told = os.environ.get("TZ")
    if told is not None:
        return _known(_named_by(told.removeprefix(":"))) if told else "Etc/UTC"
    return _known(_below_tree(_linked(_LINK))) or _known(_written())


def _named_by(told: str) -> str:
    """Return the name of a zone that is told by its name, or by the path of its file, as some systems set it."""
    return _below_tree(_linked(Path(told)) if told.startswith("/") else told)


def _linked(path: Path) -> str:
    try:
        return os.path.realpath(path, strict=True)
    except OSError:
        return ""


def _written() -> str:
    try:
        return _NAMED.read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError):
        return ""


def _below_tree(path: str) -> str:
    """Return the name of a zone's file; copies of the tree that count leap seconds name the same zones."""
    below = path.rpartition(_TREE)[2] if _TREE in path else path
    return below.removeprefix("posix/").removeprefix("right/")


def _known(name: str) -> str | None:
    return name if name and name not in _NO_PLACES and kept_zone(name) is not None else None


def same_clock(one: tzinfo, other: tzinfo, now: datetime) -> bool:
    """Say whether two zones show the same time in the year around `now`, by whatever name."""
    weeks = (now + timedelta(weeks=week) for week in range(-26, 27))
    return all(one.utcoffset(_there(at, one)) == other.utcoffset(_there(at, other)) for at in weeks)


def _there(at: datetime, zone: tzinfo) -> datetime:
    return at.astimezone(zone)


# Days


def local(at: datetime, zone: tzinfo | None = None) -> datetime:
    """Return an instant as clock and calendar show it in a zone; in this machine's for None."""
    return at.astimezone(zone)


def day_of(at: datetime, zone: tzinfo | None = None) -> date:
    """Return the day that an instant falls on in a zone; in this machine's for None."""
    return local(at, zone).date()


def noon(day: date, zone: tzinfo) -> datetime:
    """Return the instant, in UTC, that stands for something of which only the day is known: noon in a zone."""
    return datetime.combine(day, time(12), zone).astimezone(UTC)


def instant(told: datetime, zone: tzinfo | None = None) -> datetime:
    """Return the instant, in UTC, of a time as a clock shows it in a zone; one that names its own zone keeps that.

    Of an hour that the clock shows twice in autumn the first is meant; one it leaves out in spring is an hour later.
    """
    there = told.replace(tzinfo=zone) if told.tzinfo is None else told
    return there.astimezone(UTC)


def day_told(told: datetime) -> date:
    """Return the day of a time as a spreadsheet tells it, which is no instant: it has no zone."""
    return told.date()


# Sittings


def sittings(instants: Sequence[datetime]) -> list[int]:
    """Return for each instant, in any order, the number of its sitting, which rise with time from 0.

    A sitting is a run of work without a pause of six hours or more; midnight and the change of the clocks are none.
    """
    order = sorted(range(len(instants)), key=instants.__getitem__)
    found = [0] * len(instants)
    for before, place in pairwise(order):
        found[place] = found[before] + (instants[place] - instants[before] >= PAUSE)
    return found
