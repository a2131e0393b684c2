"""Beat and timers, with a clock that the test holds."""

import pytest

from qcledger.bench.timers import Beat, Timers, clock, is_counted
from qcledger.vocab import Censored


def test_the_beat_counts_whole_seconds():
    """A turn counts once its second is over."""
    beat = Beat(10.0)
    assert [beat.count(10.0 + t) for t in (0, 0.99, 1, 22.4, 23)] == [0, 0, 1, 22, 23]
    assert beat.reading(33.5) == (23.0, Censored.EXACT)


def test_a_beat_that_reaches_its_stop_is_censored():
    """At the stop the reading is only known to lie above it, and the count goes no further."""
    beat = Beat(0.0, stop_at=60)
    assert not beat.is_over(59.9)
    assert beat.reading(59.9) == (59.0, Censored.EXACT)
    assert beat.is_over(60.0)
    assert beat.reading(75.0) == (60.0, Censored.ABOVE)


@pytest.mark.parametrize(
    ("unit", "counted"),
    [
        ("turns", True),
        ("s until the froth is gone", True),
        ("strokes", True),
        ("mm at 60 s", False),
        ("scratches", False),
    ],
)
def test_only_units_a_second_long_are_counted(unit, counted):
    """Turns and seconds go by the beat; millimetres do not."""
    assert is_counted(unit) is counted


def test_several_timers_run_at_once():
    """Each name has its own start; the same name again stops it."""
    timers = Timers({}).toggle("soak A", 0.0).toggle("soak B", 12.0)
    assert timers.shown(30.0) == [("soak A", "0:30"), ("soak B", "0:18")]
    assert timers.toggle("soak A", 31.0).shown(31.0) == [("soak B", "0:19")]


@pytest.mark.parametrize(
    ("seconds", "text"), [(0, "0:00"), (18.9, "0:18"), (760, "12:40"), (3725, "1:02:05"), (-1, "0:00")]
)
def test_durations_are_read_at_a_glance(seconds, text):
    """Minutes and seconds, hours when there are any."""
    assert clock(seconds) == text
