"""Days and sittings: the local day of an instant, a day written back to an instant, and runs of work."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qcledger import clock
from qcledger.errors import BadInput

LIVED = ("Pacific/Auckland", "America/Los_Angeles", "Asia/Kolkata", "Europe/Berlin")
CHANGES = {
    "Pacific/Auckland": (date(2026, 4, 5), date(2026, 9, 27)),
    "America/Los_Angeles": (date(2026, 3, 8), date(2026, 11, 1)),
    "Asia/Kolkata": (date(2026, 3, 29), date(2026, 10, 25)),
    "Europe/Berlin": (date(2026, 3, 29), date(2026, 10, 25)),
}
"""Days on which the clock is changed there; in Kolkata never, so two days on which it is elsewhere."""
ZONES = st.sampled_from(LIVED).map(ZoneInfo)
DAYS = st.dates(date(2020, 1, 1), date(2035, 1, 1))
MOMENTS = st.builds(lambda day, seconds: midnight(day) + timedelta(seconds=seconds), DAYS, st.integers(0, 86_399))


def midnight(day, zone=UTC):
    """Return the instant at which a day begins in a zone."""
    return clock.instant(datetime.combine(day, time(0)), zone)


@given(DAYS, ZONES)
def test_a_day_that_is_written_is_read_again(day, zone):
    """Noon of a day is on that day, whatever the clock did in the night; it is kept in UTC."""
    at = clock.noon(day, zone)
    assert clock.day_of(at, zone) == day
    assert at.tzinfo is UTC


@pytest.mark.parametrize("name", LIVED)
@pytest.mark.parametrize("autumn", [False, True])
def test_a_day_on_which_the_clock_is_changed_is_one_day(name, autumn):
    """Each hour from its midnight to the next is on it, be they 23, 24 or 25."""
    zone, day = ZoneInfo(name), CHANGES[name][autumn]
    begin, end = midnight(day, zone), midnight(day + timedelta(days=1), zone)
    hours = [begin + timedelta(hours=n) for n in range((end - begin) // timedelta(hours=1))]
    assert {clock.day_of(at, zone) for at in hours} == {day}
    assert len(hours) == 24 or name != "Asia/Kolkata"
    assert clock.day_of(begin - timedelta(seconds=1), zone) == day - timedelta(days=1)


def test_an_hour_that_is_told_twice_or_left_out_is_one_instant():
    """Of 2:30 in autumn the first is meant; 2:30 in spring is half past three. A time with its own zone keeps it."""
    berlin = ZoneInfo("Europe/Berlin")
    autumn, spring = (datetime.fromisoformat(f"{day} 02:30") for day in ("2026-10-25", "2026-03-29"))
    assert clock.instant(autumn, berlin) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert clock.instant(spring, berlin) == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
    away = datetime(2026, 3, 29, 2, 30, tzinfo=ZoneInfo("Asia/Kolkata"))
    assert clock.instant(away, berlin) == away


# Sittings


@given(st.lists(MOMENTS, max_size=30), st.randoms())
def test_a_sitting_ends_where_six_hours_pass(moments, chance):
    """In order of time the number stays or rises by one, and rises exactly at a pause of six hours or more."""
    chance.shuffle(moments)
    numbered = sorted(zip(moments, clock.sittings(moments), strict=True))
    for (before, one), (after, other) in pairwise(numbered):
        assert other - one == (after - before >= timedelta(hours=6))
    assert not numbered or numbered[0][1] == 0


@pytest.mark.parametrize("name", LIVED)
@pytest.mark.parametrize("autumn", [False, True])
def test_an_afternoon_and_a_night_are_a_sitting_each(name, autumn):
    """From two to seven is one; from ten in the evening to four, over midnight and a change of the clock, too."""
    zone, day = ZoneInfo(name), CHANGES[name][autumn]
    night = [midnight(day, zone) + timedelta(hours=n) for n in range(-2, 5)]
    noon = clock.noon(day, zone)
    afternoon = [noon + timedelta(hours=n) for n in range(2, 8)]
    assert clock.sittings([*night, *afternoon]) == [0] * 7 + [1] * 6
    assert {clock.day_of(at, zone) for at in afternoon} == {day}


# Which zone it is


@pytest.mark.parametrize(
    ("told", "found"),
    [
        ("Asia/Kolkata", "Asia/Kolkata"),
        (":Europe/Berlin", "Europe/Berlin"),
        ("localtime", None),
        (":/nowhere/localtime", None),
        ("", "Etc/UTC"),
        ("XYZ-7", None),
        ("../../secret", None),
    ],
)
def test_the_environment_says_where_a_machine_is(monkeypatch, told, found):
    """TZ decides where it is set, also where it names no place: then the machine does not tell it."""
    monkeypatch.setenv("TZ", told)
    assert clock.machine_zone() == found


def test_the_system_says_where_a_machine_is(monkeypatch, tmp_path):
    """Where the link leads, below any copy of the zone files; else what is written; else it is not known."""
    link, named, tree = tmp_path / "localtime", tmp_path / "timezone", tmp_path / "zoneinfo" / "right" / "Asia"
    monkeypatch.delenv("TZ", raising=False)
    monkeypatch.setattr(clock, "_LINK", link)
    monkeypatch.setattr(clock, "_NAMED", named)
    assert clock.machine_zone() is None
    named.write_text("Europe/Berlin\n")
    assert clock.machine_zone() == "Europe/Berlin"
    tree.mkdir(parents=True)
    (tree / "Kolkata").write_bytes(b"TZif")
    link.symlink_to(tree / "Kolkata")
    assert clock.machine_zone() == "Asia/Kolkata"
    monkeypatch.setenv("TZ", f":{link}")
    assert clock.machine_zone() == "Asia/Kolkata"
    monkeypatch.delenv("TZ")
    named.write_bytes(b"\xff")
    link.unlink()
    assert clock.machine_zone() is None


@pytest.mark.parametrize(
    ("name", "proposed"),
    [
        ("Berlin", "Europe/Berlin"),
        ("europe/berlin", "Europe/Berlin"),
        ("Pacific/Aukland", "Pacific/Auckland"),
        ("Los Angeles", "America/Los_Angeles"),
        ("localtime", "Europe/Berlin"),
        ("../etc/passwd", "Europe/Berlin"),
        ("", "Europe/Berlin"),
    ],
)
def test_a_name_that_is_none_is_refused_in_one_line(name, proposed):
    """What was typed, and a name as it should be; no path leads out of the zone files."""
    with pytest.raises(BadInput, match=f"an IANA name, as in .*{proposed}") as refused:
        clock.zone_named(name, "--zone")
    assert len(refused.value.problems) == 1
    assert clock.zone_named(proposed).key == proposed


def test_zones_are_the_same_by_their_clock_not_by_their_name():
    """Two names of one place, and two places with one clock, need no question; summer time alone does."""
    zone, now = ZoneInfo, datetime(2026, 1, 10, tzinfo=UTC)
    assert clock.same_clock(zone("Asia/Kolkata"), zone("Asia/Calcutta"), now)
    assert clock.same_clock(zone("Europe/Berlin"), zone("Europe/Vienna"), now)
    assert not clock.same_clock(zone("Africa/Lagos"), zone("Europe/Berlin"), now)
